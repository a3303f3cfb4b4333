"""Adding entries to a book.

Invariants:

- Number, time and root of an entry are fixed inside one BEGIN IMMEDIATE, together with its blobs
  and derived rows: either all of it is stored, or nothing.
- Nothing is added to a book that is broken at its end: the last stored root has to be the root of
  the tree, recomputed from stored nodes and the last bodies.
- No lock is held while anything is compressed, hashed or asked.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from ledger.dataclass import dataclass
from ledger.errors import BookError, ContractError, SwathbookError
from ledger.merkle import Frontier, hash_leaf
from ledger.model.entry import Draft, Entry, Kind
from ledger.store import derive, guards
from ledger.store.blobs import PackedBlob, pack
from ledger.store.connecting import (
    DEFAULT_WAIT_S,
    close_alone,
    connect,
    open_for_writing,
    place_book,
    set_durable,
)
from ledger.store.entered import note_stored
from ledger.store.faults import translate
from ledger.store.holder import leave_note
from ledger.store.machine import read_machine_id
from ledger.store.pages import Stamp, make_body, read_page
from ledger.store.reading import Book
from ledger.store.records import find_next_id
from ledger.store.schema import (
    APPLICATION_ID,
    BOOK_NAME,
    LAYOUT_VERSION,
    STORED_TABLES,
    TRIGGERS,
)
from ledger.store.soundness import require_sound

Clock = Callable[[], datetime]


def read_clock() -> datetime:
    """Return the time now, UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Addition:
    """A draft with what comes with it.

    Args:
        draft: the entry.
        blobs: contents to keep with it.
        id_prefix: `R` to have the next id of runs put into `values["id"]`; empty for none.
    """

    draft: Draft
    blobs: tuple[bytes, ...] = ()
    id_prefix: str = ""


class BookWriter(Book):
    """An open book that can grow."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        """Take over a connection; `open` makes one."""
        super().__init__(path, connection)
        self._clock: Clock = read_clock
        self._machine = ""
        self._rows: list[tuple[int, bytes, bytes]] = []

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        wait_s: float = DEFAULT_WAIT_S,
        clock: Clock = read_clock,
        machine: str = "",
    ) -> Self:
        """Open a book for adding to it, named by its file or by the job folder.

        Args:
            path: the book or its folder.
            wait_s: how long to wait for another writer, seconds.
            clock: gives the time of an entry.
            machine: short id of the computer; empty for that of this one.

        Raises:
            NoBookError: there is none.
            ForeignBookError: the file is no book.
            NewerBookError: a later version made it.
            BusyBookError: another program holds it.
        """
        place = place_book(path)
        with translate(place):
            writer = cls(place, open_for_writing(place, wait_s))
        writer._clock = clock
        writer._machine = machine
        return writer

    def close(self) -> None:
        """Close the file; the book is the only one that stays."""
        close_alone(self._connection)

    def append(self, draft: Draft, blobs: Iterable[bytes] = (), id_prefix: str = "") -> Entry:
        """Add an entry; when this returns, it is on the medium.

        Args:
            draft: the entry.
            blobs: contents to keep with it; the same content is kept once.
            id_prefix: `R` to have the next id of runs put into `values["id"]`; empty for none.

        Raises:
            ContractError: the values cannot be stored, or do not fit their kind.
            BusyBookError: another program holds the book.
            BrokenBookError: the book is broken; nothing is added to it.
        """
        return self.append_all([Addition(draft, tuple(blobs), id_prefix)])[0]

    def append_all(self, additions: Iterable[Addition]) -> tuple[Entry, ...]:
        """Add several entries, all of them or none; see `append`."""
        packed = [
            (item, tuple(pack(blob) for blob in dict.fromkeys(item.blobs))) for item in additions
        ]
        for item, _ in packed:
            if item.draft.kind == Kind.WITHHOLD:
                raise ContractError("a blob is withheld by BookWriter.withhold alone")
        with self._noting() as stored, self._adding() as frontier:
            stored.extend(self._add(item, blobs, frontier) for item, blobs in packed)
        return tuple(stored)

    def withhold(self, sha256: str, reason: str, by: str = "technician") -> Entry:
        """Remove the content of a blob, by an entry that says so; the tree stays whole.

        Raises:
            BookError: the book does not hold it, or it was withheld before.
        """
        self.blob(sha256)
        draft = Draft(Kind.WITHHOLD, {"blob": sha256, "reason": reason}, by=by)
        with self._noting() as stored, self._adding() as frontier:
            stored.append(self._add(Addition(draft), (), frontier))
            self._store_rows()
            self._connection.execute("DELETE FROM blobs WHERE sha256 = ?", (sha256,))
            derive.rebuild(self._connection)
        return stored[0]

    def require_sound(self) -> None:
        """Refuse a book that nothing could be added to, before long work is done for it.

        Raises:
            BrokenBookError: the book is broken.
            BookError: it cannot be written to.
            BusyBookError: another program holds it.
        """
        with self._transaction():
            require_sound(self._connection, self.path)

    def rebuild(self) -> None:
        """Drop the derived tables and make them anew, and lay the triggers that are not right."""
        with self._transaction():
            guards.restore(self._connection)
            derive.rebuild(self._connection)

    # Inside.

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        machine = self._get_machine()
        with translate(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
        since = format_time(self._clock())
        try:
            # Errors are told while the note still lies there: it says that this process waits.
            with leave_note(self.folder, machine, since), translate(self.path):
                # On a read-only medium the transaction only reads; deleting nothing tells it now.
                self._connection.execute("DELETE FROM journal WHERE 0")
                yield
                self._connection.execute("COMMIT")
        except BaseException:
            self._connection.rollback()
            raise

    @contextmanager
    def _adding(self) -> Iterator[Frontier]:
        """Hold the book, sound at its end, and give the tree to grow."""
        with self._transaction():
            guards.restore(self._connection)
            self._rows.clear()
            yield require_sound(self._connection, self.path)
            self._store_rows()
        self._has_lookups = True

    @contextmanager
    def _noting(self) -> Iterator[list[Entry]]:
        """Note what was stored: for certain, or as the book is read where the end was refused.

        A system may refuse the last wait of a commit, and the entry is in the book all the same.
        """
        stored: list[Entry] = []
        try:
            yield stored
        except BaseException:
            note_stored(entry for entry in stored if self._is_held(entry))
            raise
        note_stored(stored)

    def _is_held(self, entry: Entry) -> bool:
        with suppress(SwathbookError, sqlite3.Error), Book.open(self.path) as book:
            return book.size >= entry.seq and book.root_at(entry.seq) == entry.root
        return False

    def _add(self, item: Addition, blobs: tuple[PackedBlob, ...], frontier: Frontier) -> Entry:
        draft, values = item.draft, dict(item.draft.values)
        if item.id_prefix:
            values["id"] = find_next_id(self._connection, item.id_prefix)
        stamp = Stamp(frontier.size + 1, format_time(self._clock()), self._get_machine())
        kept = tuple(self._keep_blob(blob) for blob in blobs)
        body = make_body(draft, values, stamp, (blob.digest for blob in kept))
        nodes = frontier.append(hash_leaf(body))
        page = read_page(stamp.seq, body, frontier.root())
        self._rows.append((stamp.seq, body, page.entry.root))
        derive.add_page(self._connection, page, nodes)
        return page.entry

    def _store_rows(self) -> None:
        """Store the rows of the journal, in one go: one by one costs more than all the rest."""
        statement = "INSERT INTO journal (seq, body, root) VALUES (?, ?, ?)"
        self._connection.executemany(statement, self._rows)
        self._rows.clear()

    def _keep_blob(self, blob: PackedBlob) -> PackedBlob:
        """Store a blob that the book does not know yet; return it as the book holds it."""
        known = self._connection.execute(
            "SELECT stored FROM blob_digests WHERE sha256 = ?", (blob.digest.sha256,)
        ).fetchone()
        if known is not None:  # compressed by another version of the library, or withheld since
            return blob.named_as(known[0])
        row = blob.digest.sha256, blob.stored
        self._connection.execute("INSERT INTO blobs (sha256, bytes) VALUES (?, ?)", row)
        return blob

    def _get_machine(self) -> str:
        self._machine = self._machine or read_machine_id()
        return self._machine

    def _make_lookups(self) -> None:
        self.rebuild()


def create_book(
    folder: Path,
    *,
    wait_s: float = DEFAULT_WAIT_S,
    clock: Clock = read_clock,
    machine: str = "",
) -> BookWriter:
    """Make an empty book in a folder.

    Args:
        folder: the job folder, which is there.
        wait_s: see `BookWriter.open`.
        clock: see `BookWriter.open`.
        machine: see `BookWriter.open`.

    Raises:
        BookError: there is a book already, or the folder cannot be written to.
    """
    path = folder.absolute() / BOOK_NAME
    if path.exists() and path.stat().st_size:
        raise BookError("there is a book here already", where=str(path))
    with translate(path):
        connection = connect(path, "rwc", wait_s)
        try:
            _lay_out(connection, path)
        finally:
            close_alone(connection)
    return BookWriter.open(path, wait_s=wait_s, clock=clock, machine=machine)


def format_time(moment: datetime) -> str:
    """Return a time in UTC, RFC 3339 with `Z`, whole seconds."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _lay_out(connection: sqlite3.Connection, path: Path) -> None:
    set_durable(connection)
    connection.execute("BEGIN IMMEDIATE")
    if connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise BookError("there is a book here already", where=str(path))
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {LAYOUT_VERSION}")
    for statement in (*STORED_TABLES.values(), *TRIGGERS.values()):
        connection.execute(statement)
    derive.rebuild(connection)
    connection.execute("COMMIT")
