"""What `register --from-book` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.frombook import ForeignResult
from ledger.model.phrases import count_things
from ledger.report.screen import BAD, QUIET, STRONG, next_step, say, say_lines


class ConflictJson(TypedDict):
    """Something said there that was not taken over."""

    record: Annotated[str, "id of the record"]
    kind: Annotated[str, "kind of the entry"]
    entry: Annotated[int, "its number in the other book"]
    text: Annotated[str, "what it says"]


class ForeignJson(TypedDict):
    """What `register --from-book --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "entry that keeps the other book's entries; 0 where nothing was new"]
    common: Annotated[int, "entries that both books hold"]
    here: Annotated[int, "entries of this book after those, before this command"]
    there: Annotated[int, "entries of the other book after those"]
    root: Annotated[str, "root of the other book, in hex"]
    ids: Annotated[dict[str, str], "id there to id here, of every record taken over"]
    taken: Annotated[int, "entries taken over"]
    left: Annotated[int, "entries kept byte for byte and not taken over"]
    conflicts: Annotated[list[ConflictJson], "what a person has to decide"]


def make_json(result: ForeignResult) -> ForeignJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "common": result.fork.common,
        "here": result.fork.here,
        "there": result.fork.there,
        "root": result.root,
        "ids": dict(result.ids),
        "taken": result.taken,
        "left": result.left,
        "conflicts": [
            {"record": each.record, "kind": each.kind, "entry": each.entry, "text": each.text}
            for each in result.conflicts
        ],
    }


def make_screen(result: ForeignResult) -> RenderableType:
    """Return what a person reads."""
    fork = result.fork
    if not result.entry:
        return Group(
            say("The other book holds nothing new; nothing was entered.", STRONG),
            next_step("swathbook"),
        )
    parts: list[RenderableType] = [
        say(
            f"The books part after entry {fork.common}: this one went on by "
            f"{count_things(fork.here, 'entry', 'entries')}, "
            f"the other by {count_things(fork.there, 'entry', 'entries')}.",
            STRONG,
        ),
        say(
            f"{count_things(result.taken, 'entry', 'entries')} taken over, "
            f"all of them kept as they were in entry {result.entry}."
        ),
        say_lines((f"{there} is {here} here" for there, here in result.ids.items()), indent=2),
    ]
    for each in result.conflicts:
        said = f"Not taken over, because this book says something on {each.record} itself: "
        parts.append(say(f"{said}{each.text} (entry {each.entry} there). Decide here.", BAD))
    parts.append(say("Audits made there were not taken over: audit again here.", QUIET))
    return Group(*parts, next_step("swathbook"))
