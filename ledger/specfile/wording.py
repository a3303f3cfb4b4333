"""Faults of a specification in the words of the trade.

The library that validates reports all faults at once; its own sentences are never shown.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from ledger.model.phrases import find_nearest, join_choices
from ledger.specfile.faults import NAME, FaultList
from ledger.specfile.keys import find_model, list_keys
from ledger.specfile.text import KeyPath, shorten

# The two feet differ by exactly 2 parts in a million: 0.3048 / (1200 / 3937) = 0.999998.
TWO_FEET = (
    "there are two feet, and they differ by 2 parts in a million: "
    "8 m in a northing of 4 000 km; ask which one is meant"
)

_BARE_FEET = ("feet", "foot", "ft", "survey-foot", "survey-feet")

_SECTION = ("is not a section", "names and values in { }, or a section of its own", "write it so")
_LIST = ("is not a list", "a list", "put [ ] around it, and a comma between two of them")
_COMMA = re.compile(r"\s*([+-]?\d+)(?:([.,])(\d+))?\s*([^\d\s.,]*)\s*")

# By the validator's error type: what is wrong with the key, what was expected, what to do.
_TYPES = {
    "string_type": ("is not a text", "a text", "put it in double quotes"),
    "int_type": ("is not a whole number", "a whole number", "write one, without quotes"),
    "int_from_float": ("is not a whole number", "a whole number", "round it"),
    "int_parsing_size": ("is too large", "a smaller whole number", "correct the number"),
    "float_type": ("is not a number", "a number", "write one, without quotes"),
    "decimal_type": ("is not a number", "a number", "write one, without quotes"),
    "decimal_parsing": ("is not a number", "a number", "write one, without quotes"),
    "bool_type": ("is neither true nor false", "true or false", "write one, without quotes"),
    "finite_number": ("is not a finite number", "a number", "write one, or # before the line"),
    "tuple_type": _LIST,
    "list_type": _LIST,
    "frozen_set_type": _LIST,
    "set_type": _LIST,
    "model_type": _SECTION,
    "dict_type": _SECTION,
    "date_type": ("is not a date", "a date", "write year-month-day, without quotes"),
    "string_too_short": ("is too short", "more characters", "write more"),
    "string_too_long": ("is too long", "fewer characters", "write less"),
}
_NUMBERS = ("int_type", "float_type", "decimal_type", "decimal_parsing")

# By the validator's error type: which word of its context is the limit, and how to say it.
_LIMITS = {
    "greater_than": ("gt", "more than {}"),
    "greater_than_equal": ("ge", "{} or more"),
    "less_than": ("lt", "less than {}"),
    "less_than_equal": ("le", "{} or less"),
    "multiple_of": ("multiple_of", "a multiple of {}"),
}


def explain_validation(
    error: ValidationError,
    faults: FaultList,
    prefix: tuple[str, ...] = (),
    model: type[BaseModel] | None = None,
) -> None:
    """Add one fault for each thing that is wrong.

    Args:
        error: what the validation of a model raised.
        faults: the faults of the file so far.
        prefix: the section that was validated: `("criteria", "some-check")`.
        model: the model of that section, so that the nearest valid name can be named.
    """
    for each in error.errors(include_url=False):
        _explain(each, faults, prefix, model)


def describe(value: Any) -> str:  # noqa: ANN401 - any TOML value
    """Return a value as a person would have typed it."""
    if isinstance(value, Mapping):
        return "a section"
    if isinstance(value, (list, tuple)):
        return "a list"
    try:
        return shorten(json.dumps(value, ensure_ascii=False))
    except (TypeError, ValueError):
        return shorten(str(value))


def _explain(
    error: ErrorDetails, faults: FaultList, prefix: tuple[str, ...], model: type[BaseModel] | None
) -> None:
    path = (*prefix, *error["loc"])
    kind = error["type"]
    if kind == "extra_forbidden":
        _explain_unknown(error["loc"], path, faults, model)
    elif kind == "missing":
        faults.add(
            path,
            "is missing",
            expected="a value, because the rest of its section is there",
            remedy="write it, or put # before the whole section",
        )
    else:
        what, expected, remedy = _judge(kind, error)
        faults.add(path, what, found=describe(error["input"]), expected=expected, remedy=remedy)


def _judge(kind: str, error: ErrorDetails) -> tuple[str, str, str]:
    """Return what is wrong, what was expected and what to do."""
    context: Mapping[str, Any] = error.get("ctx") or {}
    if kind in ("literal_error", "enum"):
        return _judge_choice(error["input"], str(context["expected"]))
    if kind in _LIMITS:
        word, phrase = _LIMITS[kind]
        return (
            "is out of range",
            phrase.format(_show_number(context[word])),
            "correct the number",
        )
    if kind == "value_error" and "error" in context:  # raised by the check's own rule
        return f"cannot be used: {context['error']}", "", "correct it"
    what, expected, remedy = _TYPES.get(kind, ("cannot be used", "", "correct it"))
    if kind in _NUMBERS and isinstance(error["input"], str):
        remedy = suggest_number(error["input"]) or remedy
    return what, expected, remedy


def suggest_number(text: str) -> str:
    """Return how a number is written that somebody put in quotes, with a comma or with its unit."""
    match = _COMMA.fullmatch(text)
    if match is None:
        return ""
    whole, mark, rest, unit = match.groups()
    number = f"{whole}.{rest}" if mark else whole
    point = ", with a point" if mark == "," else ""
    alone = ", without its unit" if unit else ""
    return f"write {number} without quotes{point}{alone}"


def _judge_choice(found: object, expected: str) -> tuple[str, str, str]:
    choices = tuple(word.strip("'") for word in expected.replace(" or ", ", ").split(", "))
    phrase = join_choices(choices)
    if "us-survey-foot" in choices and _is_bare_foot(found):
        return "does not say which foot", phrase, TWO_FEET
    nearest = find_nearest(found, choices) if isinstance(found, str) else ""
    return "is none of its choices", phrase, f"did you mean {nearest}?" if nearest else "choose one"


def _is_bare_foot(found: object) -> bool:
    return isinstance(found, str) and found.strip().lower().rstrip(".") in _BARE_FEET


def _explain_unknown(
    loc: KeyPath, path: KeyPath, faults: FaultList, model: type[BaseModel] | None
) -> None:
    name = str(loc[-1])
    known = _list_names(model, loc[:-1]) if model else ()
    nearest = find_nearest(name, known)
    elsewhere = _find_elsewhere(model, name) if model and not nearest else ""
    if nearest:
        remedy = f"did you mean {nearest}?"
    elif elsewhere:
        remedy = f"it belongs in {elsewhere}"
    else:
        remedy = "delete the line, or put # before it"
    expected = join_choices(known) if known and not nearest and not elsewhere else ""
    faults.add(path, "is not a known name", expected=expected, remedy=remedy, about=NAME)


def _list_names(model: type[BaseModel], path: KeyPath) -> tuple[str, ...]:
    """Return the valid names of the section at `path`."""
    current: type[BaseModel] | None = model
    for part in path:
        field = current.model_fields.get(str(part)) if current else None
        current = find_model(field.annotation) if field else None
    return tuple(current.model_fields) if current else ()


def _find_elsewhere(model: type[BaseModel], name: str) -> str:
    """Return the section that knows this name, as its heading; empty for none."""
    for path in list_keys(model):
        if path[-1] == name and len(path) > 1:
            return f"[{'.'.join(path[:-1])}]"
    return ""


def _show_number(number: object) -> str:
    return f"{number:g}" if isinstance(number, float) else str(number)
