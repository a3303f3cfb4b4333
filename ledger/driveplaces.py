"""Places on drives that the book knows by themselves: one file under one drive's own root.

Entries that name the volume of their files (`volume`, and `root`, where it was connected then) tell
more than a path does: two drives may have had one letter, and one drive several. So a place is a
drive, a path below its root, and the bytes that were last seen there; letter or mount point is only
where it was last.

Light: reads entries and their lists, no file.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from ledger.canonical import decode
from ledger.dataclass import dataclass
from ledger.drives import find_roots
from ledger.model.artefact import FileRecord
from ledger.model.entry import Entry, Kind
from ledger.store.mapping import file_from_values
from ledger.store.reading import Book
from ledger.volumes import find_volume, is_lasting, is_outside_job


@dataclass(frozen=True)
class DrivePlace:
    """One place on a drive.

    Args:
        file: the file as it was last seen there.
        volume: id of the drive; empty where what the system said of it does not last.
        root: where the drive was connected then; empty inside the job folder.
        entry: the latest entry that saw these bytes there.
        reread: an entry says that they were read again from the medium after they were copied.
        is_source: copies were made from here: a card, as long as it is no copy itself.
    """

    file: FileRecord
    volume: str
    root: str
    entry: int
    reread: bool
    is_source: bool

    @property
    def inside(self) -> str:
        """Return the path below the root of the drive, with `/`."""
        return self.file.path.removeprefix(self.root).lstrip("/")

    @property
    def is_card(self) -> bool:
        """Say whether files were read from here to be copied, and never copied to it."""
        return self.is_source and not self.reread

    def locate(self, root: Path) -> Path:
        """Return the place while the drive is connected at a folder."""
        if not self.file.path_bytes:
            return Path(root, *self.inside.split("/"))
        raw = bytes.fromhex(self.file.path_bytes).removeprefix(os.fsencode(self.root))
        return root / os.fsdecode(raw.lstrip(b"/"))


def read_drive_places(book: Book) -> tuple[DrivePlace, ...]:
    """Return the places of which entries tell more than a path, sorted by path.

    A place where other bytes were seen since is left out.

    Raises:
        BookError: a list is not in the book.
    """
    found: dict[tuple[str, str], DrivePlace] = {}
    for place in list_drive_places(book):
        key = place.volume, place.inside if place.volume else place.file.path
        known = found.get(key)
        if known is not None and known.file.sha256 == place.file.sha256:
            place = replace(  # noqa: PLW2901 - one place, told by several entries
                place,
                reread=place.reread or known.reread,
                is_source=place.is_source or known.is_source,
            )
        found[key] = place
    return tuple(sorted(found.values(), key=lambda place: (place.file.path, place.volume)))


def list_drive_places(book: Book) -> Iterator[DrivePlace]:
    """Yield a place for each file of each entry that tells more of it than a path, in order.

    Raises:
        BookError: a list is not in the book.
    """
    for entry in book.entries(Kind.FILES, Kind.SIGHTING):
        values = entry.values
        if any(values.get(key) for key in ("volume", "reread", "copied_from")):
            for row in decode(book.blob(values["manifest"])):
                yield _make_place(entry, row)


def _make_place(entry: Entry, row: Mapping[str, Any]) -> DrivePlace:
    file, values = file_from_values(row), entry.values
    volume, root = str(values.get("volume", "")), ""
    if is_outside_job(file.path):
        root = str(values.get("root", "")) or find_volume(file.path)
    return DrivePlace(
        file=file,
        volume=volume if is_lasting(volume) else "",
        root=root,
        entry=entry.seq,
        reread=values.get("reread") is True,
        is_source=values.get("copied_from") is True and bool(root),
    )


class DriveFinder:
    """Finds places on drives as they are connected now; the system is asked once for each drive."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._roots: dict[str, tuple[Path, ...]] = {}

    def find(self, place: DrivePlace) -> tuple[Path, Path] | None:
        """Return where a place lies now, and where its drive is connected.

        Returns:
            None where its drive is not connected. Of a drive that is connected twice the place
            that holds the file, where one does.
        """
        if place.volume not in self._roots:
            self._roots[place.volume] = find_roots(place.volume)
        known = Path(place.root)
        roots = sorted(self._roots[place.volume], key=lambda root: root != known)
        return _choose((place.locate(root), root) for root in roots)


def _choose(candidates: Iterable[tuple[Path, Path]]) -> tuple[Path, Path] | None:
    listed = list(candidates)
    there = (pair for pair in listed if os.path.lexists(pair[0]))
    return next(there, listed[0] if listed else None)
