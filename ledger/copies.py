"""Where the raw files lie, as far as the book saw it, and whether the card may be cleared.

The rule, in this one place:

- A place is a path on a volume under which the bytes of a raw file were seen.
- A place counts as a good copy when an entry says that it was read again from its medium after the
  copy was made there (`reread`), and nothing has been found wrong with it since.
- Good copies on one volume count once. The card never counts: files are read from it, never copied
  to it, so that no entry says `reread` of it.
- The card may be cleared when every raw file has as many good copies as `[folders] copies` of
  `job.toml` asks for, two when it says nothing.

Light: reads the book, and asks the system on which volume a folder lies.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path, PurePosixPath

from ledger.canonical import decode
from ledger.jobfolder import find_places
from ledger.model.entry import Entry, Kind
from ledger.model.filestate import WRONG
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from ledger.rechecked import PastRecheck, find_last_look, read_rechecks
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
    """

    sha256: str
    bytes: int
    path: str
    volume: str
    key: str
    last_seen: str
    verified: bool = False
    wrong: str = ""


@dataclass(frozen=True)
class Copies:
    """Where some raw files lie.

    Args:
        needed: good copies that each file needs before the card may be cleared.
        files: digests of the raw files.
        places: every place, sorted by path.
    """

    needed: int
    files: frozenset[str]
    places: tuple[Place, ...]

    @property
    def bytes(self) -> int:
        """Return the size of all files together, each counted once."""
        return sum({place.sha256: place.bytes for place in self.places}.values())

    @property
    def good(self) -> int:
        """Return the good copies on different volumes that every one of the files has."""
        return min((count_good(places) for places in self._by_file.values()), default=0)

    @property
    def card_may_be_cleared(self) -> bool:
        """Say whether every file has as many good copies as are needed."""
        return bool(self.files) and self.good >= self.needed

    @property
    def answer(self) -> str:
        """Return whether the card may be cleared and why, in one sentence."""
        if not self.files:
            return "No raw file is registered."
        asked = count_things(self.needed, "copy", "copies")
        if self.card_may_be_cleared:
            return f"The card may be cleared: every file was read back from {self.good} volumes."
        if not any(place.verified for place in self.places):
            return f"Do not clear the card: no copy was read back from its drive, {asked} needed."
        lacking = sum(count_good(places) < self.needed for places in self._by_file.values())
        files = count_things(lacking, "file")
        return f"Do not clear the card: {files} with fewer than {asked} read back from a drive."

    @property
    def sightings(self) -> str:
        """Return at how many places, on which volumes and when last, in one sentence."""
        counts = sorted(len(places) for places in self._by_file.values())
        if not counts:
            return ""
        parts = []
        for volume, places in self._by_volume.items():
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
    def _by_file(self) -> dict[str, list[Place]]:
        found: dict[str, list[Place]] = {sha256: [] for sha256 in sorted(self.files)}
        for place in self.places:
            found[place.sha256].append(place)
        return found

    @property
    def _by_volume(self) -> dict[str, list[Place]]:
        """Return the places by the name of their volume, that of the job first."""
        names: dict[str, str] = {}
        found: dict[str, list[Place]] = defaultdict(list)
        for place in sorted(self.places, key=lambda place: is_outside_job(place.path)):
            if place.key not in names:
                name = find_volume(place.path) or _OWN_DRIVE
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
    found = [each for each in book.raw_sightings() if wanted is None or each.sha256 in wanted]
    finder = _Finder(book)
    return Copies(
        needed=find_places(book.folder).copies,
        files=frozenset(each.sha256 for each in found),
        places=tuple(finder.make_place(each) for each in found),
    )


class _Finder:
    """Makes places from sightings; reads each entry and asks for each volume once."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._rechecks: tuple[PastRecheck, ...] = read_rechecks(book)
        self._entry = cache(book.entry)
        self._key = cache(_find_key)
        self._noted = _read_notes(book)

    def make_place(self, seen: Sighting) -> Place:
        entry = self._entry(seen.entry)
        whole = seen.path
        if not is_outside_job(seen.path):
            whole = (self._book.folder / seen.path).as_posix()
        volume = find_volume(whole)
        look = find_last_look(self._rechecks, seen.path)
        if look is not None and look.entry.seq < seen.entry:
            look = None
        state = look.state if look is not None else ""
        wrong = state if state in WRONG else ""
        good = look is not None and not state
        noted = self._noted.get((seen.sha256, seen.path), _Note())
        return Place(
            sha256=seen.sha256,
            bytes=seen.bytes,
            path=seen.path,
            volume=noted.volume or volume,
            key=noted.volume or self._key(str(PurePosixPath(whole).parent), volume),
            last_seen=_get_time(look.entry if look is not None and good else entry),
            verified=noted.reread and not wrong,
            wrong=wrong,
        )


@dataclass(frozen=True)
class _Note:
    """What entries say of a place: the id of its volume, and that it was read again there."""

    volume: str = ""
    reread: bool = False


def _read_notes(book: Book) -> dict[tuple[str, str], _Note]:
    """Return what entries say of places, by digest and path; nothing is read where none does."""
    notes: dict[tuple[str, str], _Note] = {}
    for entry in book.entries(Kind.FILES, Kind.SIGHTING):
        volume, reread = str(entry.values.get("volume", "")), entry.values.get("reread") is True
        if volume or reread:
            for row in decode(book.blob(entry.values["manifest"])):
                key = row["sha256"], row["path"]
                known = notes.get(key, _Note())
                notes[key] = _Note(volume or known.volume, reread or known.reread)
    return notes


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
