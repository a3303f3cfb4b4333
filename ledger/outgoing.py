"""Where a file that a person names may be written: never over, or among, what the book answers for.

Invariants:

- Nothing is written into the raw folder, into an audited folder, or over a recorded file, whichever
  way the path leads there.
- A file that is there already is not written over.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from ledger.audited import list_audited_folders
from ledger.errors import UsageError
from ledger.jobfolder import find_places
from ledger.model.filename import find_path
from ledger.store.reading import Book


def require_new(book: Book, path: Path) -> None:
    """Refuse a file that must not be written, or that is there already.

    Raises:
        UsageError: it lies among raw or delivered files, or there is something of that name.
        BookError: the book cannot be read.
    """
    require_apart(book, path)
    if os.path.lexists(path):
        raise UsageError(
            "a file lies there already, and is not written over",
            where=str(path),
            remedy="name another one",
        )


def require_apart(book: Book, path: Path) -> None:
    """Refuse a file or folder among raw or delivered files, or in the place of a recorded file.

    Raises:
        UsageError: it lies there.
        BookError: the book cannot be read.
    """
    place = _write_out(path)
    for folder, what in _list_closed(book):
        if place.is_relative_to(_write_out(folder)):
            raise UsageError(
                f"nothing is written among the {what}",
                where=str(path),
                remedy="name another folder",
            )
    if any(
        place == _write_out(find_path(f.path, f.path_bytes, book.folder))
        for f in book.files_last_seen()
    ):
        raise UsageError(
            "the book has recorded this file, and it is not written over",
            where=str(path),
            remedy="name another one",
        )


def _list_closed(book: Book) -> Iterator[tuple[Path, str]]:
    """Yield the folders that nothing is written to, and what each holds."""
    yield find_places(book.folder).raw, "raw data"
    for audit in list_audited_folders(book):
        yield audit.place, "files of a delivery"


def _write_out(path: Path) -> Path:
    """Return a path with links followed, as this system compares names."""
    return Path(os.path.normcase(os.path.realpath(path)))
