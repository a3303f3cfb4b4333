"""Opening a book for looking things up.

Invariants:

- Nothing is written to the book, so read-only media will do. Where its derived tables are missing
  or of another version, they are rebuilt in memory.
- No lock is held between two calls, nor between two entries of an iteration.

Imports sqlite3 and light modules only: no library for writing, points, coordinates or models.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

from ledger.errors import ContractError, SwathbookError
from ledger.merkle import EMPTY_ROOT
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.ask import Progress
from ledger.model.entry import Entry
from ledger.model.process import Card, CardKind, Process
from ledger.store import derive, lookups, seeking
from ledger.store.blobs import read_content
from ledger.store.checking import BookState, check_book
from ledger.store.connecting import find_book, open_for_reading, place_book
from ledger.store.faults import translate
from ledger.store.lookups import Sighting, Use
from ledger.store.pages import read_page
from ledger.store.schema import BOOK_NAME
from ledger.store.seeking import Follower, Owner

_ROWS_AT_A_TIME = 500
_NUMBERS_END = 2**63  # whole numbers of SQLite have 64 bits


class Book:
    """An open book.

    Use it as a context manager, or close it.

    Attributes:
        path: absolute path of the file.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        """Take over a connection; `open` makes one."""
        self.path = path
        self._connection = connection
        self._has_lookups = False

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open a book, named by its file or by the job folder.

        Raises:
            NoBookError: there is none.
            ForeignBookError: the file is no book.
            NewerBookError: a later version made it.
            BusyBookError: another program holds it.
        """
        place = place_book(path)
        with translate(place):
            return cls(place, open_for_reading(place))

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def folder(self) -> Path:
        """Return the job folder."""
        return self.path.parent

    # The journal.

    @property
    def size(self) -> int:
        """Return the number of entries."""
        with translate(self.path):
            return derive.count_entries(self._connection)

    @property
    def root(self) -> bytes:
        """Return the tree root stored with the last entry, 32 bytes."""
        rows = self._fetch("SELECT root FROM journal ORDER BY seq DESC LIMIT 1")
        return bytes(rows[0][0]) if rows else EMPTY_ROOT

    def root_at(self, size: int) -> bytes | None:
        """Return the root stored with an entry, 32 bytes; None when there is no such entry."""
        if not 0 < size < _NUMBERS_END:
            return None
        rows = self._fetch("SELECT root FROM journal WHERE seq = ?", size)
        return bytes(rows[0][0]) if rows else None

    def find_root(self, root: bytes) -> int | None:
        """Return the number of the entry with which a root was stored; None when none was."""
        rows = self._fetch("SELECT seq FROM journal WHERE root = ?", root)
        return int(rows[0][0]) if rows else None

    def entry(self, seq: int) -> Entry | None:
        """Return an entry by its number; None when there is none.

        Raises:
            BrokenBookError: its row holds no entry.
        """
        if not 0 < seq < _NUMBERS_END:
            return None
        rows = self._fetch("SELECT seq, body, root FROM journal WHERE seq = ?", seq)
        return read_page(*rows[0]).entry if rows else None

    def entries(self, *kinds: str, since: int = 1) -> Iterator[Entry]:
        """Yield entries in order.

        Args:
            kinds: only these kinds; all when none is named.
            since: number of the first entry to look at.

        Raises:
            BrokenBookError: a row holds no entry.
        """
        condition = ""
        if kinds:
            self._require_lookups()
            marks = ", ".join("?" * len(kinds))
            condition = f" AND seq IN (SELECT seq FROM entries WHERE kind IN ({marks}))"  # noqa: S608
        statement = (
            f"SELECT seq, body, root FROM journal WHERE seq >= ?{condition}"  # noqa: S608
            f" ORDER BY seq LIMIT {_ROWS_AT_A_TIME}"
        )
        while rows := self._fetch(statement, since, *(str(kind) for kind in kinds)):
            for row in rows:
                yield read_page(*row).entry
            since = rows[-1][0] + 1

    def bodies(self, since: int = 1) -> Iterator[bytes]:
        """Yield the stored bytes of entries in order: the leaves of the tree.

        Args:
            since: number of the first entry.
        """
        statement = (
            f"SELECT seq, body FROM journal WHERE seq >= ? ORDER BY seq LIMIT {_ROWS_AT_A_TIME}"  # noqa: S608
        )
        while rows := self._fetch(statement, since):
            yield from (bytes(body) for _, body in rows)
            since = rows[-1][0] + 1

    def body(self, seq: int) -> bytes:
        """Return the stored bytes of an entry.

        Raises:
            ContractError: there is no such entry.
        """
        rows = self._fetch("SELECT body FROM journal WHERE seq = ?", seq)
        if not rows:
            raise ContractError("the book has no such entry", found=str(seq))
        return bytes(rows[0][0])

    def last(self, kind: str) -> Entry | None:
        """Return the latest entry of a kind; None when there is none."""
        self._require_lookups()
        rows = self._fetch("SELECT max(seq) FROM entries WHERE kind = ?", str(kind))
        return None if rows[0][0] is None else self.entry(rows[0][0])

    def node(self, level: int, number: int) -> bytes:
        """Return a complete node of the tree, 32 bytes, for proofs.

        Raises:
            ContractError: the tree has no such complete node.
        """
        self._require_lookups()
        rows = self._fetch("SELECT hash FROM nodes WHERE level = ? AND number = ?", level, number)
        if not rows:
            raise ContractError("the tree has no such complete node", found=f"{level}, {number}")
        return bytes(rows[0][0])

    def blob(self, sha256: str) -> bytes:
        """Return the content of a blob.

        Raises:
            BookError: no entry names it, or it was withheld.
            BrokenBookError: it is missing, or not what was stored.
        """
        self._require_lookups()
        with translate(self.path):
            return read_content(self._connection, sha256)

    def check(self, progress: Progress) -> BookState:
        """Read every row and hold it against the tree; see `ledger.store.checking`.

        Where derived tables do not fit an unbroken book, this object answers from fresh ones
        afterwards.
        """
        with translate(self.path):
            state = check_book(self._connection, progress)
            if state.unbroken and state.derived_difference:
                with suppress(SwathbookError):  # what cannot be laid out is said when it is asked
                    self._make_lookups()
        return state

    # Runs, flights and files.

    def processes(self) -> tuple[Process, ...]:
        """Return all runs and steps, in order of entry."""
        with self._looking_up() as connection:
            return lookups.read_processes(connection)

    def process(self, name: str) -> Process | None:
        """Return a run or step by its id; None when there is none."""
        with self._looking_up() as connection:
            return lookups.read_process(connection, name)

    def cards(self, kind: CardKind) -> tuple[Card, ...]:
        """Return all flights, rigs, statements or tables of points, in order of their ids."""
        with self._looking_up() as connection:
            return lookups.read_cards(connection, "kind", kind)

    def card(self, name: str) -> Card | None:
        """Return a flight, rig, statement or table of points by its id; None when there is none."""
        with self._looking_up() as connection:
            found = lookups.read_cards(connection, "id", name)
        return found[0] if found else None

    def uses(self, sha256: str) -> tuple[Use, ...]:
        """Return every use of some bytes, in order of entry."""
        with self._looking_up() as connection:
            return lookups.read_uses(connection, sha256)

    def makers(self, digests: Sequence[str]) -> dict[str, dict[str, str]]:
        """Return, by digest, which runs and steps made some bytes, each with the path it wrote."""
        with self._looking_up() as connection:
            return lookups.read_makers(connection, digests)

    def fingerprints(self, digests: Sequence[str]) -> dict[str, FingerprintValue | None]:
        """Return the latest point fingerprints of some bytes, by digest; None for none."""
        with self._looking_up() as connection:
            return lookups.read_fingerprints(connection, digests)

    def files_of_flight(self, flight: str) -> tuple[FileRecord, ...]:
        """Return the files registered with a flight, in order of entry."""
        with self._looking_up() as connection:
            return lookups.read_files_of_flight(connection, flight)

    def files_last_seen(self, role: str = "") -> tuple[FileRecord, ...]:
        """Return the latest record of every path in the book, of one role or all, by path."""
        with self._looking_up() as connection:
            return lookups.read_files_last_seen(connection, role)

    def file_at(self, path: str) -> FileRecord | None:
        """Return the latest record of a path as the book stores it; None when there is none."""
        with self._looking_up() as connection:
            return seeking.read_file_at(connection, path)

    def paths_named(self, name: str) -> tuple[str, ...]:
        """Return the recorded paths below some folder that end in a file's name."""
        with self._looking_up() as connection:
            return seeking.read_paths_named(connection, name)

    def owners_below(self, folder: str) -> tuple[Owner, ...]:
        """Return what the files recorded below a folder belong to."""
        with self._looking_up() as connection:
            return seeking.read_owners_below(connection, folder)

    def digests(self, prefix: str) -> tuple[str, ...]:
        """Return the digests of recorded files that begin with some lower-case hex digits."""
        with self._looking_up() as connection:
            return seeking.read_digests(connection, prefix)

    def namers(self, text: str) -> tuple[tuple[str, str], ...]:
        """Return the ids and fields of runs, steps, flights and rigs whose value is this text."""
        with self._looking_up() as connection:
            return seeking.read_namers(connection, text)

    def registrations(self, flight: str) -> tuple[Use, ...]:
        """Return the files registered with a flight, each with its entry."""
        with self._looking_up() as connection:
            return lookups.read_registrations(connection, flight)

    def followers(self, sha256: str) -> tuple[Follower, ...]:
        """Return the audits and processes that have a file with these bytes or these points."""
        with self._looking_up() as connection:
            return seeking.read_followers(connection, sha256)

    def followers_of_outputs(self, process: str) -> tuple[Follower, ...]:
        """Return the audits and processes that have an output of a run or step."""
        with self._looking_up() as connection:
            return seeking.read_followers_of_outputs(connection, process)

    def digests_used_as(self, *relations: str) -> frozenset[str]:
        """Return the digests of files that have a use of one of these relations."""
        with self._looking_up() as connection:
            return lookups.read_digests_used_as(connection, relations)

    def sizes_used_as(self, *relations: str) -> frozenset[int]:
        """Return the sizes in bytes of files that have a use of one of these relations."""
        with self._looking_up() as connection:
            return lookups.read_sizes_used_as(connection, relations)

    def raw_sightings(self) -> tuple[Sighting, ...]:
        """Return where the bytes of registered files were seen, sorted by path."""
        with self._looking_up() as connection:
            return lookups.read_raw_sightings(connection)

    def find_outputs(
        self, level: Literal["full", "geometry"], value: str
    ) -> tuple[tuple[Process, Output], ...]:
        """Return the outputs whose points have this fingerprint, with what made them."""
        with self._looking_up() as connection:
            return lookups.read_outputs(connection, level, value)

    def fingerprint(self, sha256: str) -> FingerprintValue | None:
        """Return the point fingerprint last stored for some bytes; None when there is none."""
        with self._looking_up() as connection:
            return lookups.read_fingerprint(connection, sha256)

    def acceptances(self) -> Mapping[str, Entry]:
        """Return the latest acceptance of every accepted finding, by the id of the finding."""
        with self._looking_up() as connection:
            numbers = lookups.read_acceptances(connection)
        found = {finding: self.entry(number) for finding, number in numbers.items()}
        return {finding: entry for finding, entry in found.items() if entry is not None}

    # Inside.

    def _fetch(self, statement: str, *values: object) -> list[tuple[Any, ...]]:
        with translate(self.path):
            return self._connection.execute(statement, values).fetchall()

    @contextmanager
    def _looking_up(self) -> Iterator[sqlite3.Connection]:
        """Give the connection for questions that are answered as of one instant."""
        self._require_lookups()
        with translate(self.path):
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            finally:
                self._connection.rollback()

    def _require_lookups(self) -> None:
        """Make sure, once, that the derived tables can be used."""
        if self._has_lookups:
            return
        with translate(self.path):
            if not derive.is_current(self._connection):
                self._make_lookups()
        self._has_lookups = True

    def _make_lookups(self) -> None:
        """Rebuild the derived tables in memory."""
        self._connection.execute("BEGIN")
        try:
            derive.rebuild(self._connection, "temp")
        except BaseException:
            self._connection.rollback()
            raise
        self._connection.execute("COMMIT")


__all__ = ["BOOK_NAME", "Book", "BookState", "Use", "find_book"]
