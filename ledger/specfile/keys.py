"""The keys of a specification: which there are, and which a file fills."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from pydantic import BaseModel

from ledger.model.specification import Specification

# Their keys are ids of checks and profiles: each is judged by its own name, not by this list.
_OPEN = ("criteria", "checks")


def find_model(annotation: object) -> type[BaseModel] | None:
    """Return the model inside an annotation such as `Geoid | None`."""
    for each in (annotation, *get_args(annotation)):
        if isinstance(each, type) and issubclass(each, BaseModel):
            return each
    return None


def list_keys(model: type[BaseModel], path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the path of every key of a model, sections before what is in them."""
    for name, field in model.model_fields.items():
        yield (*path, name)
        inner = find_model(field.annotation)
        if inner is not None:
            yield from list_keys(inner, (*path, name))


def list_stated(specification: Specification) -> Iterator[str]:
    """Yield the dotted key of every value that a file fills: `coordinates.unit.vertical`."""
    for section in type(specification).model_fields:
        if section in _OPEN or section not in specification.model_fields_set:
            continue
        yield from _walk(getattr(specification, section), section)


def _walk(value: object, key: str) -> Iterator[str]:
    if not isinstance(value, BaseModel):
        if value not in (None, ()):
            yield key
        return
    for name in type(value).model_fields:
        if name in value.model_fields_set:
            yield from _walk(getattr(value, name), f"{key}.{name}")
