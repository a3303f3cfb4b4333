"""The derived tables, filled from journal and blobs.

Invariants:

- One function adds an entry to the derived tables. A writer calls it for each new entry in the
  transaction that stores it; a rebuild calls it for all of them. Both give equal tables. A check of
  the book calls its larger half, and reads beside the entries what the other half writes.
- Rows made here depend on stored bytes alone: not on the clock, the computer or row ids.
- Table names are written without a schema: where temporary tables of these names exist, SQLite
  means those, which lets a reader rebuild them beside a book that it cannot write to.

Imports sqlite3 and light modules only: reading commands stand on it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from ledger.canonical import decode
from ledger.errors import BookError, BrokenBookError, ContractError, NewerBookError
from ledger.merkle import Frontier, Node, hash_leaf
from ledger.model.entry import Entry, Kind
from ledger.store import records, uses
from ledger.store.blobs import find_withheld, read_content
from ledger.store.layouts import find_misfit, has_layout
from ledger.store.pages import Page, read_page
from ledger.store.schema import DERIVED_INDEXES, DERIVED_TABLES, DERIVED_VERSION

ReadList = Callable[[str], Any]
_AddKind = Callable[[sqlite3.Connection, Page, ReadList], None]

_KNOWN_VERSION = 1
_NONE: Mapping[str, bytes] = {}
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

STANDING_TABLES = tuple(
    name for name in DERIVED_TABLES if name not in ("derived", "nodes", "entries")
)
"""Tables that hold the state after all entries; the others get a row for each entry."""

_LOOKED_UP = ("files_by_digest",)
"""Indexes by which the functions that add an entry look up earlier ones."""

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
    _lay_out(connection, schema, DERIVED_TABLES, DERIVED_INDEXES)
    connection.execute("INSERT INTO derived VALUES (?, 0)", (DERIVED_VERSION,))
    frontier = Frontier()
    _add_withheld(connection, find_withheld(connection))
    for seq, body, root in _read_rows(connection):
        try:
            nodes = frontier.append(hash_leaf(body))
            add_page(connection, read_page(seq, body, root), nodes)
        except ContractError as error:
            raise BrokenBookError(str(error), remedy="run swathbook recheck") from error
    return frontier


def lay_out_standing(connection: sqlite3.Connection, withheld: Mapping[str, int]) -> None:
    """Lay out the standing tables, empty, in temporary ones.

    Args:
        connection: inside a transaction of the caller.
        withheld: digests of withheld blobs, with the entry that says so.
    """
    drop(connection, "temp")
    _lay_out(connection, "temp", STANDING_TABLES, _LOOKED_UP)
    _add_withheld(connection, withheld)


def _lay_out(
    connection: sqlite3.Connection, schema: str, tables: Iterable[str], indexes: Iterable[str]
) -> None:
    for name in tables:
        connection.execute(f"CREATE TABLE {schema}.{name} {DERIVED_TABLES[name]}")
    for name in indexes:
        connection.execute(f"CREATE INDEX {schema}.{name} ON {DERIVED_INDEXES[name]}")


def _add_withheld(connection: sqlite3.Connection, withheld: Mapping[str, int]) -> None:
    """Note what is withheld by some entry: it is missing from the start."""
    connection.executemany("INSERT INTO withheld VALUES (?, ?)", sorted(withheld.items()))


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
    seq = page.entry.seq
    connection.executemany("INSERT INTO nodes VALUES (?, ?, ?)", nodes)
    connection.execute("INSERT INTO entries VALUES (?, ?)", (seq, page.entry.kind))
    add_standing(connection, page)
    connection.execute("UPDATE derived SET entries = ?", (seq,))


def has_standing(parts: Mapping[str, Any]) -> bool:
    """Say whether an entry is anything to the standing tables, by the parts of its body."""
    if parts["blobs"] or "id" in parts["values"] or parts["version"] > _KNOWN_VERSION:
        return True
    return parts["kind"] in _KINDS or has_layout(parts["kind"])


def add_standing(
    connection: sqlite3.Connection, page: Page, contents: Mapping[str, bytes] = _NONE
) -> None:
    """Add one entry to the standing tables.

    Args:
        connection: inside a transaction of the caller.
        page: the entry.
        contents: contents of its blobs that are at hand, by digest; others are read.

    Raises:
        ContractError: the values are not laid out as their kind says.
        NewerBookError: the kind is laid out in a later version.
    """
    entry = page.entry
    _add_names(connection, page)
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
    if misfit := find_misfit(entry.kind, entry.values):
        raise _refuse(entry, f"{misfit}: {entry.values[misfit]!r}"[:200])
    if add_kind is None:
        return
    try:
        add_kind(connection, page, _make_list_reader(connection, contents))
    except _MISFITS as error:
        raise _refuse(entry, f"{type(error).__name__}: {error}") from error


def _refuse(entry: Entry, found: str) -> ContractError:
    return ContractError(
        f"the values of an entry do not fit its kind, {entry.kind}",
        found=found,
        where=f"entry {entry.seq}",
    )


def _add_names(connection: sqlite3.Connection, page: Page) -> None:
    """Add what an entry of any kind may have: blobs, and an id."""
    entry = page.entry
    connection.executemany(
        "INSERT OR IGNORE INTO blob_digests VALUES (?, ?, ?, ?)",
        [(blob.sha256, blob.stored, blob.bytes, entry.seq) for blob in page.blobs],
    )
    given = records.split_id(entry.values)
    if given is not None:
        connection.execute("INSERT OR IGNORE INTO ids VALUES (?, ?, ?)", given)


def _make_list_reader(connection: sqlite3.Connection, contents: Mapping[str, bytes]) -> ReadList:
    def read_list(sha256: str) -> Any:  # noqa: ANN401 - a list or a mapping, as its kind says
        row = connection.execute(
            "SELECT entry FROM withheld WHERE sha256 = ?", (sha256,)
        ).fetchone()
        if row is not None:
            return []
        if sha256 in contents:
            return decode(contents[sha256])
        try:
            return decode(read_content(connection, sha256))
        except BrokenBookError:
            raise
        except BookError as error:
            raise ContractError("an entry names a list that did not come with it") from error

    return read_list
