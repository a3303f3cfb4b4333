"""Holding a JSON value against the `TypedDict` that documents it: no key more, none less.

Beyond the types, a text may not be a number in disguise: what is a number is a JSON number, and
what only looks like one has to be a name.
"""

from __future__ import annotations

import json
import math
import re
import types
import typing
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from generate import load_json_object

_LIKE_A_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?")
# Names that may look like numbers: ids of entries, digests, versions, and words as a person
# typed them.
_NAMES = re.compile(
    r"\.(id|from\[\d+\]|sha256|root|version|python|text|words\[\d+\]|found|reason|name|where)$"
    r"|\.(clause|edition)$|\.criteria\[\d+\]\.value\[\d+\]$"
    r"|\.values\.[a-z-]+\.(?:version|sha256|build|zone)\.value$|\.ids\.|fingerprint\."
)


def list_faults(value: Any, hint: Any, place: str) -> Iterator[str]:
    """Yield a sentence for each thing in a JSON value that its type does not allow."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin is Annotated:
        yield from list_faults(value, parts[0], place)
    elif hint is Any:
        yield from list_any_faults(value, place)
    elif typing.is_typeddict(hint):
        yield from list_object_faults(value, hint, place)
    elif origin in (types.UnionType, typing.Union):
        if not any(not list(list_faults(value, part, place)) for part in parts):
            yield f"{place}: {value!r} is none of {parts}"
    elif origin is not None:
        yield from list_item_faults(value, origin, parts, place)
    else:
        yield from list_plain_faults(value, hint, place)


def list_item_faults(value: Any, origin: Any, parts: tuple[Any, ...], place: str) -> Iterator[str]:
    """Hold a list or an object of anything against the type of its items."""
    if origin is list and isinstance(value, list):
        for index, item in enumerate(value):
            yield from list_faults(item, parts[0], f"{place}[{index}]")
    elif origin is not list and issubclass(origin, Mapping) and isinstance(value, dict):
        for key, item in value.items():
            yield from list_faults(item, parts[1], f"{place}.{key}")
    else:
        yield f"{place}: {value!r} is no {origin.__name__}"


def list_plain_faults(value: Any, hint: Any, place: str) -> Iterator[str]:
    """Hold a text, number, truth value or null against its type; true is no number."""
    kinds = {
        str: (str,),
        int: (int,),
        float: (int, float),
        bool: (bool,),
        type(None): (type(None),),
    }
    assert hint in kinds, f"{place}: {hint} is no type of JSON"
    if not isinstance(value, kinds[hint]) or (isinstance(value, bool) and hint is not bool):
        yield f"{place}: {value!r} is no {hint.__name__}"
    elif isinstance(value, float) and not math.isfinite(value):
        yield f"{place}: {value!r} is no JSON number"
    elif isinstance(value, str):
        yield from list_disguises(value, place)


def list_object_faults(value: Any, hint: Any, place: str) -> Iterator[str]:
    """Hold the keys of an object against those it has to have: none missing, none more."""
    if not isinstance(value, dict):
        yield f"{place}: {value!r} is no object"
        return
    hints = get_type_hints(hint, include_extras=True)
    for key in hints.keys() - value.keys():
        yield f"{place}: {key} is missing"
    for key in value.keys() - hints.keys():
        yield f"{place}: {key} is not documented"
    for key in hints.keys() & value.keys():
        yield from list_faults(value[key], hints[key], f"{place}.{key}")


def list_any_faults(value: Any, place: str) -> Iterator[str]:
    """Hold a value of any type against JSON itself."""
    try:
        json.dumps(value, allow_nan=False)
    except ValueError:
        yield f"{place}: {value!r} is no JSON value"
    else:
        yield from list_disguises(value, place)


def list_disguises(value: Any, place: str) -> Iterator[str]:
    """Yield every text in a value that is a number and stands for none of the names."""
    if isinstance(value, list):
        for index, item in enumerate(value):
            yield from list_disguises(item, f"{place}[{index}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from list_disguises(item, f"{place}.{key}")
    elif isinstance(value, str) and _LIKE_A_NUMBER.fullmatch(value) and not _NAMES.search(place):
        yield f"{place}: {value!r} is a number, and a text"


def require(command: str, value: dict[str, Any]) -> None:
    """Require that a value is the documented object of a command."""
    faults = list(list_faults(value, load_json_object(command), command))
    assert faults == [], faults
    assert value["schema"] == 1
