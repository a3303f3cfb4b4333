"""An error as one line and, where it was asked for, as JSON.

Imported when there is an error to tell and not before: a help page needs none of this.
"""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Annotated, TypedDict

import click

from ledger.cli.jsontext import print_json
from ledger.errors import Fault, SwathbookError
from ledger.model.filename import escape_for_screen


class ErrorJson(TypedDict):
    """One thing that is wrong."""

    kind: Annotated[str, "kind of the error: usage, specification, book, file, …"]
    what: Annotated[str, "what is wrong"]
    found: Annotated[str, "what was met; empty when the sentence says it"]
    expected: Annotated[str, "what would have been right; empty when the sentence says it"]
    where: Annotated[str, "the file, key or place; empty for none"]
    line: Annotated[int | None, "line in that file, from 1; null for none"]
    remedy: Annotated[str, "what to do; empty for nothing"]


class ErrorsJson(TypedDict):
    """What any command prints with `--json` when it could not be carried out: exit 2 or 130."""

    schema: Annotated[int, "1"]
    errors: Annotated[list[ErrorJson], "everything that is wrong, one line each on stderr"]


def tell(error: SwathbookError | click.ClickException | OSError, *, as_json: bool) -> None:
    """Print an error on stderr, one line a fault, and as JSON on stdout where `as_json` says so."""
    kind, faults = _explain(error)
    for fault in faults:
        click.echo(f"swathbook: {_write_line(fault)}", err=True)
    if as_json:
        print_json(_describe(kind, faults))


def tell_interrupted(sentence: str, *, as_json: bool) -> None:
    """Say that somebody stopped the command, and what holds all the same."""
    click.echo(f"swathbook: {sentence}", err=True)
    if as_json:
        print_json(_describe("interrupted", (Fault(sentence),)))


def _describe(kind: str, faults: tuple[Fault, ...]) -> ErrorsJson:
    errors: list[ErrorJson] = [
        {
            "kind": kind,
            "what": fault.what,
            "found": fault.found,
            "expected": fault.expected,
            "where": fault.where,
            "line": fault.line,
            "remedy": fault.remedy,
        }
        for fault in faults
    ]
    return {"schema": 1, "errors": errors}


def _explain(
    error: SwathbookError | click.ClickException | OSError,
) -> tuple[str, tuple[Fault, ...]]:
    """Return the kind of an error and its faults."""
    if isinstance(error, SwathbookError):
        return error.kind, error.faults
    if isinstance(error, click.ClickException):
        return "usage", (Fault(_one_line(error)),)
    has_name = isinstance(error.filename, str | bytes)
    where = escape_for_screen(os.fsdecode(error.filename)) if has_name else ""
    return "file", (Fault("the system refuses", found=error.strerror or str(error), where=where),)


def _one_line(error: click.ClickException) -> str:
    message = " ".join(error.format_message().split()).rstrip(".")
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "swathbook"
    return f"{message[:1].lower()}{message[1:]}; see {command} --help"


def _write_line(fault: Fault) -> str:
    """Return a fault on one line, with whatever a name may hide made visible."""
    sentence = replace(fault, where=escape_for_screen(fault.where)).sentence()
    return escape_for_screen(" ".join(sentence.split()))
