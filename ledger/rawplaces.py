"""Places of the raw files: where their bytes were seen, by every entry that tells of it.

What counts as a good copy, and when the card may be cleared, is told in `ledger.copies`.

Light: reads the book, and asks the system on which volume a folder lies.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.deletions import read_deletions
from ledger.driveplaces import DrivePlace, read_drive_places
from ledger.drives import find_id
from ledger.model.entry import Entry
from ledger.model.filestate import WRONG, FileState
from ledger.rechecked import PastRecheck, find_last_look, find_last_reading, read_rechecks
from ledger.store.lookups import Sighting
from ledger.store.reading import Book
from ledger.volumes import find_volume, is_connected, is_outside_job


@dataclass(frozen=True)
class Place:
    """One place of one raw file.

    Args:
        sha256: digest of the file.
        bytes: its size.
        path: where it was seen, as the book writes it.
        volume: root of the volume, or the id that was noted of it.
        key: equal for places on one volume, as far as this system can tell now.
        last_seen: when its bytes were last read there, UTC, RFC 3339.
        verified: read again from the medium after the copy was made, and nothing wrong since.
        wrong: what the last recheck found wrong with it; empty for nothing.
        drive: id of the drive, where entries tell it and it lasts; else empty.
        root: where that volume was connected when it was last seen; empty inside the job folder.
        is_copy: read again from the medium after the copy was made, whatever was found since.
        is_card: copies were made from here.
        is_cleared: a recheck found that the card holds it no longer, and it was not needed.
    """

    sha256: str
    bytes: int
    path: str
    volume: str
    key: str
    last_seen: str
    verified: bool = False
    wrong: str = ""
    drive: str = ""
    root: str = ""
    is_copy: bool = False
    is_card: bool = False
    is_cleared: bool = False


class PlaceFinder:
    """Makes places from sightings; reads each entry and asks for each volume once."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._rechecks: tuple[PastRecheck, ...] = read_rechecks(book)
        self._entry = cache(book.entry)
        self._key = cache(_find_key)
        self._since = cache(self._find_since)
        self._at_path: dict[tuple[str, str], DrivePlace] = {}
        self._on_drive: list[DrivePlace] = []
        self._deleted = read_deletions(book)
        self._own = ""
        self._sort(read_drive_places(book))

    def _sort(self, noted: Collection[DrivePlace]) -> None:
        """Tell places on drives that are known by themselves from those known by path alone.

        A path in the job folder lies where the job lies now; one that was noted on another drive
        (a job that moved, a book from another computer) is a place there.
        """
        inside = any(place.volume and not is_outside_job(place.file.path) for place in noted)
        self._own = find_id(self._book.folder) if inside else ""
        for place in noted:
            is_own = self._own in ("", place.volume) and not is_outside_job(place.file.path)
            if place.volume and not is_own:
                self._on_drive.append(place)
            else:
                self._at_path[place.file.sha256, place.file.path] = place

    def list_places(self) -> Iterator[Place]:
        """Yield every place of every registered file that was not deleted on purpose."""
        for place, entry in self._list_seen():
            if self._deleted.get((place.path, place.sha256, place.drive), 0) < entry:
                yield place

    def _list_seen(self) -> Iterator[tuple[Place, int]]:
        """Yield every place with the entry that saw it last."""
        told = {
            (place.file.sha256, place.file.path)
            for place in self._on_drive
            if is_outside_job(place.file.path)
        }
        for seen in self._book.raw_sightings():
            if (seen.sha256, seen.path) not in told:
                noted = self._at_path.get((seen.sha256, seen.path))
                yield self._make_place(seen, noted), max(seen.entry, noted.entry if noted else 0)
        raw = self._book.digests_used_as("registered") if self._on_drive else frozenset()
        for place in self._on_drive:
            if place.file.sha256 in raw:
                file = place.file
                sighting = Sighting(file.sha256, file.path, file.bytes, 0)
                yield self._make_place(sighting, place), place.entry

    def _make_place(self, seen: Sighting, noted: DrivePlace | None) -> Place:
        """Return a place.

        Args:
            seen: the sighting; its entry is 0 where the note alone tells of it.
            noted: what entries say of the place beyond its path.
        """
        drive = noted.volume if noted is not None and not seen.entry else ""
        volume, key = (drive, drive) if drive else self._tell_by_path(seen.path)
        entry = max(seen.entry, noted.entry if noted is not None else 0)
        since = self._since(entry)
        look = find_last_look(since, seen.path, drive)
        reading = find_last_reading(since, seen.path, drive)
        state = look.state if look is not None else ""
        wrong = state if state in WRONG else ""
        return Place(
            sha256=seen.sha256,
            bytes=seen.bytes,
            path=seen.path,
            volume=volume,
            key=key,
            last_seen=_get_time(reading or self._entry(entry)),
            verified=noted is not None and noted.reread and not wrong,
            wrong=wrong,
            drive=drive,
            root=noted.root if noted is not None else find_volume(seen.path),
            is_copy=noted is not None and noted.reread,
            is_card=noted is not None and noted.is_card,
            is_cleared=state == FileState.CARD_CLEARED,
        )

    def _tell_by_path(self, path: str) -> tuple[str, str]:
        """Return the volume of a path, and what is equal for paths on it."""
        if is_outside_job(path):
            volume = find_volume(path)
            return volume, self._key(_find_folder(path), volume)
        whole = f"{self._book.folder.as_posix()}/{path}"
        volume = find_volume(whole)
        return volume, self._own or self._key(_find_folder(whole), volume)

    def _find_since(self, entry: int) -> tuple[PastRecheck, ...]:
        """Return the rechecks after an entry, newest first."""
        return tuple(past for past in self._rechecks if past.entry.seq > entry)


def _find_folder(path: str) -> str:
    """Return the folder of a path, with the stroke that makes a root of a letter."""
    return f"{path.rpartition('/')[0]}/"


def _get_time(entry: Entry | None) -> str:
    return "" if entry is None else entry.time


def _find_key(folder: str, volume: str) -> str:
    """Return what is equal for folders on one volume: the system's number of it where it is there.

    A folder that is gone is taken to lie where the nearest one above it lies.
    """
    if not is_connected(volume):
        return volume
    place = Path(folder)
    for above in (place, *place.parents):
        with suppress(OSError, ValueError):
            return f"device {above.stat().st_dev}"
    return volume
