"""What many books hold, in one small database: found in one query instead of opening every book.

Invariants:

- The index is a help and no record. It is made from books alone and may be deleted at any time.
- A book is read again only when it is not as it was read last: its size, time and root are kept.
- What is behind a delivery is worked out when a book is read, so that a recall is one query.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from ledger.canonical import decode
from ledger.find.parts import Findable, list_findable
from ledger.jobfolder import read_names
from ledger.lineage import Ancestry
from ledger.model.entry import Entry, Kind
from ledger.model.process import Process
from ledger.store.reading import BOOK_NAME, Book

_VERSION = 1
_WAIT_S = 30
_DIGEST = re.compile(r"[0-9a-f]{64}")
_TABLES = {
    "jobs": "job INTEGER PRIMARY KEY, folder TEXT UNIQUE, size INTEGER, mtime INTEGER, root BLOB,"
    " name TEXT",
    "records": "job INTEGER, kind TEXT, id TEXT, entry INTEGER, time TEXT, by TEXT, next TEXT,"
    " parts TEXT, text TEXT",
    "digests": "job INTEGER, digest TEXT, kind TEXT, id TEXT",
    "behind": "job INTEGER, deliverable TEXT, folder TEXT, key TEXT",
    "sent": "job INTEGER, id TEXT, deliverable TEXT, recipient TEXT, revision TEXT, time TEXT,"
    " replaced_by TEXT",
}
_INDEXES = {
    "records_of": "records (job)",
    "digests_as": "digests (digest)",
    "digests_of": "digests (job, kind, id)",
    "behind_key": "behind (key, job)",
    "behind_of": "behind (job)",
    "sent_of": "sent (job, deliverable)",
}


class JobIndex:
    """An open index; a context manager."""

    def __init__(self, path: Path | None) -> None:
        """Open or make an index.

        Args:
            path: its file; None for one in memory. A file that is no index of this version is
                made anew.
        """
        self._path = path
        self._connection = _open(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._connection.close()

    def is_current(self, folder: Path) -> bool:
        """Say whether the book of a job has the size and time with which it was read last.

        Raises:
            OSError: the book is not there.
        """
        found = (folder / BOOK_NAME).stat()
        row = self._connection.execute(
            "SELECT size, mtime FROM jobs WHERE folder = ?", (str(folder),)
        ).fetchone()
        return bool(row == (found.st_size, found.st_mtime_ns))

    def knows(self, folder: Path) -> bool:
        """Say whether a job was ever read."""
        statement = "SELECT 1 FROM jobs WHERE folder = ?"
        return self._connection.execute(statement, (str(folder),)).fetchone() is not None

    def read(self, book: Book) -> None:
        """Take in a book, in place of what was known of it."""
        found = book.path.stat()
        folder, root = str(book.folder), book.root
        row = self._connection.execute(
            "SELECT job, root FROM jobs WHERE folder = ?", (folder,)
        ).fetchone()
        with self._connection:
            if row is not None and row[1] == root:
                self._connection.execute(
                    "UPDATE jobs SET size = ?, mtime = ? WHERE job = ?",
                    (found.st_size, found.st_mtime_ns, row[0]),
                )
                return
            if row is not None:
                self._forget(row[0])
            job = self._connection.execute(
                "INSERT INTO jobs (folder, size, mtime, root, name) VALUES (?, ?, ?, ?, ?)",
                (folder, found.st_size, found.st_mtime_ns, root, _name(book)),
            ).lastrowid
            self._fill(int(job or 0), book)

    def _forget(self, job: int) -> None:
        for table in _TABLES:
            self._connection.execute(f"DELETE FROM {table} WHERE job = ?", (job,))  # noqa: S608 - fixed names

    def _fill(self, job: int, book: Book) -> None:
        many = self._connection.executemany
        listed = tuple(list_findable(book))
        many(
            "INSERT INTO records VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (_make_record(job, each) for each in listed),
        )
        many(
            "INSERT INTO digests VALUES (?, ?, ?, ?)",
            ((job, digest, each.kind, each.id) for each in listed for digest in each.digests),
        )
        many("INSERT INTO behind VALUES (?, ?, ?, ?)", ((job, *row) for row in _list_behind(book)))
        many(
            "INSERT INTO sent VALUES (?, ?, ?, ?, ?, ?, ?)",
            ((job, *row) for row in _list_sent(book)),
        )

    def ask(self, statement: str, values: Iterable[object] = ()) -> Iterator[tuple[object, ...]]:
        """Yield the rows that a question gives."""
        yield from self._connection.execute(statement, tuple(values))


def _open(path: Path | None) -> sqlite3.Connection:
    if path is None:
        return _lay_out(sqlite3.connect(":memory:"))
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = sqlite3.connect(path, timeout=_WAIT_S)
    with suppress(sqlite3.DatabaseError):
        if connection.execute("PRAGMA user_version").fetchone()[0] == _VERSION:
            connection.execute("SELECT count(*) FROM jobs").fetchone()
            return connection
    connection.close()
    path.unlink(missing_ok=True)
    return _lay_out(sqlite3.connect(path, timeout=_WAIT_S))


def _lay_out(connection: sqlite3.Connection) -> sqlite3.Connection:
    connection.execute("PRAGMA synchronous = OFF")  # what is lost is read again from the books
    with connection:
        for name, columns in _TABLES.items():
            connection.execute(f"CREATE TABLE {name} ({columns})")
        for name, columns in _INDEXES.items():
            connection.execute(f"CREATE INDEX {name} ON {columns}")
        connection.execute(f"PRAGMA user_version = {_VERSION}")
    return connection


def _name(book: Book) -> str:
    names = read_names(book.folder) or {}
    return names.get("reference", "") or book.folder.name


def _make_record(job: int, each: Findable) -> tuple[object, ...]:
    texts = "\n".join(text.casefold() for _, text in each.parts)
    parts = json.dumps(each.parts, ensure_ascii=False)
    return (job, each.kind, each.id, each.entry, each.time, each.by, each.next, parts, texts)


def _list_behind(book: Book) -> Iterator[tuple[str, str, str]]:
    """Yield id and folder of each deliverable with everything behind it: ids and digests."""
    latest: dict[str, Entry] = {str(e.values["id"]): e for e in book.entries(Kind.AUDIT)}
    ancestry = Ancestry(book)
    for name, entry in latest.items():
        digests = {str(row["sha256"]) for row in decode(book.blob(str(entry.values["manifest"])))}
        makers: dict[str, Process] = {}
        for sha256 in digests:
            for line in ancestry.find_custody(sha256).lines:
                makers[line.processes[0].id] = line.processes[0]
        keys = {name, *digests}
        for process in ancestry.list_ancestors(makers.values()):
            keys |= _list_keys(process)
        keys |= _list_field_keys(book, keys)
        yield from ((name, str(entry.values["folder"]), key) for key in sorted(keys) if key)


def _list_keys(process: Process) -> set[str]:
    used = {part for item in process.inputs for part in (item.flight, item.sha256)}
    values = {str(known.value) for known in process.values.values()}
    return {process.id, *used, *filter(_DIGEST.fullmatch, values)}


def _list_field_keys(book: Book, keys: set[str]) -> set[str]:
    """Return the files of flights, their rigs, and the files that their cards name."""
    named: set[str] = set()
    found: set[str] = set()
    for card in book.cards("flight"):
        if card.id in keys:
            named |= {str(known.value) for known in card.values.values()}
            found |= {file.sha256 for file in book.files_of_flight(card.id)}
    for card in book.cards("rig"):
        if card.id in named or (card.name and card.name in named):
            found.add(card.id)
            named |= {str(known.value) for known in card.values.values()}
    return found | set(filter(_DIGEST.fullmatch, named))


def _list_sent(book: Book) -> Iterator[tuple[str, ...]]:
    entries = tuple(book.entries(Kind.TRANSMITTAL))
    replaced = {str(e.values["supersedes"]): str(e.values["id"]) for e in entries}
    for entry in entries:
        values = entry.values
        name = str(values["id"])
        yield (
            name,
            str(values["deliverable"]),
            str(values["to"]),
            str(values["revision"]),
            entry.time,
            replaced.get(name, ""),
        )
