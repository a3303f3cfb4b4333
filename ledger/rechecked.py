"""What past rechecks found, path by path: what is still wrong, and when a file was last good.

Light: reads the entries of rechecks and their lists, no file.

A recheck speaks for the paths that it looked at. One that does not say which (an entry of an
earlier version) speaks for those that it listed as wrong, and clears nothing.

Of a drive that is known by itself path and drive together are the place: two drives may have had
one letter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from ledger.canonical import decode
from ledger.dataclass import dataclass
from ledger.jobfolder import SCRATCH_NAME, make_scratch
from ledger.model.entry import Entry, Kind
from ledger.store.reading import Book
from ledger.volumes import is_outside_job

_NOTE_NAME = "book-is-broken.txt"


@dataclass(frozen=True)
class PastRecheck:
    """One recheck that was entered.

    Args:
        entry: its entry.
        scope: paths at and below which it looked, as the book writes them; empty for all that was
            recorded; None where it is not known, or where it looked at the book alone.
        states: state of each file that was not as recorded, by path and id of the drive, which is
            empty where path alone tells the place.
        covered: which of them are away while the same bytes were read elsewhere.
    """

    entry: Entry
    scope: tuple[str, ...] | None
    states: dict[tuple[str, str], str]
    covered: frozenset[tuple[str, str]] = frozenset()

    def looked_at(self, path: str, drive: str = "") -> bool:
        """Say whether it read what lay under a path of the book."""
        if self.find_spot(path, drive) in self.states:
            return True
        if self.scope is None:
            return False
        return not self.scope or any(is_inside(path, folder) for folder in self.scope)

    def find_spot(self, path: str, drive: str) -> tuple[str, str]:
        """Return what a place is listed under: its path alone where no drive was told."""
        return (path, drive) if (path, drive) in self.states else (path, "")


@dataclass(frozen=True)
class LastLook:
    """The latest recheck of one path.

    Args:
        entry: its entry.
        state: what it found; empty for as recorded.
        is_covered: the file is away, and the same bytes were read elsewhere.
    """

    entry: Entry
    state: str = ""
    is_covered: bool = False


def read_rechecks(book: Book) -> tuple[PastRecheck, ...]:
    """Return all rechecks, newest first.

    Raises:
        BookError: a list is not in the book.
    """
    found = [_read(book, entry) for entry in book.entries(Kind.RECHECK)]
    return tuple(reversed(found))


def _read(book: Book, entry: Entry) -> PastRecheck:
    values = entry.values
    listed = decode(book.blob(values["files"])) if values.get("files") else []
    scope = values.get("paths")
    is_known = scope is not None and not values.get("book_only")
    return PastRecheck(
        entry=entry,
        scope=tuple(scope or ()) if is_known else None,
        states={_name_spot(row): row["state"] for row in listed},
        covered=frozenset(_name_spot(row) for row in listed if row.get("covered")),
    )


def _name_spot(row: Mapping[str, str]) -> tuple[str, str]:
    return row["path"], row.get("volume", "")


def find_last_look(rechecks: Iterable[PastRecheck], path: str, drive: str = "") -> LastLook | None:
    """Return what the latest recheck of a path found; None for a path that none looked at.

    Args:
        rechecks: newest first.
        path: as the book writes it.
        drive: id of the drive that it lies on; empty where the path alone tells the place.
    """
    for past in rechecks:
        if past.looked_at(path, drive):
            spot = past.find_spot(path, drive)
            return LastLook(past.entry, past.states.get(spot, ""), spot in past.covered)
    return None


def find_last_reading(rechecks: Iterable[PastRecheck], path: str, drive: str = "") -> Entry | None:
    """Return the latest recheck that read a path and found it as recorded; None for none.

    Args:
        rechecks: newest first.
        path: as the book writes it.
        drive: id of the drive that it lies on; empty where the path alone tells the place.
    """
    for past in rechecks:
        if past.looked_at(path, drive) and past.find_spot(path, drive) not in past.states:
            return past.entry
    return None


@dataclass(frozen=True)
class BrokenNote:
    """What a recheck found of a broken book, which takes no entry that could say so.

    Args:
        sentence: what was found.
        time: when, UTC, RFC 3339.
    """

    sentence: str
    time: str


def keep_broken_note(job: Path, sentence: str) -> None:
    """Note beside the book that it is broken; where nothing can be written, nothing is."""
    with suppress(OSError):
        (make_scratch(job) / _NOTE_NAME).write_text(sentence, encoding="utf-8")


def drop_broken_note(job: Path) -> None:
    """Take the note away: the book is unbroken."""
    with suppress(OSError):
        (job / SCRATCH_NAME / _NOTE_NAME).unlink(missing_ok=True)


def read_broken_note(job: Path) -> BrokenNote | None:
    """Return what the last recheck noted of a broken book; None for nothing."""
    path = job / SCRATCH_NAME / _NOTE_NAME
    try:
        sentence = path.read_text(encoding="utf-8", errors="replace").strip()
        moment = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except (OSError, ValueError, OverflowError):
        return None
    return BrokenNote(sentence, f"{moment:%Y-%m-%dT%H:%M:%SZ}")


def is_inside(path: str, folder: str) -> bool:
    """Say whether a path of the book is a folder, or lies in it; `.` is the job folder."""
    if folder == ".":
        return not is_outside_job(path)
    return path == folder or path.startswith(f"{folder.rstrip('/')}/")
