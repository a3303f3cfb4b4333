"""Where the raw files lie, as far as the book saw it, and whether the card may be cleared.

The rule, in this one place:

- A place is a path on a volume under which the bytes of a raw file were seen. On a drive that is
  known by itself it is the path below the root of the drive, under whatever letter.
- A place counts as a good copy when an entry says that it was read again from its medium after the
  copy was made there (`reread`), and nothing has been found wrong with it since. A drive that is
  not connected takes nothing away; when a recheck reads it, the place was seen then.
- Good copies on one volume count once. The card never counts: files are read from it, never copied
  to it, so that no entry says `reread` of it.
- The card may be cleared when every raw file has as many good copies as `[folders] copies` of
  `job.toml` asks for, two when it says nothing; never while a file or folder that a register could
  not read is still there and was not entered.
- A geoid grid that was registered by itself is no raw file: it never lay on a card alone.
- The card is a place outside the job folder that copies were made from (`copied_from`). Once a
  recheck finds it gone or written over while the files may be cleared from it, it is a place no
  more.

Light: reads the book, and asks the system on which volume a folder lies.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.deletions import read_deletions
from ledger.driveplaces import DrivePlace, read_drive_places
from ledger.drives import find_id
from ledger.jobfolder import find_places
from ledger.leftout import list_left_out
from ledger.model.artefact import Role
from ledger.model.entry import Entry
from ledger.model.filestate import WRONG, FileState
from ledger.model.lineage import describe_day
from ledger.model.phrases import agree, count_things
from ledger.rechecked import PastRecheck, find_last_look, find_last_reading, read_rechecks
from ledger.store.lookups import Sighting
from ledger.store.reading import Book
from ledger.volumes import find_volume, is_connected, is_outside_job

_OWN_DRIVE = "the job's own drive"


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


@dataclass(frozen=True)
class Copies:
    """Where some raw files lie.

    Args:
        needed: good copies that each file needs before the card may be cleared.
        files: digests of the raw files.
        places: every place, sorted by path.
        left_out: paths that a register could not read and nobody has entered since.
    """

    needed: int
    files: frozenset[str]
    places: tuple[Place, ...]
    left_out: tuple[str, ...] = ()

    @property
    def bytes(self) -> int:
        """Return the size of all files together, each counted once."""
        return sum({place.sha256: place.bytes for place in self.places}.values())

    @property
    def good(self) -> int:
        """Return the good copies on different volumes that every one of the files has."""
        return min((count_good(places) for places in self.by_file.values()), default=0)

    @property
    def card_may_be_cleared(self) -> bool:
        """Say whether every file has as many good copies as are needed, and none is left out."""
        return bool(self.files) and self.good >= self.needed and not self.left_out

    @property
    def answer(self) -> str:
        """Return whether the card may be cleared and why, in one sentence."""
        if not self.files:
            return "No raw file is registered."
        if self.left_out:
            first, *more = self.left_out
            told = f"{first} and {len(more):,} more" if more else first
            are = agree(len(self.left_out), "is", "are")
            return f"Do not clear the card: {told} could not be read and {are} in no copy."
        if self.card_may_be_cleared:
            card = "was cleared or put away" if self._was_cleared else "may be cleared"
            return f"The card {card}: every file was read back from {self.good} volumes."
        asked = count_things(self.needed, "copy", "copies")
        if not any(place.verified for place in self.places):
            return f"Do not clear the card: no copy was read back from its drive, {asked} needed."
        lacking = sum(count_good(places) < self.needed for places in self.by_file.values())
        files = count_things(lacking, "file")
        told = f"{files} with fewer than {asked} read back from a drive"
        card = "The card was cleared or put away" if self._was_cleared else "Do not clear the card"
        return f"{card}: {told}."

    @property
    def _was_cleared(self) -> bool:
        """Say whether all that was copied is gone from where it was copied from."""
        card = [place for place in self.places if place.is_card]
        return bool(card) and all(place.is_cleared for place in card)

    @property
    def sightings(self) -> str:
        """Return at how many places, on which volumes and when last, in one sentence."""
        counts = sorted(
            sum(not place.is_cleared for place in places) for places in self.by_file.values()
        )
        if not counts:
            return ""
        parts = []
        for volume, places in self.by_volume.items():
            seen = {place.sha256 for place in places if not place.wrong}
            wrong = {place.sha256 for place in places} - seen
            latest = max(place.last_seen for place in places)
            some = "" if len(seen) == len(self.files) else f" {len(seen)} of {len(self.files)}"
            bad = f", {len(wrong)} found wrong" if wrong else ""
            parts.append(f"{volume}{some} (last {describe_day(latest)}{bad})")
        fewest = f"{counts[0]} to " if counts[0] != counts[-1] else ""
        volumes = f" on {count_things(len(parts), 'volume')}" if counts[-1] > 1 else ""
        told = count_things(counts[-1], "place")
        return f"Each file was seen at {fewest}{told}{volumes}: {', '.join(parts)}."

    @property
    def by_file(self) -> dict[str, list[Place]]:
        """Return the places of every file, by its digest, sorted."""
        found: dict[str, list[Place]] = {sha256: [] for sha256 in sorted(self.files)}
        for place in self.places:
            found[place.sha256].append(place)
        return found

    @property
    def by_volume(self) -> dict[str, list[Place]]:
        """Return the places by the name of their volume, that of the job first.

        Cards that were cleared are left out.
        """
        names: dict[str, str] = {}
        found: dict[str, list[Place]] = defaultdict(list)
        for place in sorted(self.places, key=lambda place: is_outside_job(place.path)):
            if place.is_cleared:
                continue
            if place.key not in names:
                name = place.root or _OWN_DRIVE
                name += " (the card)" if place.is_card else ""
                is_taken = name != _OWN_DRIVE and name in names.values()
                names[place.key] = f"{name} ({place.volume})" if is_taken else name
            found[names[place.key]].append(place)
        return found


def count_good(places: Iterable[Place]) -> int:
    """Return on how many volumes a file lies that was read back there."""
    return len({place.key for place in places if place.verified and not place.wrong})


def find_copies(book: Book, only: Collection[str] | None = None) -> Copies:
    """Return where the raw files of a job lie.

    Args:
        book: an open book.
        only: digests of the files that are asked about; None for all.
    """
    wanted = None if only is None else frozenset(only)
    grids = list_grids(book)
    places = tuple(
        place
        for place in _Finder(book).list_places()
        if place.sha256 not in grids and (wanted is None or place.sha256 in wanted)
    )
    return Copies(
        needed=find_places(book.folder).copies,
        files=frozenset(place.sha256 for place in places),
        places=tuple(sorted(places, key=lambda place: (place.path, place.sha256, place.drive))),
        left_out=list_left_out(book),
    )


def list_grids(book: Book) -> frozenset[str]:
    """Return the digests of geoid grids that belong to no flight: no card holds them alone."""
    grids = {file.sha256 for file in book.files_last_seen(Role.GEOID)}
    return frozenset(
        sha256
        for sha256 in grids
        if not any(use.owner for use in book.uses(sha256) if use.relation == "registered")
    )


class _Finder:
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
