"""What `record deletion` shows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.phrases import agree, count_things
from ledger.record.deletion import DeletionResult
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, say, say_lines

_SHOWN = 6


class DeletionJson(TypedDict):
    """What `record deletion --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "its entry"]
    paths: Annotated[list[str], "what is gone, as the book writes it"]
    reason: Annotated[str, "why"]
    keep_until: Annotated[str, "until when the job is to be kept; empty where nobody said"]
    lost: Annotated[int, "raw files without any good copy now"]
    thin: Annotated[int, "raw files with fewer good copies than are asked for"]


def make_json(result: DeletionResult) -> DeletionJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "paths": list(result.paths),
        "reason": result.reason,
        "keep_until": result.keep_until,
        "lost": result.lost,
        "thin": result.thin,
    }


def make_screen(result: DeletionResult) -> RenderableType:
    """Return what a person reads."""
    return Group(*_say(result))


def _say(result: DeletionResult) -> Iterator[RenderableType]:
    count = len(result.paths)
    what = count_things(count, "file")
    yield say(f"Entered as entry {result.entry}: {what} deleted, {result.reason}", GOOD)
    yield say_lines(result.paths[:_SHOWN], indent=2)
    if count > _SHOWN:
        yield say(f"  and {count - _SHOWN} more", QUIET)
    if result.lost:
        lost = count_things(result.lost, "raw file")
        have = agree(result.lost, "has", "have")
        yield say(f"{lost} {have} no copy that was read back from a drive.", BAD)
    if result.thin:
        thin = count_things(result.thin, "raw file")
        yield say(f"{thin} with fewer good copies than are asked for.", DOUBT)
    if result.keep_until:
        yield say(f"The job was closed, to be kept until {result.keep_until}.", DOUBT)
    yield say("What the book says of them stays; recheck looks for them no more.", QUIET)
