"""Values of records, files and criteria as JSON values: what is a number becomes a JSON number.

The book stores a measured number as decimal text, so that no digit is lost; a program that reads
JSON expects a number. What a value is decides, never how it looks: a version 4.10 is a name and
stays text, and so does a number that JSON cannot hold exactly: not finite, or 2^53 and more.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from typing import Annotated, Any, TypedDict

from ledger.canonical import MAX_WHOLE_NUMBER
from ledger.model.artefact import MEASURED_FACTS
from ledger.model.field import FieldType
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue

_NUMBER = re.compile(r"[+-]?(\d+)(\.\d*)?([eE][+-]?\d+)?|[+-]?\.\d+([eE][+-]?\d+)?")
_MEASURED_TYPES = (FieldType.NUMBER, FieldType.COUNT, FieldType.VECTOR)
_FILE = "file."

ANY_VALUE = "text, number, true or false, or a list of those"


class ValueJson(TypedDict):
    """One recorded value."""

    value: Annotated[Any, ANY_VALUE]
    unit: Annotated[str, "unit of a measured number; empty for none"]
    known_by: Annotated[str, "read, measured, typed, carried or assumed"]
    confirmed: Annotated[bool, "a person looked at it in this record"]
    where: Annotated[str, "file and key it was read from, or path of a file; empty for none"]


def describe_known(key: str, known: KnownValue) -> ValueJson:
    """Return a recorded value by its key (`run.lever_arm`, `file.scale`)."""
    return {
        "value": make_value(key, known.value),
        "unit": known.unit,
        "known_by": str(known.known_by),
        "confirmed": known.confirmed,
        "where": known.where,
    }


def make_value(key: str, value: Any) -> Any:  # noqa: ANN401 - any canonical value
    """Return what the book stores under a key as a JSON value."""
    field = FIELDS.get(key)
    is_field_number = field is not None and field.type in _MEASURED_TYPES
    if is_field_number or key.removeprefix(_FILE) in MEASURED_FACTS:
        return make_number(value)
    return value


def make_number(value: Any) -> Any:  # noqa: ANN401 - a list of numbers too
    """Return a number, or a list of them, from decimal text; what is none stays as it is."""
    if isinstance(value, list | tuple):
        return [make_number(part) for part in value]
    if isinstance(value, Decimal):
        value = str(value)
    if not isinstance(value, str) or _NUMBER.fullmatch(value.strip()) is None:
        return value
    number = float(value)
    if "." in value or "e" in value.lower():
        return number if math.isfinite(number) else value
    return int(value) if abs(int(value)) <= MAX_WHOLE_NUMBER else value


def make_plain(value: Any) -> Any:  # noqa: ANN401 - any value of a criterion
    """Return the value of a criterion as a JSON value."""
    if isinstance(value, Decimal):
        return make_number(value)
    if isinstance(value, dict):
        return {key: make_plain(part) for key, part in value.items()}
    return [make_plain(part) for part in value] if isinstance(value, list) else value
