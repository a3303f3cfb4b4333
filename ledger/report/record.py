"""What `record` shows: what was entered, echoed with its units, and what the blanks cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from ledger.model.artefact import FingerprintValue, Output
from ledger.model.blanks import Blank
from ledger.model.fields import FIELDS
from ledger.model.filename import escape_for_screen
from ledger.model.phrases import count_things
from ledger.record.result import RecordResult
from ledger.report.screen import (
    BAD,
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
_PROCESSES = ("run", "step")
_CARDS = ("rig", "flight", "statement", "points")
_COSTS_SHOWN = 5
_NO_SOURCE = 5  # heavier than any field: without inputs no question can be answered
_ORDER = {key: place for place, key in enumerate(FIELDS)}


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
    entry: Annotated[int, "number of the entry that holds it"]
    new: Annotated[bool, "whether that entry was made now; not where the book said so already"]
    id: Annotated[str, "R1, S1, F1, G1, T1, P1; for a decision the run that it is about"]
    kind: Annotated[
        str,
        "run, step, flight, rig, statement, points, decision; sighting for nothing but known files",
    ]
    decision: Annotated[str, "accepted, rejected, superseded or undecided; empty for a card"]
    inputs: Annotated[list[str], "flights and files that it used"]
    beside: Annotated[list[str], "settings files, photos and screenshots that are kept with it"]
    sources: Annotated[list[str], "runs and steps that made those files"]
    outputs: Annotated[list[OutputJson], "files that it made"]
    left_out: Annotated[list[str], "files that were not recorded, as they differ from the others"]
    unread: Annotated[dict[str, str], "why files beside them could not be read, by path"]
    not_recorded: Annotated[list[str], "fields without a value"]
    points_in: Annotated[int | None, "points in what a step worked on; null when not known"]
    not_understood: Annotated[list[str], "values of settings files that are no answer of a field"]
    taken_out: Annotated[list[str], "keys of settings files whose value was a secret"]
    seen: Annotated[list[str], "files that other runs made, seen again at a new place or time"]
    notes: Annotated[list[str], "what somebody should look at again, one sentence each"]
    computed: Annotated[list[str], "what follows from the values, one sentence each"]


def make_json(result: RecordResult) -> RecordJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "new": result.is_new,
        "id": result.id,
        "kind": result.kind,
        "decision": result.decision,
        "inputs": [used.flight or used.path for used in result.inputs],
        "beside": [used.path for used in result.beside],
        "sources": list(result.sources),
        "outputs": [_describe(output) for output in result.outputs],
        "left_out": list(result.left_out),
        "unread": dict(result.unread),
        "not_recorded": list(result.not_recorded),
        "points_in": result.points_in,
        "not_understood": list(result.not_understood),
        "taken_out": list(result.taken_out),
        "seen": list(result.seen),
        "notes": [note.sentence for note in result.notes if note.is_doubt],
        "computed": [note.sentence for note in result.notes if not note.is_doubt],
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
    if not result.is_new:
        return _say_again(result)
    parts: list[RenderableType] = [
        say(f"Recorded {_name_kind(result)}{named}: entry {result.entry}.", STRONG)
    ]
    if result.outputs:
        parts.append(_sum_up_outputs(result))
    parts += _say_inputs(result)
    if result.kind in _PROCESSES and result.decision:
        reason = f": {result.reason}" if result.reason else ""
        parts.append(say(f"Decision: {result.decision}{reason}"))
    if result.values and result.kind != "decision":
        parts += [title("As entered"), _tabulate_values(result)]
    parts += [say(note.sentence, BAD if note.is_doubt else "") for note in result.notes]
    parts += _list_settings(result)
    damaged = [output.file for output in result.outputs if output.file.fault]
    if damaged:
        parts.append(title("Entered by their bytes, but their points cannot be read"))
        parts.append(say_lines((f"{file.path}: {file.fault}" for file in damaged), DOUBT, indent=2))
    if result.left_out:
        parts.append(
            title("Left out, because they differ from the others: record them by themselves")
        )
        parts.append(say_lines(result.left_out, DOUBT, indent=2))
    if result.unread:
        parts.append(title("Left out, because they cannot be read: record them once they can be"))
        lines = (f"{path}: {why}" for path, why in result.unread.items())
        parts.append(say_lines(lines, BAD, indent=2))
    parts += [*_list_blanks(result), *_say_how_to_put_right(result), *_say_next(result)]
    return Group(*parts)


def _say_inputs(result: RecordResult) -> list[RenderableType]:
    """Return what went in, what is kept beside it, and the balance of points."""
    parts: list[RenderableType] = []
    if result.inputs:
        used = _name_inputs(result)
        note = " (assumed: the only flight of this job)" if result.inputs_assumed else ""
        parts.append(say(f"Made from {used}{note}.", DOUBT if note else ""))
    if result.beside:
        names = [f"{used.path} ({used.role})" for used in result.beside]
        parts.append(say(f"Kept with it: {_list_some(names)}."))
    if result.points_in is not None:
        parts.append(_say_balance(result.points_in, _count_points(result)))
    return parts


def _list_settings(result: RecordResult) -> list[RenderableType]:
    """Return what settings files said that was not taken as it stood."""
    parts: list[RenderableType] = []
    if result.not_understood:
        parts.append(title("Left blank, because the settings file says it in words of its own"))
        parts.append(say_lines(result.not_understood, DOUBT, indent=2))
    if result.taken_out:
        names = ", ".join(result.taken_out)
        parts.append(say(f"Secrets were not kept: {names}", QUIET))
    return parts


def _say_again(result: RecordResult) -> RenderableType:
    why = f", “{result.reason}”" if result.reason else ""
    told = f"{result.id} is {result.decision} already: entry {result.entry}{why}."
    return Group(say(f"{told} Nothing was entered.", STRONG), *_say_next(result))


def _say_seen(result: RecordResult) -> RenderableType:
    count = count_things(len(result.seen), "file")
    what = "runs of the book made what lies there"
    if result.is_copy:
        what = "the command only copied what runs of the book made"
    return Group(
        say(f"Nothing to record: {what}. Entry {result.entry}.", STRONG),
        say(f"{count} seen at a new place or with a new time: {_list_some(result.seen)}"),
        *_say_next(result),
    )


def _name_inputs(result: RecordResult) -> str:
    """Return what went in: flights and raw files by name, made files by what made them."""
    raw = [each.flight or each.path for each in result.inputs if each.sha256 not in result.makers]
    if not result.makers:
        return _list_some(raw)
    made = f"{count_things(len(result.makers), 'file')} of {' and '.join(result.sources)}"
    return ", ".join([made, *([_list_some(raw)] if raw else [])])


def _list_some(names: Sequence[str]) -> str:
    return ", ".join(names[:_OUTPUTS_SHOWN]) + (", …" if len(names) > _OUTPUTS_SHOWN else "")


def _name_kind(result: RecordResult) -> str:
    if result.kind == "decision":
        return f"the decision on {result.id}: {result.decision}"
    return f"{result.kind} {result.id}"


def _sum_up_outputs(result: RecordResult) -> RenderableType:
    points = _count_points(result)
    names = [output.file.path for output in result.outputs]
    shown = _list_some(names)
    return say(f"{count_things(len(names), 'output')}, {count_things(points, 'point')}: {shown}")


def _count_points(result: RecordResult) -> int:
    return sum(output.points or 0 for output in result.outputs)


def _say_balance(points_in: int, points_out: int) -> RenderableType:
    """Return the line that says how many points went in and came out of a step."""
    change = abs(points_in - points_out)
    more = "fewer" if points_out < points_in else "more"
    told = f"{change:,} {more}" if change else "as many as went in"
    return say(f"Points: {points_in:,} in, {points_out:,} out; {told}.")


def _tabulate_values(result: RecordResult) -> RenderableType:
    table = make_table("", "", "")
    table.show_header = False
    table.columns[0].style = table.columns[2].style = QUIET
    for key, known in sorted(result.values.items(), key=lambda pair: _ORDER.get(pair[0], 0)):
        table.add_row(say(label_field(key)), say(write_value(known)), say(tell_how(known)))
    return table


def _list_blanks(result: RecordResult) -> list[RenderableType]:
    """Return what is blank, by what it costs, the worst first and no more than a glance takes."""
    names: dict[str, list[str]] = {}
    for blank in sorted(result.blanks, key=_weigh):
        names.setdefault(blank.why, []).append(label_field(blank.field))
    also = names.pop("", [])
    costs = list(names.items())
    also = [name for _, listed in costs[_COSTS_SHOWN:] for name in listed] + also
    lines = [f"{', '.join(listed)}: {why}" for why, listed in costs[:_COSTS_SHOWN]]
    parts: list[RenderableType] = []
    if lines:
        parts += [title("Not recorded, and what that costs"), say_lines(lines, DOUBT, indent=2)]
    if also and lines:
        parts.append(say_lines([f"also blank: {', '.join(also)}"], indent=2))
    elif also:
        parts.append(Padding(say(f"Blank: {', '.join(also)}"), (1, 0, 0, 0), expand=False))
    return parts


def _weigh(blank: Blank) -> int:
    """Return where a blank stands in the list; whatever is no field has no run without it."""
    field = FIELDS.get(blank.field)
    return -field.weight if field else -_NO_SOURCE


def _say_how_to_put_right(result: RecordResult) -> list[RenderableType]:
    if result.kind not in (*_PROCESSES, *_CARDS):
        return []
    card = f"swathbook record {result.kind} {result.id}"
    run = f'swathbook amend {result.id} --set key=value --reason "…"'
    command = run if result.kind in _PROCESSES else card
    line = Text.assemble("Fill in or put right: ", (escape_for_screen(command), STRONG))
    return [Padding(line, (1, 0, 0, 0), expand=False)]


def _say_next(result: RecordResult) -> list[RenderableType]:
    step = result.step
    return [next_step(step.command, step.when)] if step.command else []
