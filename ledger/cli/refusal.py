"""An error as one line and, where it was asked for, as JSON.

Imported when there is an error to tell and not before: a help page needs none of this.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, TypedDict

import click

from ledger.cli.jsontext import print_json
from ledger.errors import Fault, SwathbookError
from ledger.model.entry import Entry
from ledger.model.filename import escape_for_screen
from ledger.store.entered import tell_stored


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
    entries: Annotated[
        list[int],
        "entries that the command stored before it failed: they stay; empty for none",
    ]


def tell(
    error: SwathbookError | click.ClickException | OSError,
    stored: Sequence[Entry],
    *,
    as_json: bool,
) -> None:
    """Print an error on stderr, one line a fault, and as JSON on stdout where `as_json` says so.

    Args:
        error: what went wrong.
        stored: entries that are in the book all the same; the last line says so.
        as_json: whether an object is printed, too.
    """
    kind, faults = _explain(error)
    lines = [_write_line(fault) for fault in faults]
    _print_lines(lines, stored)
    if as_json:
        print_json(_describe(kind, faults, stored))


def tell_interrupted(sentence: str, stored: Sequence[Entry], *, as_json: bool) -> None:
    """Say that somebody stopped the command, and what holds all the same."""
    _print_lines([sentence], stored)
    if as_json:
        print_json(_describe("interrupted", (Fault(sentence),), stored))


def _print_lines(lines: list[str], stored: Sequence[Entry]) -> None:
    told = tell_stored(stored)
    for line in [*lines[:-1], f"{lines[-1]}; {told}" if told else lines[-1]]:
        click.echo(f"swathbook: {line}", err=True)


def _describe(kind: str, faults: tuple[Fault, ...], stored: Sequence[Entry]) -> ErrorsJson:
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
    return {"schema": 1, "errors": errors, "entries": [entry.seq for entry in stored]}


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
