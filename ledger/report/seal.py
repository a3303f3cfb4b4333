"""What `seal` shows: the root to be read over a telephone, and what it proves and does not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.report.root import list_root_lines
from ledger.report.screen import DOUBT, GOOD, QUIET, STRONG, next_step, say, say_lines
from ledger.report.timestamp import StampJson, describe_stamp, say_stamps
from ledger.seal import SealResult

PROVES = (
    "It shows that none of these entries was altered, left out or put in later.",
    "It does not show that they are true, nor when they were made: give it to somebody else today.",
)


class SealJson(TypedDict):
    """What `seal --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "entry that keeps the seal"]
    new: Annotated[bool, "false where nothing was entered since the last seal"]
    size: Annotated[int, "entries that it covers"]
    root: Annotated[str, "root over them, hex"]
    origin: Annotated[str, "name of the book in the seal"]
    key: Annotated[str, "public key, as it is handed on"]
    key_made: Annotated[bool, "whether the office's key was made now"]
    file: Annotated[str | None, "the seal as a file; null where it could not be written"]
    not_written: Annotated[str, "why it could not"]
    since: Annotated[int, "entries that the seal before covers; 0 for the first"]
    consistency: Annotated[list[str], "RFC 9162 proof that those stand unchanged, hex"]
    deliverables: Annotated[list[str], "ids that can be shown by a receipt from now on"]
    keep_until: Annotated[str, "until when the closed job is kept; empty while it is open"]
    timestamps: Annotated[list[StampJson], "time stamps over a seal that was made before"]


def make_json(result: SealResult) -> SealJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "new": result.is_new,
        "size": result.head.size,
        "root": result.head.root.hex(),
        "origin": result.head.origin,
        "key": result.key.text,
        "key_made": result.made_key,
        "file": None if result.file is None else str(result.file),
        "not_written": result.not_written,
        "since": result.since,
        "consistency": [part.hex() for part in result.consistency],
        "deliverables": list(result.deliverables),
        "keep_until": result.keep_until,
        "timestamps": [describe_stamp(each) for each in result.stamps],
    }


def make_screen(result: SealResult) -> RenderableType:
    """Return what a person reads."""
    return Group(*_say(result))


def _say(result: SealResult) -> Iterator[RenderableType]:
    covered = agree_entries(result.head.size)
    if result.is_new:
        yield say(f"Sealed: {covered}, entered as entry {result.entry}.", GOOD)
    else:
        yield say(f"Sealed already: {covered}. Nothing was entered since.", GOOD)
    if result.keep_until:
        yield say(f"The job is closed, to be kept until {result.keep_until}.", STRONG)
    yield say("Root:")
    yield say_lines(list_root_lines(result.head.root), STRONG, indent=2)
    yield say("Public key of the office:")
    yield say_lines([result.key.text], indent=2)
    if result.made_key:
        yield from _say_key(result)
    if result.since:
        told = f"What the seal before covers, {agree_entries(result.since)}, stands unchanged."
        yield say(told)
    for name in result.deliverables:
        yield say(f"A receipt can be made for each file of {name}.")
    yield from say_stamps(result.stamps)
    yield from (say(sentence, QUIET) for sentence in PROVES)
    if result.file is None:
        yield say(f"The seal was not left as a file: {result.not_written}", DOUBT)
        yield next_step("swathbook seal", "once it can be written; the book holds it")
    else:
        folder = f"{result.file.parent.name}/{result.file.name}"
        yield say(f"The same as a file, to be handed on: {folder}")
        yield next_step(f"swathbook recheck --book-only --against {folder}", "at any later time")


def _say_key(result: SealResult) -> Iterator[RenderableType]:
    locked = "locked with the passphrase" if result.is_locked else "not locked by a passphrase"
    told = (
        f"The key was made now, {locked}. It lies in {result.home}: keep a backup, and let "
        "nobody copy it."
    )
    yield say(told, STRONG if result.is_locked else DOUBT)


def agree_entries(size: int) -> str:
    """Return a number of entries from the first on, in words."""
    return "entry 1" if size == 1 else f"entries 1 to {size:,}"
