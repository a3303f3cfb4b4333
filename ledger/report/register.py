"""What `register` shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Annotated, Any, TypedDict

from rich.console import Group, RenderableType

from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.register import RegisteredFile, RegisterResult
from ledger.report.copies import (
    CopyJson,
    DriveJson,
    describe_copies,
    describe_drives,
    say_drives,
)
from ledger.report.jsonvalues import make_value
from ledger.report.screen import (
    DOUBT,
    GOOD,
    STRONG,
    make_table,
    next_step,
    say,
    say_lines,
    title,
)

_FILES_SHOWN = 12

# By a fact that only this kind of file states, what a person looks for first.
_SUMMARIES = {
    "point_format": "LAS {version}, {points} points, {crs}",
    "header_first": "RINEX {version}, {marker}, from {header_first}",
    "sentences": "NMEA, {sentences} sentences, {first_time} to {last_time} UTC",
    "sample_type": "grid, {columns} × {rows}",
    "separator": "table, {rows} points",
    "records": "trajectory, {records} records",
}


class RegisteredFileJson(TypedDict):
    """One file."""

    path: Annotated[str, "relative to the job folder when inside it"]
    role: Annotated[str, "what the file is in this job"]
    sha256: Annotated[str, "digest of its bytes"]
    bytes: Annotated[int, "size"]
    new: Annotated[bool, "its bytes were not registered before"]
    facts: Annotated[Mapping[str, Any], "what it says about itself, by short name"]
    fault: Annotated[str, "why its content cannot be read; empty when it can"]


class RegisterJson(TypedDict):
    """What `register --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    flight: Annotated[str, "flight that the files belong to; empty for none"]
    files: Annotated[list[RegisteredFileJson], "every file of this call"]
    bytes: Annotated[int, "bytes of all files"]
    resumed: Annotated[int, "files not hashed again after an interruption"]
    copies: Annotated[list[CopyJson], "places where the bytes of these files were seen"]
    drives: Annotated[list[DriveJson], "what this call copied, by drive"]
    card_may_be_cleared: Annotated[bool, "every one of these files has enough verified copies"]


def make_json(result: RegisterResult) -> RegisterJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "flight": result.flight,
        "files": [_describe(file) for file in result.files],
        "bytes": result.bytes,
        "resumed": result.resumed,
        "copies": describe_copies(result.copies),
        "drives": describe_drives(result.drives),
        "card_may_be_cleared": result.copies.card_may_be_cleared,
    }


def _describe(file: RegisteredFile) -> RegisteredFileJson:
    record = file.record
    return {
        "path": record.path,
        "role": record.role,
        "sha256": record.sha256,
        "bytes": record.bytes,
        "new": file.new,
        "facts": {key: make_value(key, value) for key, value in record.facts.items()},
        "fault": record.fault,
    }


def make_screen(result: RegisterResult) -> RenderableType:
    """Return what a person reads."""
    fresh = sum(file.new for file in result.files)
    known = len(result.files) - fresh
    of_flight = f" as flight {result.flight}" if result.flight else ""
    parts: list[RenderableType] = [
        say(
            f"Registered {count_things(len(result.files), 'file')}, {describe_bytes(result.bytes)}"
            f"{of_flight}: entry {result.entry}.",
            STRONG,
        )
    ]
    if known:
        were = agree(known, "was", "were")
        parts.append(say(f"{known:,} of them {were} known already: seen again."))
    if result.resumed:
        parts.append(
            say(
                f"{count_things(result.resumed, 'file')} hashed before the interruption, not again."
            )
        )
    parts += [title("What they are"), _tabulate(result.files)]
    damaged = [file.record for file in result.files if file.record.fault]
    if damaged:
        parts.append(title("Entered by their bytes, but their content cannot be read"))
        parts.append(say_lines((f"{r.path}: {r.fault}" for r in damaged), DOUBT, indent=2))
    if result.drives:
        parts += [title("Copies"), *say_drives(result.drives)]
    style = GOOD if result.copies.card_may_be_cleared else DOUBT
    parts += [title("The card"), say(result.copies.answer, style), say(result.copies.sightings)]
    if result.step.command:
        parts.append(next_step(result.step.command, result.step.when))
    return Group(*parts)


def _tabulate(files: tuple[RegisteredFile, ...]) -> RenderableType:
    if len(files) > _FILES_SHOWN:
        counts = Counter(file.record.role for file in files)
        sizes: Counter[str] = Counter()
        for file in files:
            sizes[file.record.role] += file.record.bytes
        table = make_table("role", "files", "size", numbers=(1, 2))
        for role, count in sorted(counts.items()):
            table.add_row(say(role), f"{count:,}", describe_bytes(sizes[role]))
        return table
    table = make_table("role", "file", "size", "what it says", numbers=(2,))
    for file in files:
        record = file.record
        table.add_row(
            say(record.role),
            say(record.path),
            describe_bytes(record.bytes),
            say(_sum_up(record.facts)),
        )
    return table


class _Facts(dict[str, Any]):
    """Facts with a question mark for what the file does not state."""

    def __missing__(self, key: str) -> str:
        return "?"


def _sum_up(facts: Mapping[str, Any]) -> str:
    """Return the few facts that a person looks for first."""
    for sign, template in _SUMMARIES.items():
        if sign in facts:
            return template.format_map(_Facts(facts))
    return ""
