"""How places of raw files, and what was copied to drives, are shown and written in JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, TypedDict

from rich.console import RenderableType

from ledger.copies import Copies
from ledger.model.phrases import agree, count_things
from ledger.report.screen import BAD, GOOD, say, say_lines

if TYPE_CHECKING:  # the bare command copies nothing and shows places alone
    from ledger.copyto import DriveCopies

_FAULTS_SHOWN = 5


class DriveJson(TypedDict):
    """What one call copied to one drive."""

    volume: Annotated[str, "what tells the drive from others"]
    folder: Annotated[str, "folder on it that stands for the job folder"]
    copied: Annotated[int, "files written and read back"]
    found: Annotated[int, "identical files that lay there already, read through"]
    past_cache: Annotated[bool, "each was read back past the page cache of the system"]
    book: Annotated[str, "where the book was copied to; empty where it was not"]
    faults: Annotated[list[str], "what could not be copied, one sentence each"]


class CopyJson(TypedDict):
    """One place where the bytes of a raw file were seen."""

    volume: Annotated[str, "root of the volume, or the id that was noted of it"]
    path: Annotated[str, "the place, as the book writes it"]
    sha256: Annotated[str, "digest of the file"]
    last_seen: Annotated[str, "when its bytes were last read there, UTC"]
    verified: Annotated[bool, "read again from the medium after the copy was made there"]
    wrong: Annotated[str, "what the last recheck found wrong with it; empty for nothing"]
    card: Annotated[bool, "copies were made from here"]
    cleared: Annotated[bool, "the card holds it no longer, and it was not needed"]


def describe_copies(copies: Copies) -> list[CopyJson]:
    """Return every place."""
    return [
        {
            "volume": place.volume,
            "path": place.path,
            "sha256": place.sha256,
            "last_seen": place.last_seen,
            "verified": place.verified,
            "wrong": place.wrong,
            "card": place.is_card,
            "cleared": place.is_cleared,
        }
        for place in copies.places
    ]


def describe_drives(drives: tuple[DriveCopies, ...]) -> list[DriveJson]:
    """Return what was copied to each drive."""
    return [
        {
            "volume": each.drive.id,
            "folder": each.base.as_posix(),
            "copied": sum(not copy.found for copy in each.copies.values()),
            "found": sum(copy.found for copy in each.copies.values()),
            "past_cache": each.past_cache,
            "book": "" if each.book is None else each.book.as_posix(),
            "faults": [fault.sentence() for fault in each.faults],
        }
        for each in drives
    ]


def say_drives(drives: tuple[DriveCopies, ...]) -> Iterator[RenderableType]:
    """Yield what a person reads of each drive."""
    for each in drives:
        found = sum(copy.found for copy in each.copies.values())
        made = len(each.copies) - found
        parts = [f"{count_things(made, 'file')} copied"]
        if found:
            parts.append(f"{found:,} {agree(found, 'was', 'were')} there already")
        how = "" if each.past_cache else " (through the cache of the system)"
        all_read = f"; each was read back{how}" if each.copies else ""
        book = "; the book too" if each.book is not None else ""
        style = BAD if each.faults else GOOD
        yield say(f"{each.base}: {', '.join(parts)}{all_read}{book}.", style)
        shown = [fault.sentence() for fault in each.faults[:_FAULTS_SHOWN]]
        if len(each.faults) > _FAULTS_SHOWN:
            shown.append(f"and {len(each.faults) - _FAULTS_SHOWN} more")
        if shown:
            yield say_lines(shown, BAD, indent=2)
