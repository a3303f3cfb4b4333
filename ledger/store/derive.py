"""The derived tables, filled from journal and blobs.

Invariants:

- One function adds an entry to the derived tables. A writer calls it for each new entry in the
  transaction that stores it; a rebuild calls it for all of them. Both give equal tables.
- Rows made here depend on stored bytes alone: not on the clock, the computer or row ids.
- Table names are written without a schema: where temporary tables of these names exist, SQLite
  means those, which lets a reader rebuild them beside a book that it cannot write to.

Imports sqlite3 and light modules only: reading commands stand on it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from ledger.canonical import decode
from ledger.errors import BookError, BrokenBookError, ContractError, NewerBookError
from ledger.merkle import Frontier, Node, hash_leaf
from ledger.model.entry import Kind
from ledger.store import records, uses
from ledger.store.blobs import find_withheld, read_content
from ledger.store.pages import Page, read_page
from ledger.store.schema import DERIVED_INDEXES, DERIVED_TABLES, DERIVED_VERSION

ReadList = Callable[[str], Any]
_AddKind = Callable[[sqlite3.Connection, Page, ReadList], None]

_KNOWN_VERSION = 1
_KINDS: dict[str, _AddKind] = {
    Kind.FILES: uses.add_files,
    Kind.SIGHTING: uses.add_sighting,
    Kind.FLIGHT: records.add_card,
    Kind.RIG: records.add_card,
    Kind.STATEMENT: records.add_card,
    Kind.POINTS: records.add_card,
    Kind.RUN: records.add_process,
    Kind.STEP: records.add_process,
    Kind.DECISION: records.add_decision,
    Kind.AMENDMENT: records.add_amendment,
    Kind.AUDIT: uses.add_audit,
    Kind.ACCEPTANCE: records.add_acceptance,
    Kind.WITHHOLD: records.add_withhold,
}
# Kinds without a table of their own; their layout must be known all the same.
_PLAIN_KINDS = (
    Kind.JOB,
    Kind.SPECIFICATION,
    Kind.SETTINGS_MAP,
    Kind.RECHECK,
    Kind.FOREIGN,
    Kind.DELIVERABLE,
    Kind.SEAL,
    Kind.TRANSMITTAL,
    Kind.DELETION,
    Kind.SUPPORT,
    Kind.REPEAT,
    Kind.TIMESTAMP,
)

# What a handler meets when the values of an entry are not laid out as their kind says.
_MISFITS = (
    KeyError,
    TypeError,
    ValueError,
    AttributeError,
    sqlite3.IntegrityError,
    sqlite3.InterfaceError,
    sqlite3.ProgrammingError,
    OverflowError,
)


def is_current(connection: sqlite3.Connection) -> bool:
    """Say whether the stored derived tables are whole, of this version, and up to date."""
    return read_state(connection) == (DERIVED_VERSION, count_entries(connection))


def read_state(connection: sqlite3.Connection) -> tuple[int, int]:
    """Return version and number of entries of the stored derived tables; zeros when not whole."""
    names = {row[0] for row in connection.execute("SELECT name FROM main.sqlite_master")}
    if not names.issuperset(DERIVED_TABLES):
        return 0, 0
    row = connection.execute("SELECT version, entries FROM main.derived").fetchone()
    return (0, 0) if row is None else (row[0], row[1])


def count_entries(connection: sqlite3.Connection) -> int:
    """Return the number of the last entry."""
    size: int = connection.execute("SELECT coalesce(max(seq), 0) FROM journal").fetchone()[0]
    return size


def rebuild(connection: sqlite3.Connection, schema: str = "main") -> Frontier:
    """Make the derived tables anew from journal and blobs; return the frontier of the tree.

    Args:
        connection: inside a transaction of the caller.
        schema: `main`, or `temp` beside a book that cannot be written to.

    Raises:
        BrokenBookError: an entry cannot be read, or a blob that it needs is missing.
    """
    drop(connection, schema)
    for name, columns in DERIVED_TABLES.items():
        connection.execute(f"CREATE TABLE {schema}.{name} {columns}")
    for name, columns in DERIVED_INDEXES.items():
        connection.execute(f"CREATE INDEX {schema}.{name} ON {columns}")
    connection.execute("INSERT INTO derived VALUES (?, 0)", (DERIVED_VERSION,))
    frontier = Frontier()
    # What is withheld later is missing from the start.
    connection.executemany(
        "INSERT INTO withheld VALUES (?, ?)", sorted(find_withheld(connection).items())
    )
    for seq, body, root in _read_rows(connection):
        try:
            nodes = frontier.append(hash_leaf(body))
            add_page(connection, read_page(seq, body, root), nodes)
        except ContractError as error:
            raise BrokenBookError(str(error), remedy="run swathbook recheck") from error
    return frontier


def drop(connection: sqlite3.Connection, schema: str = "main") -> None:
    """Remove the derived tables; nothing is lost by it."""
    for name in DERIVED_TABLES:
        connection.execute(f"DROP TABLE IF EXISTS {schema}.{name}")


def _read_rows(connection: sqlite3.Connection) -> Iterator[tuple[int, bytes, bytes]]:
    yield from connection.execute("SELECT seq, body, root FROM journal ORDER BY seq")


def add_page(connection: sqlite3.Connection, page: Page, nodes: Iterable[Node]) -> None:
    """Add one entry to the derived tables.

    Args:
        connection: inside a transaction of the caller; blobs of the entry are stored already.
        page: the entry, the next one after those added before.
        nodes: the nodes of the tree that became complete by it.

    Raises:
        ContractError: the values are not laid out as their kind says.
        NewerBookError: the kind is laid out in a later version.
    """
    entry = page.entry
    _add_common(connection, page, nodes)
    add_kind = _KINDS.get(entry.kind)
    if add_kind is None and entry.kind not in _PLAIN_KINDS:
        return  # a kind that a later version added: kept, and found by number
    if entry.version > _KNOWN_VERSION:
        raise NewerBookError(
            f"an entry of kind {entry.kind} was made by a later version",
            found=f"layout {entry.version}",
            expected=f"up to {_KNOWN_VERSION}",
            where=f"entry {entry.seq}",
            remedy="update Swathbook",
        )
    if add_kind is None:
        return
    try:
        add_kind(connection, page, _make_list_reader(connection))
    except _MISFITS as error:
        raise ContractError(
            f"the values of an entry do not fit its kind, {entry.kind}",
            found=f"{type(error).__name__}: {error}",
            where=f"entry {entry.seq}",
        ) from error


def _add_common(connection: sqlite3.Connection, page: Page, nodes: Iterable[Node]) -> None:
    """Add what every entry has: its place, kind and id, its tree nodes, its blobs."""
    entry = page.entry
    connection.executemany("INSERT INTO nodes VALUES (?, ?, ?)", nodes)
    connection.execute("INSERT INTO entries VALUES (?, ?)", (entry.seq, entry.kind))
    connection.executemany(
        "INSERT OR IGNORE INTO blob_digests VALUES (?, ?, ?, ?)",
        [(blob.sha256, blob.stored, blob.bytes, entry.seq) for blob in page.blobs],
    )
    given = records.split_id(entry.values)
    if given is not None:
        connection.execute("INSERT OR IGNORE INTO ids VALUES (?, ?, ?)", given)
    connection.execute("UPDATE derived SET entries = ?", (entry.seq,))


def _make_list_reader(connection: sqlite3.Connection) -> ReadList:
    def read_list(sha256: str) -> Any:  # noqa: ANN401 - a list or a mapping, as its kind says
        row = connection.execute(
            "SELECT entry FROM withheld WHERE sha256 = ?", (sha256,)
        ).fetchone()
        if row is not None:
            return []
        try:
            return decode(read_content(connection, sha256))
        except BrokenBookError:
            raise
        except BookError as error:
            raise ContractError("an entry names a list that did not come with it") from error

    return read_list


def find_difference(connection: sqlite3.Connection) -> str:
    """Return the name of a derived table that is not what a rebuild gives; empty for none.

    A rebuild is made in temporary tables and dropped again.
    """
    if not is_current(connection):
        return "derived"
    connection.execute("SAVEPOINT difference")
    try:
        rebuild(connection, "temp")
        return next((name for name in DERIVED_TABLES if _differs(connection, name)), "")
    finally:
        connection.execute("ROLLBACK TO difference")
        connection.execute("RELEASE difference")


def _differs(connection: sqlite3.Connection, name: str) -> bool:
    row = connection.execute(
        f"SELECT EXISTS (SELECT * FROM main.{name} EXCEPT SELECT * FROM temp.{name})"  # noqa: S608
        f" OR EXISTS (SELECT * FROM temp.{name} EXCEPT SELECT * FROM main.{name})"
    ).fetchone()
    return bool(row[0])
