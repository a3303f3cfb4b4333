"""`job.toml` read strictly: every fault at once, each with its line.

Values go through JSON text on their way to the model, because its strict mode refuses lists for
tuples and text for dates when it is given Python values. Rules that the model cannot state are
here: no empty text, no date where text is meant, whole numbers of 64 bits, only tables as criteria.
"""

from __future__ import annotations

import copy
import datetime as dt
import itertools
import json
import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ledger.dataclass import dataclass
from ledger.errors import SpecificationError, UnreadableFileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.loading import load_part
from ledger.model.phrases import find_nearest
from ledger.model.specification import Specification
from ledger.shortfile import read_short_file
from ledger.specfile.faults import FaultList, name_key
from ledger.specfile.keys import list_keys
from ledger.specfile.text import KeyPath, parse_toml
from ledger.specfile.wording import describe, explain_validation

_INTEGER_LIMIT = 2**63  # TOML 1.0.0, "Integer"
_DEEPEST = 16  # far beyond any key; the JSON reader itself stops at some 200
_Dates = dt.date | dt.time
_NO_REASON = "not readable"


@dataclass(frozen=True)
class Reading:
    """What a `job.toml` says, as far as it can be understood.

    Args:
        specification: of what is right; where there are faults, it only serves to find more.
        faults: what is wrong so far, open for later readers.
    """

    specification: Specification
    faults: FaultList


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
    reading = read_leniently(content, where)
    reading.faults.require_none()
    return reading.specification


def read_leniently(content: bytes, where: str = SPECIFICATION_NAME) -> Reading:
    """Return what can be understood of a file, together with its faults.

    So that those who understand criteria and coordinate systems can add theirs, and a person gets
    all of them in one go.

    Raises:
        SpecificationError: the bytes are no TOML; that fault hides all others.
    """
    text, values = parse_toml(content, where)
    _require_shallow(text, values, where)
    faults = FaultList(text, where)
    for path, what, found, expected, remedy in (
        *_find_bad_values(values, ()),
        *_find_bad_criteria(values.get("criteria")),
        *_find_bad_carried(values),
    ):
        faults.add(path, what, found=found, expected=expected, remedy=remedy)
    return Reading(_understand(values, faults), faults)


def _understand(values: dict[str, Any], faults: FaultList) -> Specification:
    """Return the specification of the keys that are right; add a fault for each of the others."""
    kept = copy.deepcopy(values)
    is_first = True
    while True:
        try:
            return Specification.model_validate_json(json.dumps(kept, default=_write_date))
        except ValidationError as error:
            if is_first:
                explain_validation(error, faults, model=Specification)
            is_first = False
            before = copy.deepcopy(kept)
            for each in error.errors(include_url=False):
                _drop(kept, each["loc"], is_missing=each["type"] == "missing")
            if kept == before:  # pragma: no cover - every fault has a key that can be taken away
                return Specification()


def _drop(values: dict[str, Any], path: KeyPath, *, is_missing: bool) -> None:
    """Take away what is wrong: a key, or the section that lacks one; lists go whole."""
    if path[:2] == ("checks", "off") and len(path) == 3:
        # That it is switched off is known, whatever the reason: whether it may be is judged still.
        values["checks"]["off"][path[2]] = _NO_REASON
        return
    whole = path[:-1] if is_missing else path
    parts = [str(part) for part in itertools.takewhile(lambda each: isinstance(each, str), whole)]
    parent = values
    for part in parts[:-1]:
        parent = parent.get(part, {})
    parent.pop(parts[-1], None)


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
                line=load_part("ledger.specfile.lines", "locate")(text, path[:1]),
            )
        if isinstance(value, dict):
            waiting += [((*path, key), each) for key, each in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, place), each) for place, each in enumerate(value)]


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
        remedy = "write one, or put # before the line"
        yield path, "is not a finite number", describe(value), "a number", remedy
    elif isinstance(value, int) and not -_INTEGER_LIMIT <= value < _INTEGER_LIMIT:
        expected = "a whole number of at most 18 digits"
        yield path, "is too large", describe(value), expected, "correct the number"
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
                expected = "the name of one profile"
                yield path, "is not a text", describe(section), expected, "put it in double quotes"
        elif not isinstance(section, dict):
            expected = f"a section [criteria.{name}] with the criteria of one check"
            remedy = "write the heading, and the criteria below it"
            yield path, "is not a section", describe(section), expected, remedy


def _find_bad_carried(values: dict[str, Any]) -> Iterator[_Bad]:
    """Yield names in `carried` that are no keys: a misspelt one would pass as confirmed."""
    carried = values.get("carried")
    if not isinstance(carried, list):
        return
    known = [".".join(path) for path in list_keys(Specification)]
    for place, name in enumerate(carried):
        if not isinstance(name, str) or not name.strip():
            continue
        if name in known or name.startswith(("criteria.", "checks.off.")):
            continue
        nearest = find_nearest(name, known)
        remedy = f"did you mean {nearest}?" if nearest else "delete the name"
        yield ("carried", place), "is not the name of a key", describe(name), "", remedy
