"""`job.toml` read strictly: every fault at once, each with its line.

Values go through JSON text on their way to the model, because its strict mode refuses lists for
tuples and text for dates when it is given Python values. Rules that the model cannot state are
here: no empty text, no date where text is meant, whole numbers of 64 bits, only tables as criteria.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ledger.errors import Fault, SpecificationError, UnreadableFileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.phrases import find_nearest
from ledger.model.specification import Specification
from ledger.shortfile import read_short_file
from ledger.specfile.lines import KeyPath, locate
from ledger.specfile.text import parse_toml
from ledger.specfile.wording import (
    describe,
    explain_each,
    iterate_keys,
    name_key,
    sort_faults,
)

_INTEGER_LIMIT = 2**63  # TOML 1.0.0, "Integer"
_DEEPEST = 16  # far beyond any key; the JSON reader itself stops at some 200
_Dates = dt.date | dt.time


def read_specification(path: Path) -> Specification:
    """Return the specification in a file.

    Raises:
        SpecificationError: the file is absent, unreadable or wrong, with all faults.
    """
    if not os.path.lexists(path):
        raise SpecificationError(
            f"there is no {path.name}",
            where=str(path.parent),
            remedy="go to the job folder, or begin one with: swathbook start FOLDER",
        )
    try:
        content = read_short_file(path, path.name)
    except UnreadableFileError as error:
        raise SpecificationError.from_faults(error.faults) from None
    return parse_specification(content, path.name)


def parse_specification(content: bytes, where: str = SPECIFICATION_NAME) -> Specification:
    """Return the specification in the bytes of a file.

    Args:
        content: the bytes of `job.toml`.
        where: its name, for messages.

    Raises:
        SpecificationError: with one fault for each thing that is wrong, in the order of the lines.
    """
    text, values = parse_toml(content, where)
    _require_shallow(text, values, where)
    faults = dict(_find_faults(text, values, where))
    try:
        specification = Specification.model_validate_json(json.dumps(values, default=_write_date))
    except ValidationError as error:
        faults = {**dict(explain_each(error, text, where)), **faults}
    else:
        if not faults:
            return specification
    raise SpecificationError.from_faults(sort_faults(faults.values()))


def _write_date(value: Any) -> str:  # noqa: ANN401 - the JSON writer's own signature
    if isinstance(value, _Dates):
        return value.isoformat()
    raise TypeError(type(value).__name__)  # pragma: no cover - tomllib makes nothing else


def _require_shallow(text: str, values: dict[str, Any], where: str) -> None:
    """Refuse nesting that would exhaust the readers further on."""
    waiting: list[tuple[KeyPath, Any]] = [((), values)]
    while waiting:
        path, value = waiting.pop()
        if len(path) > _DEEPEST:
            raise SpecificationError(
                f"{name_key(path[:1])} is nested too deeply",
                where=where,
                line=locate(text, path[:1]),
            )
        if isinstance(value, dict):
            waiting += [((*path, key), each) for key, each in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, place), each) for place, each in enumerate(value)]


def _find_faults(text: str, values: dict[str, Any], where: str) -> Iterator[tuple[KeyPath, Fault]]:
    for path, what, found, expected, remedy in (
        *_find_bad_values(values, ()),
        *_find_bad_criteria(values.get("criteria")),
        *_find_bad_carried(values),
    ):
        yield (
            path,
            Fault(f"{name_key(path)} {what}", found, expected, where, locate(text, path), remedy),
        )


_Bad = tuple[KeyPath, str, str, str, str]


def _find_bad_values(value: Any, path: KeyPath) -> Iterator[_Bad]:  # noqa: ANN401
    """Yield what no key may hold, whatever its section."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from _find_bad_values(each, (*path, key))
    elif isinstance(value, list):
        for place, each in enumerate(value):
            yield from _find_bad_values(each, (*path, place))
    elif isinstance(value, str) and not value.strip():
        yield path, "is empty", "", "", "fill it in, or put # before the line to leave it blank"
    elif isinstance(value, float) and not math.isfinite(value):
        yield path, "is not a finite number", describe(value), "a number", ""
    elif isinstance(value, int) and not -_INTEGER_LIMIT <= value < _INTEGER_LIMIT:
        yield path, "is too large", describe(value), "a whole number of at most 18 digits", ""
    elif isinstance(value, _Dates) and path[0] != "criteria":
        yield path, "is a date, not a text", value.isoformat(), "", "put it in quotes"


def _find_bad_criteria(criteria: Any) -> Iterator[_Bad]:  # noqa: ANN401
    """Yield what is neither a profile nor the section of a check."""
    if not isinstance(criteria, dict):
        return
    for name, section in criteria.items():
        path = ("criteria", name)
        if name == "profile":
            if not isinstance(section, str):
                expected = "the name of one profile, in quotes"
                yield path, "is not a text", describe(section), expected, ""
        elif not isinstance(section, dict):
            expected = f"a section [criteria.{name}] with the criteria of one check"
            yield path, "is not a section", describe(section), expected, ""


def _find_bad_carried(values: dict[str, Any]) -> Iterator[_Bad]:
    """Yield names in `carried` that are no keys: a misspelt one would pass as confirmed."""
    carried = values.get("carried")
    if not isinstance(carried, list):
        return
    known = [".".join(path) for path in iterate_keys(Specification)]
    for place, name in enumerate(carried):
        if not isinstance(name, str) or not name.strip():
            continue
        if name in known or name.startswith(("criteria.", "checks.off.")):
            continue
        nearest = find_nearest(name, known)
        remedy = f"did you mean {nearest}?" if nearest else "delete the name"
        yield ("carried", place), "is not the name of a key", describe(name), "", remedy
