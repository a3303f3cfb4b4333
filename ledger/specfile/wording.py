"""Faults of a specification in the words of the trade.

The library that validates reports all faults at once; its own sentences are never shown.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from ledger.errors import Fault
from ledger.model.phrases import find_nearest, join_choices
from ledger.model.specification import Specification
from ledger.specfile.lines import KeyPath, locate
from ledger.specfile.text import shorten

# The two feet differ by exactly 2 parts in a million: 0.3048 / (1200 / 3937) = 0.999998.
TWO_FEET = (
    "there are two feet, and they differ by 2 parts in a million: "
    "8 m in a northing of 4 000 km; ask which one is meant"
)

_BARE_FEET = ("feet", "foot", "ft", "survey-foot", "survey-feet")

# By the validator's error type: what is wrong with the key, and what was expected.
_TYPES = {
    "string_type": ("is not a text", "text in quotes"),
    "int_type": ("is not a whole number", "a whole number, without quotes"),
    "int_from_float": ("is not a whole number", "a whole number"),
    "int_parsing_size": ("is too large", "a smaller whole number"),
    "float_type": ("is not a number", "a number, without quotes"),
    "bool_type": ("is neither true nor false", "true or false, without quotes"),
    "finite_number": ("is not a finite number", "a number"),
    "tuple_type": ("is not a list", "a list in square brackets"),
    "list_type": ("is not a list", "a list in square brackets"),
    "frozen_set_type": ("is not a list", "a list in square brackets"),
    "set_type": ("is not a list", "a list in square brackets"),
    "model_type": ("is not a section", "names and values in { }, or a section of its own"),
    "dict_type": ("is not a section", "names and values in { }, or a section of its own"),
    "date_type": ("is not a date", "year-month-day, without quotes"),
    "string_too_short": ("is too short", "more characters"),
    "string_too_long": ("is too long", "fewer characters"),
}

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
    text: str,
    where: str,
    prefix: tuple[str, ...] = (),
    model: type[BaseModel] | None = None,
) -> tuple[Fault, ...]:
    """Return one fault for each thing that is wrong, in the order of the lines.

    Args:
        error: what the validation of a model raised.
        text: the whole file, to find lines in.
        where: its name.
        prefix: the section that was validated: `("criteria", "point-density")`.
        model: the model of that section, so that the nearest valid name can be named.
    """
    root = model or (Specification if not prefix else None)
    return sort_faults(fault for _, fault in explain_each(error, text, where, prefix, root))


def explain_each(
    error: ValidationError,
    text: str,
    where: str,
    prefix: tuple[str, ...] = (),
    model: type[BaseModel] | None = Specification,
) -> Iterator[tuple[KeyPath, Fault]]:
    """Yield every fault with the path of its key; arguments as for `explain_validation`."""
    for each in error.errors(include_url=False):
        yield (*prefix, *each["loc"]), _explain(each, text, where, prefix, model)


def sort_faults(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Return faults in the order of their lines, those without a line last."""
    return tuple(sorted(faults, key=lambda fault: (fault.line is None, fault.line or 0)))


def name_key(path: KeyPath) -> str:
    """Return a key path as it is written: `coordinates.unit.vertical`, a list place as `[2]`."""
    parts: list[str] = []
    for part in path:
        if isinstance(part, int):
            parts[-1:] = [f"{parts[-1]}[{part + 1}]"] if parts else [f"[{part + 1}]"]
        else:
            parts.append(part)
    return shorten(".".join(parts))


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
    error: ErrorDetails,
    text: str,
    where: str,
    prefix: tuple[str, ...],
    model: type[BaseModel] | None,
) -> Fault:
    path = (*prefix, *error["loc"])
    line = locate(text, path)
    kind = error["type"]
    if kind == "extra_forbidden":
        return _explain_unknown(error["loc"], path, where, line, model)
    if kind == "missing":
        return Fault(
            f"{name_key(path)} is missing",
            expected="a value, because the rest of its section is there",
            where=where,
            line=line,
        )
    what, expected, remedy = _judge(kind, error)
    found = describe(error["input"])
    return Fault(f"{name_key(path)} {what}", found, expected, where, line, remedy)


def _judge(kind: str, error: ErrorDetails) -> tuple[str, str, str]:
    """Return what is wrong, what was expected and what to do."""
    context: Mapping[str, Any] = error.get("ctx") or {}
    if kind in ("literal_error", "enum"):
        return _judge_choice(error["input"], str(context["expected"]))
    if kind in _LIMITS:
        word, phrase = _LIMITS[kind]
        return "is out of range", phrase.format(_show_number(context[word])), ""
    if kind == "value_error" and "error" in context:  # raised by the check's own rule
        return f"cannot be used: {context['error']}", "", ""
    what, expected = _TYPES.get(kind, ("cannot be used", ""))
    return what, expected, ""


def _judge_choice(found: object, expected: str) -> tuple[str, str, str]:
    choices = tuple(word.strip("'") for word in expected.replace(" or ", ", ").split(", "))
    phrase = join_choices(choices)
    if "us-survey-foot" in choices and _is_bare_foot(found):
        return "does not say which foot", phrase, TWO_FEET
    nearest = find_nearest(found, choices) if isinstance(found, str) else ""
    return "is none of its choices", phrase, f"did you mean {nearest}?" if nearest else ""


def _is_bare_foot(found: object) -> bool:
    return isinstance(found, str) and found.strip().lower().rstrip(".") in _BARE_FEET


def _explain_unknown(
    loc: KeyPath, path: KeyPath, where: str, line: int | None, model: type[BaseModel] | None
) -> Fault:
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
    return Fault(f"{name_key(path)} is not a known name", "", expected, where, line, remedy)


def _list_names(model: type[BaseModel], path: KeyPath) -> tuple[str, ...]:
    """Return the valid names of the section at `path`."""
    current: type[BaseModel] | None = model
    for part in path:
        field = current.model_fields.get(str(part)) if current else None
        current = find_model(field.annotation) if field else None
    return tuple(current.model_fields) if current else ()


def find_model(annotation: object) -> type[BaseModel] | None:
    """Return the model inside an annotation such as `Geoid | None`."""
    for each in (annotation, *get_args(annotation)):
        if isinstance(each, type) and issubclass(each, BaseModel):
            return each
    return None


def iterate_keys(model: type[BaseModel], path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the path of every key of a model, sections before what is in them."""
    for name, field in model.model_fields.items():
        yield (*path, name)
        inner = find_model(field.annotation)
        if inner is not None:
            yield from iterate_keys(inner, (*path, name))


def _find_elsewhere(model: type[BaseModel], name: str) -> str:
    """Return the section that knows this name, as its heading; empty for none."""
    for path in iterate_keys(model):
        if path[-1] == name and len(path) > 1:
            return f"[{'.'.join(path[:-1])}]"
    return ""


def _show_number(number: object) -> str:
    return f"{number:g}" if isinstance(number, float) else str(number)
