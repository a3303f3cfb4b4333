"""Opening the SQLite file of a book, and refusing what is none.

Imports sqlite3 and light modules only.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from pathlib import Path
from urllib.parse import quote

from ledger.errors import BookError, ForeignBookError, NewerBookError, NoBookError
from ledger.store.faults import NO_BOOK_REMEDY
from ledger.store.schema import APPLICATION_ID, BOOK_NAME, LAYOUT_VERSION, STORED_TABLES

DEFAULT_WAIT_S = 10.0


def find_book(start: Path) -> Path:
    """Return the book of the job that a folder or file belongs to: there or in a folder above.

    Raises:
        NoBookError: there is none.
    """
    here = start.absolute()
    for folder in (here, *here.parents):
        if os.path.isfile(folder / BOOK_NAME):
            return folder / BOOK_NAME
    raise NoBookError(
        "there is no book in this folder or above it",
        where=str(start),
        remedy="go to the job folder, name it with --job, or begin one with swathbook start",
    )


def place_book(path: Path) -> Path:
    """Return the absolute path of a book that is named by itself or by its folder."""
    whole = path.absolute()
    return whole / BOOK_NAME if os.path.isdir(whole) else whole


def open_for_reading(path: Path, wait_s: float = DEFAULT_WAIT_S) -> sqlite3.Connection:
    """Open a book without being able to change it.

    Raises:
        NoBookError: there is no such file.
        ForeignBookError: it is no book.
        NewerBookError: a later version made it.
        BookError: an interrupted write has to be undone, and the medium is read-only.
    """
    try:
        return _open(path, "ro", wait_s)
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode != sqlite3.SQLITE_READONLY_ROLLBACK:
            raise
    # A writer was killed half-way. Opening once for writing undoes its half, as SQLite would do
    # for the next writer.
    try:
        _open(path, "rw", wait_s).close()
        return _open(path, "ro", wait_s)
    except sqlite3.OperationalError as error:
        raise BookError(
            "an interrupted write has to be undone before the book can be read",
            found="read-only",
            where=str(path),
            remedy="copy the job folder to a drive that can be written to",
        ) from error


def open_for_writing(path: Path, wait_s: float = DEFAULT_WAIT_S) -> sqlite3.Connection:
    """Open a book for adding to it.

    The rollback journal is cut to nothing at each commit, and that is waited for: a journal that is
    unlinked instead may come back after a power cut and undo an entry that was acknowledged.

    Raises:
        NoBookError: there is no such file.
        ForeignBookError: it is no book.
        NewerBookError: a later version made it.
    """
    connection = _open(path, "rw", wait_s)
    set_durable(connection)
    return connection


def set_durable(connection: sqlite3.Connection) -> None:
    """Make every commit wait for the medium."""
    connection.execute("PRAGMA journal_mode = TRUNCATE")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA secure_delete = ON")


def close_alone(connection: sqlite3.Connection) -> None:
    """Close a connection that wrote, and leave the book as the only file."""
    with suppress(sqlite3.Error):  # an empty journal that stays does no harm
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()


def connect(path: Path, mode: str, wait_s: float) -> sqlite3.Connection:
    """Return a connection in autocommit: transactions are begun and ended by name.

    Args:
        path: absolute path.
        mode: `ro`, `rw` or `rwc`, as in an SQLite URI.
        wait_s: how long to wait for another program, seconds.
    """
    name = os.fsencode(path.as_posix())  # a folder's name may be no text
    address = "file://" + quote(name if name.startswith(b"/") else b"/" + name, safe="/:")
    return sqlite3.connect(f"{address}?mode={mode}", uri=True, timeout=wait_s, isolation_level=None)


def _open(path: Path, mode: str, wait_s: float) -> sqlite3.Connection:
    if not os.path.isfile(path):
        raise NoBookError("there is no book here", where=str(path))
    connection = connect(path, mode, wait_s)
    try:
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA temp_store = MEMORY")
        _require_ours(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def _require_ours(connection: sqlite3.Connection, path: Path) -> None:
    where = str(path)
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if application != APPLICATION_ID:
        raise ForeignBookError(
            "the file is no book of Swathbook", where=where, remedy=NO_BOOK_REMEDY
        )
    if version > LAYOUT_VERSION:
        raise NewerBookError(
            "the book was made by a later version",
            found=f"layout {version}",
            expected=f"up to {LAYOUT_VERSION}",
            where=where,
            remedy="update Swathbook",
        )
    tables = dict(
        connection.execute("SELECT name, sql FROM sqlite_master WHERE name IN ('journal', 'blobs')")
    )
    if tables != STORED_TABLES:
        raise ForeignBookError(
            "the file is no book of Swathbook: its tables are laid out otherwise",
            where=where,
            remedy=NO_BOOK_REMEDY,
        )
