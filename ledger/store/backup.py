"""A consistent copy of the book on another drive, while others may write to it.

Invariants:

- The copy holds whole entries only: it is made by SQLite's own backup, page by page under its lock.
- A book that lies there already is replaced only by one that goes on from it, entry for entry.
- Until the copy is whole and on its medium, the old one stays.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from ledger.copying import explain_failure
from ledger.errors import BookError
from ledger.store.connecting import open_for_reading
from ledger.store.faults import translate
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME
from ledger.wholefile import replacing


def copy_book(job: Path, folder: Path) -> Path:
    """Copy the book of a job into a folder of another drive.

    Args:
        job: the job folder.
        folder: the folder; made where needed.

    Returns:
        The path of the copy.

    Raises:
        BookError: another book lies there, or one that went on by itself.
        UnwritableFileError: the copy cannot be written.
    """
    target = folder / BOOK_NAME
    try:
        if target.exists():
            _require_beginning(job, target)
        with (
            replacing(target) as part,
            translate(job / BOOK_NAME),
            closing(open_for_reading(job / BOOK_NAME)) as source,
            closing(sqlite3.connect(part, isolation_level=None)) as copy,
        ):
            source.backup(copy)
    except (OSError, sqlite3.Error) as error:
        raise explain_failure(error, target, "the book") from error
    return target


def _require_beginning(job: Path, target: Path) -> None:
    """Refuse to replace a book that holds an entry that ours does not."""
    with Book.open(job) as ours, Book.open(target) as theirs:
        size = theirs.size
        entry = ours.entry(size)
        if size and (entry is None or entry.root != theirs.root):
            raise BookError(
                "another book, or one that went on by itself, lies there; it was left as it is",
                where=str(target),
                remedy="take its entries over with swathbook register --from-book",
            )
