"""SQLite's errors, said in ours: one line each, naming the book."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ledger.errors import BookError, BrokenBookError, BusyBookError, ForeignBookError
from ledger.store.holder import describe_holder

NO_BOOK_REMEDY = "look what lies there; a copy of the book may be on a drive or in a backup"

_PRIMARY_CODE = 0xFF  # an extended result code carries the primary one in its low byte
_BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


@contextmanager
def translate(path: Path) -> Iterator[None]:
    """Raise our errors for those of SQLite.

    Args:
        path: the book.

    Raises:
        BusyBookError: another program holds it.
        ForeignBookError: it is no SQLite file.
        BrokenBookError: its pages are damaged.
        BookError: the medium is read-only or full, or the system refused.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise make_book_error(error, path) from error


def make_book_error(error: sqlite3.Error, path: Path) -> BookError:
    """Return the error of ours that says what SQLite's says."""
    code = find_code(error)
    where = str(path)
    if code in _BUSY:
        return BusyBookError(
            "the book is held by another program",
            found=describe_holder(path.parent),
            where=where,
            remedy="let it finish or close it, then try again",
        )
    if code == sqlite3.SQLITE_NOTADB:
        return ForeignBookError(
            "the file is no book: it is no SQLite file", where=where, remedy=NO_BOOK_REMEDY
        )
    if code == sqlite3.SQLITE_CORRUPT:
        return BrokenBookError(
            "the file of the book is damaged",
            found=str(error),
            where=where,
            remedy="work on from the last good copy",
        )
    if code == sqlite3.SQLITE_READONLY:
        return BookError(
            "the book cannot be written to",
            found="read-only",
            where=where,
            remedy="copy the job folder to a drive that can be written to",
        )
    if code == sqlite3.SQLITE_FULL:
        return BookError(
            "there is no room left for the book", where=where, remedy="make room on its drive"
        )
    return BookError(
        "the book cannot be used",
        found=str(error),
        where=where,
        remedy="check the permissions of the file and its folder, and the drive",
    )


def is_damage(error: sqlite3.Error) -> bool:
    """Say whether the file is damaged, or no SQLite file."""
    return find_code(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def find_code(error: sqlite3.Error) -> int:
    """Return SQLite's primary result code; 0 where the error does not come from SQLite."""
    return int(getattr(error, "sqlite_errorcode", 0)) & _PRIMARY_CODE
