"""Which files in the folder of outputs no run or step explains: one rule for whoever asks.

A file is explained when a recorded run or step made its bytes, or somebody registered them as raw.
Point and raster files need that; other files go with a run, and alone they wait for nothing.

Told from names, sizes and times alone, without reading a file: a file is taken for the one that the
book saw under its path while both are the same. Where only the time differs, it is said so; that
finds work and is no evidence. `record` reads what is left here, and `recheck` reads everything.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.jobfolder import leave_out_book
from ledger.model.artefact import POINT_SUFFIXES, RASTER_SUFFIXES, FileRecord
from ledger.model.filename import make_book_path
from ledger.signs import looks_like_las
from ledger.store.reading import Book
from ledger.walk import list_files

# Hidden files, and what office programs leave beside an open document.
_NOT_OUTPUTS = (".", "~$")
_EXPLAINING = ("output", "registered")


@dataclass(frozen=True)
class FoundOutput:
    """One file in the folder of outputs.

    Args:
        path: absolute path.
        name: the path as the book writes it.
    """

    path: Path
    name: str


@dataclass(frozen=True)
class Outputs:
    """The files of a folder of outputs.

    Args:
        explained: as the book saw them, and explained.
        touched: explained, of the same size, with another time: their bytes may be others.
        waiting: point and raster files that no run or step explains.
        beside: other files that none explains.
    """

    explained: tuple[FoundOutput, ...] = ()
    touched: tuple[FoundOutput, ...] = ()
    waiting: tuple[FoundOutput, ...] = ()
    beside: tuple[FoundOutput, ...] = ()


def sort_outputs(book: Book, folder: Path) -> Outputs:
    """Sort the files at and below a folder.

    Args:
        book: an open book.
        folder: the folder of outputs; it may be absent.

    Raises:
        UnreadableFileError: a folder in it cannot be listed.
    """
    if not os.path.isdir(folder):
        return Outputs()
    seen = {record.path: record for record in book.files_last_seen()}
    known = find_explained(book)
    by_kind: dict[str, list[FoundOutput]] = {}
    for path in list_outputs([folder], book.folder):
        found = FoundOutput(path, make_book_path(path, book.folder)[0])
        record = seen.get(found.name)
        if record is not None and record.sha256 in known and is_of_size(path, record):
            kind = "explained" if is_untouched(path, record) else "touched"
        else:
            kind = "waiting" if needs_run(path) else "beside"
        by_kind.setdefault(kind, []).append(found)
    return Outputs(**{kind: tuple(listed) for kind, listed in by_kind.items()})


def list_outputs(paths: Iterable[Path], job: Path) -> list[Path]:
    """Return the files named, or in folders named, that can be outputs at all.

    Raises:
        UnreadableFileError: a path does not exist, or a folder cannot be listed.
    """
    found = leave_out_book(list_files(paths), job)
    return [path for path in found if not path.name.startswith(_NOT_OUTPUTS)]


def find_explained(book: Book) -> frozenset[str]:
    """Return the digests of what a recorded run or step made, or somebody registered."""
    return book.digests_used_as(*_EXPLAINING)


def find_explained_sizes(book: Book) -> frozenset[int]:
    """Return the sizes in bytes that explained files have: no file of another size is one."""
    return book.sizes_used_as(*_EXPLAINING)


def needs_run(path: Path) -> bool:
    """Say whether a file holds points, or is a raster: some run has to have made it."""
    return path.suffix.lower() in RASTER_SUFFIXES or holds_points(path)


def holds_points(path: Path) -> bool:
    """Say whether a file is, or should be, a LAS or LAZ file; one that cannot be opened is none."""
    if path.suffix.lower() in POINT_SUFFIXES:
        return True
    try:
        return os.path.isfile(path) and looks_like_las(_read_start(path))
    except OSError:
        return False


def _read_start(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(4)


def is_of_size(path: Path, record: FileRecord) -> bool:
    """Say whether a file has the size that was noted."""
    try:
        return path.stat().st_size == record.bytes
    except (OSError, ValueError):
        return False


def is_untouched(path: Path, record: FileRecord) -> bool:
    """Say whether a file has the size and the modification time that were noted."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return False
    return (found.st_size, found.st_mtime_ns) == (record.bytes, record.mtime_ns)
