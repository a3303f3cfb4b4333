"""The empty form of a record as JSON, for programs that fill it in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, TypedDict

from ledger.model.field import Field


class FormFieldJson(TypedDict):
    """One question of a form."""

    key: Annotated[str, "what `--set` and a form file call it"]
    question: Annotated[str, "as it is asked"]
    type: Annotated[str, "how an answer is read"]
    unit: Annotated[str, "unit of a number; empty for none"]
    choices: Annotated[list[str], "allowed answers; empty where any may be given"]
    why: Annotated[str, "what a blank costs; empty where nothing is known"]
    asked: Annotated[bool, "asked in the plain form; the others only by `--set` or `--from`"]


class FormJson(TypedDict):
    """What `record --blank --json` prints."""

    schema: Annotated[int, "1"]
    kind: Annotated[str, "run, step, flight or rig"]
    form: Annotated[str, "the empty form as text, to be filled in and given to `--from`"]
    fields: Annotated[list[FormFieldJson], "its questions, in asking order"]


def make_json(kind: str, text: str, fields: Iterable[Field]) -> FormJson:
    """Return the object that `--blank --json` prints."""
    return {
        "schema": 1,
        "kind": kind,
        "form": text,
        "fields": [_describe(field) for field in fields],
    }


def _describe(field: Field) -> FormFieldJson:
    return {
        "key": field.key,
        "question": field.question,
        "type": str(field.type),
        "unit": field.unit,
        "choices": list(field.choices),
        "why": field.why,
        "asked": field.core,
    }
