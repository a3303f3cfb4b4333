"""What `register` shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Annotated, Any, TypedDict

from rich.console import Group, RenderableType

from ledger.copies import Copies
from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.register import LeftOutFile, RegisteredFile, RegisterResult
from ledger.report.copies import (
    CopyJson,
    DriveJson,
    describe_copies,
    describe_drives,
    say_drives,
)
from ledger.report.jsonvalues import make_value
from ledger.report.screen import (
    BAD,
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
    "point_format": "LAS {version}, {points}, {crs}",
    "header_first": "RINEX {version}, {marker}, from {header_first}",
    "sentences": "NMEA, {sentences}, {first_time} to {last_time} UTC",
    "is_geoid": "geoid, {columns} × {rows}, gives heights of {vertical}",
    "sample_type": "grid, {columns} × {rows}",
    "separator": "table, {rows} points",
    "records": "trajectory, {records}",
}
_COUNTED = {"points": "point", "sentences": "sentence", "records": "record"}
_NO_TIME = "NMEA, {sentences}, none with a time"


class RegisteredFileJson(TypedDict):
    """One file."""

    path: Annotated[str, "relative to the job folder when inside it"]
    role: Annotated[str, "what the file is in this job"]
    sha256: Annotated[str, "digest of its bytes"]
    bytes: Annotated[int, "size"]
    new: Annotated[bool, "its bytes were not registered before"]
    facts: Annotated[Mapping[str, Any], "what it says about itself, by short name"]
    fault: Annotated[str, "why it cannot be read, or not to its end; empty when it can"]


class LeftOutJson(TypedDict):
    """Something under a named path that is not in the book."""

    path: Annotated[str, "relative to the job folder when inside it"]
    why: Annotated[str, "why it was left out"]


class RegisterJson(TypedDict):
    """What `register --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    flight: Annotated[str, "flight that the files belong to; empty for none"]
    files: Annotated[list[RegisteredFileJson], "every file of this call"]
    bytes: Annotated[int, "bytes of all files"]
    resumed: Annotated[int, "files that a register which did not end had read, not read again"]
    left_out: Annotated[list[LeftOutJson], "what lies there and could not be entered"]
    remarks: Annotated[list[str], "what may do harm later, one sentence each"]
    copies: Annotated[list[CopyJson], "places where the bytes of these files were seen"]
    drives: Annotated[list[DriveJson], "what this call copied, by drive"]
    card_may_be_cleared: Annotated[
        bool, "every file has verified copies enough, and none was unreadable"
    ]


def make_json(result: RegisterResult) -> RegisterJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "flight": result.flight,
        "files": [_describe(file) for file in result.files],
        "bytes": result.bytes,
        "resumed": result.resumed,
        "left_out": [{"path": each.path, "why": each.why} for each in result.left_out],
        "remarks": list(result.remarks),
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
                f"{result.resumed:,} of {count_things(len(result.files), 'file')} had already been "
                "read by a register that did not come to its end; they are unchanged since and "
                "were not read again."
            )
        )
    if result.left_out:
        parts += _list_left_out(result.left_out)
    parts += [title("What they are"), _tabulate(result.files)]
    damaged = [file.record for file in result.files if file.record.fault]
    if damaged:
        parts.append(title("Entered by their bytes, but cannot be read, or not to the end"))
        parts.append(say_lines((f"{r.path}: {r.fault}" for r in damaged), DOUBT, indent=2))
    if result.remarks:
        parts.append(title("To bear in mind"))
        parts += [say(f"{remark}.") for remark in result.remarks]
    if result.drives:
        parts += [title("Copies"), *say_drives(result.drives)]
    if result.copies.off_card or result.copies.left_out:
        parts += [title("The card"), _say_card(result.copies), say(result.copies.sightings)]
    if result.step.command:
        parts.append(next_step(result.step.command, result.step.when))
    return Group(*parts)


def _say_card(copies: Copies) -> RenderableType:
    style = GOOD if copies.card_may_be_cleared else BAD if copies.left_out else DOUBT
    return say(copies.answer, style)


def _list_left_out(left_out: tuple[LeftOutFile, ...]) -> list[RenderableType]:
    """Return what is not in the book, by name, with one line for the rest where it is much."""
    shown = [f"{each.path}: {each.why}" for each in left_out[:_FILES_SHOWN]]
    rest = len(left_out) - len(shown)
    if rest:
        shown.append(f"and {rest:,} more; --json lists them all, and so does the entry")
    paths = count_things(len(left_out), "path")
    return [title(f"Not entered: {paths} that cannot be read"), say_lines(shown, BAD, indent=2)]


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
            say(sum_up(record.facts)),
        )
    return table


class _Facts(dict[str, Any]):
    """Facts with a question mark for what the file does not state."""

    def __missing__(self, key: str) -> str:
        return "?"


def sum_up(facts: Mapping[str, Any]) -> str:
    """Return the few facts that a person looks for first."""
    for sign, template in _SUMMARIES.items():
        if facts.get(sign, False) is not False:
            lacks_time = sign == "sentences" and not facts.get("first_time")
            return (_NO_TIME if lacks_time else template).format_map(_Facts(_word(facts)))
    return ""


def _word(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return facts with counts and what is absent in words."""
    counted = {
        key: count_things(int(facts[key]), _COUNTED[key]) for key in _COUNTED if key in facts
    }
    absent = {"crs": "no coordinate system"} if facts.get("crs") == "none" else {}
    return {**facts, **counted, **absent}
