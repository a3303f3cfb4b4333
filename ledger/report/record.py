"""What `record` shows: what was entered, echoed with its units, and what the blanks cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.artefact import FingerprintValue, Output
from ledger.model.phrases import count_things
from ledger.record.result import RecordResult
from ledger.report.screen import (
    DOUBT,
    QUIET,
    STRONG,
    make_table,
    next_step,
    say,
    say_lines,
    title,
)
from ledger.report.values import label_field, tell_how, write_value

_OUTPUTS_SHOWN = 6


class FingerprintJson(TypedDict):
    """Order-free digest of the points of a file."""

    version: Annotated[str, "version tag of the method, with the lattice"]
    count: Annotated[int, "number of points"]
    geometry: Annotated[str, "coordinates alone"]
    pulse: Annotated[str, "with GPS time, returns and point source"]
    full: Annotated[str, "with every field"]


class OutputJson(TypedDict):
    """One file that the run made."""

    path: Annotated[str, "relative to the job folder when inside it"]
    sha256: Annotated[str, "digest of its bytes"]
    points: Annotated[int | None, "points counted by reading them; null for none"]
    fingerprint: Annotated[FingerprintJson | None, "of its points"]
    fault: Annotated[str, "why it cannot be read; empty when it can"]


class RecordJson(TypedDict):
    """What `record --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    id: Annotated[str, "R1, F1, G1; for a decision the run that it is about"]
    kind: Annotated[str, "run, flight, rig or decision; sighting for nothing but known files"]
    decision: Annotated[str, "accepted, rejected, superseded or undecided; empty for a card"]
    inputs: Annotated[list[str], "flights and files that it used"]
    outputs: Annotated[list[OutputJson], "files that it made"]
    left_out: Annotated[list[str], "files that were not recorded"]
    not_recorded: Annotated[list[str], "fields without a value"]
    seen: Annotated[list[str], "files that other runs made, seen again at a new place or time"]


def make_json(result: RecordResult) -> RecordJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "id": result.id,
        "kind": result.kind,
        "decision": result.decision,
        "inputs": [used.flight or used.path for used in result.inputs],
        "outputs": [_describe(output) for output in result.outputs],
        "left_out": list(result.left_out),
        "not_recorded": list(result.not_recorded),
        "seen": list(result.seen),
    }


def _describe(output: Output) -> OutputJson:
    return {
        "path": output.file.path,
        "sha256": output.file.sha256,
        "points": output.points,
        "fingerprint": _describe_fingerprint(output.fingerprint),
        "fault": output.file.fault,
    }


def _describe_fingerprint(value: FingerprintValue | None) -> FingerprintJson | None:
    if value is None:
        return None
    return {
        "version": value.version,
        "count": value.count,
        "geometry": value.geometry,
        "pulse": value.pulse,
        "full": value.full,
    }


def make_screen(result: RecordResult) -> RenderableType:
    """Return what a person reads."""
    if result.kind == "sighting":
        return _say_seen(result)
    named = f" “{result.name}”" if result.name else ""
    parts: list[RenderableType] = [
        say(f"Recorded {_name_kind(result)}{named}: entry {result.entry}.", STRONG)
    ]
    if result.outputs:
        parts.append(_sum_up_outputs(result))
    if result.inputs:
        used = ", ".join(each.flight or each.path for each in result.inputs)
        note = " (assumed: the only flight of this job)" if result.inputs_assumed else ""
        parts.append(say(f"Made from {used}{note}.", DOUBT if note else ""))
    if result.kind == "run" and result.decision:
        reason = f": {result.reason}" if result.reason else ""
        parts.append(say(f"Decision: {result.decision}{reason}"))
    if result.values and result.kind != "decision":
        parts += [title("As entered"), _tabulate_values(result)]
    damaged = [output.file for output in result.outputs if output.file.fault]
    if damaged:
        parts.append(title("Entered by their bytes, but their points cannot be read"))
        parts.append(say_lines((f"{file.path}: {file.fault}" for file in damaged), DOUBT, indent=2))
    if result.left_out:
        parts.append(
            title("Left out, because they differ from the others: record them by themselves")
        )
        parts.append(say_lines(result.left_out, DOUBT, indent=2))
    parts += _list_blanks(result)
    parts.append(_say_next(result))
    return Group(*parts)


def _say_seen(result: RecordResult) -> RenderableType:
    count = count_things(len(result.seen), "file")
    return Group(
        say(
            f"Nothing to record: runs of the book made what lies there. Entry {result.entry}.",
            STRONG,
        ),
        say(f"{count} seen at a new place or with a new time: {_list_some(result.seen)}"),
    )


def _list_some(names: Sequence[str]) -> str:
    return ", ".join(names[:_OUTPUTS_SHOWN]) + (", …" if len(names) > _OUTPUTS_SHOWN else "")


def _name_kind(result: RecordResult) -> str:
    if result.kind == "decision":
        return f"the decision on {result.id}: {result.decision}"
    return f"{result.kind} {result.id}"


def _sum_up_outputs(result: RecordResult) -> RenderableType:
    points = sum(output.points or 0 for output in result.outputs)
    names = [output.file.path for output in result.outputs]
    shown = _list_some(names)
    return say(f"{count_things(len(names), 'output')}, {count_things(points, 'point')}: {shown}")


def _tabulate_values(result: RecordResult) -> RenderableType:
    table = make_table("", "", "")
    table.show_header = False
    table.columns[0].style = table.columns[2].style = QUIET
    for key, known in result.values.items():
        table.add_row(say(label_field(key)), say(write_value(known)), say(tell_how(known)))
    return table


def _list_blanks(result: RecordResult) -> list[RenderableType]:
    if not result.blanks:
        return []
    costly = [f"{label_field(b.field)}: {b.why}" for b in result.blanks if b.why]
    others = [label_field(b.field) for b in result.blanks if not b.why]
    parts: list[RenderableType] = [title("Not recorded, and what that costs")]
    if costly:
        parts.append(say_lines(costly, DOUBT, indent=2))
    if others:
        parts.append(say_lines([f"also blank: {', '.join(others)}"], indent=2))
    return parts


def _say_next(result: RecordResult) -> RenderableType:
    if result.kind == "run" and result.decision == "undecided":
        return next_step(f"swathbook record decision {result.id} accepted", "or rejected")
    if result.kind in ("rig", "flight"):
        return next_step("swathbook", "what is still open")
    return next_step("swathbook audit FOLDER", "before anything is sent")
