"""The derived tables, held against what the entries give, while the entries are read.

Two of the tables get a row for every entry, in the order of their keys: these are read beside the
entries, some hundred at a time, and nothing of them is made anew. The others hold the state after
all entries; they are made in temporary tables, from the entries that give them rows, and read side
by side in the end. Memory stays flat, and every stored row is read once.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from ledger.errors import ContractError, SwathbookError
from ledger.merkle import Node
from ledger.store import derive
from ledger.store.faults import find_code, is_damage
from ledger.store.pages import make_page
from ledger.store.schema import DERIVED_TABLES, DERIVED_VERSION

_AT_ONCE = 500
"""Rows that are compared in one go."""

Row = tuple[Any, ...]


class _Stream:
    """Stored rows in the order of their key, read once from the first to the last."""

    def __init__(self, connection: sqlite3.Connection, statement: str, *values: object) -> None:
        self._cursor = connection.execute(statement, values)

    def matches(self, rows: list[Row]) -> bool:
        """Say whether the next stored rows are these; there is one at least."""
        return self._read(len(rows)) == rows

    def has_ended(self) -> bool:
        """Say whether no stored row is left."""
        return self._read(1) == []

    def __iter__(self) -> Iterator[list[Row]]:
        while rows := self._read(_AT_ONCE):
            yield rows

    def _read(self, count: int) -> list[Row] | None:
        """Return the next rows; None where one holds text that is none."""
        try:
            return self._cursor.fetchmany(count)
        except sqlite3.OperationalError as error:
            if find_code(error):
                raise
            return None


class Comparison:
    """What a check of the book holds the derived tables against."""

    def __init__(self, connection: sqlite3.Connection, withheld: Mapping[str, int]) -> None:
        """Begin before the first entry.

        Args:
            connection: inside a transaction that will be undone.
            withheld: digests of withheld blobs, with the entry that says so.
        """
        self._connection = connection
        self._fault = ""
        self._differing: set[str] = set()
        self._is_settled = False
        self._seq = self._nodes = 0
        self._entries: list[Row] = []
        self._levels: defaultdict[int, list[Row]] = defaultdict(list)
        self._streams: dict[int, _Stream] = {}
        with self._guarding():
            if not derive.is_current(connection):
                self._differing.add("derived")
                return
            derive.lay_out_standing(connection, withheld)
            self._stored_entries = _Stream(
                connection, "SELECT seq, kind FROM main.entries ORDER BY seq"
            )

    def add(
        self,
        parts: Mapping[str, Any],
        nodes: Iterable[Node],
        contents: Mapping[str, bytes],
    ) -> None:
        """Take up the next entry.

        Args:
            parts: what stands in its body.
            nodes: the nodes of the tree that became complete by it.
            contents: contents of blobs that came with it, by digest, as far as they are at hand.
        """
        if self._is_settled:
            return
        self._entries.append((parts["seq"], parts["kind"]))
        for node in nodes:
            self._levels[node[0]].append(node)
        if derive.has_standing(parts):
            with self._guarding():
                page = make_page(parts, b"")
                derive.add_standing(self._connection, page, contents)
        if len(self._entries) >= _AT_ONCE:
            with self._guarding():
                self._compare_running()

    def finish(self) -> str:
        """Return the first derived table that differs, or why they cannot be compared.

        Empty where every stored row is what the entries give, and none is missing.
        """
        for compare in (self._compare_running, self._end_running, self._compare_standing):
            if not self._is_settled:
                with self._guarding():
                    compare()
        return self._fault or next((name for name in DERIVED_TABLES if name in self._differing), "")

    @contextmanager
    def _guarding(self) -> Iterator[None]:
        """Keep what is wrong with the tables, or with laying an entry out, as what was found."""
        try:
            yield
        except SwathbookError as error:  # an entry that this version cannot lay out
            self._fault = str(error) if isinstance(error, ContractError) else error.faults[0].what
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise
            self._fault = f"derived ({error})"
        self._is_settled = bool(self._fault or self._differing)

    def _compare_running(self) -> None:
        """Compare the rows of entries and nodes that have come together."""
        self._seq += len(self._entries)
        self._hold("entries", self._stored_entries, self._entries)
        for level, rows in self._levels.items():
            self._nodes += len(rows)
            self._hold("nodes", self._get_stream(level), rows)

    def _hold(self, name: str, stream: _Stream, rows: list[Row]) -> None:
        if rows and not stream.matches(rows):
            self._differing.add(name)
        rows.clear()

    def _get_stream(self, level: int) -> _Stream:
        if level not in self._streams:
            self._streams[level] = _Stream(
                self._connection,
                "SELECT level, number, hash FROM main.nodes WHERE level = ? ORDER BY number",
                level,
            )
        return self._streams[level]

    def _end_running(self) -> None:
        """Look for rows beyond those that entries give."""
        if not self._stored_entries.has_ended():
            self._differing.add("entries")
        (stored,) = self._connection.execute("SELECT count(*) FROM main.nodes").fetchone()
        if stored != self._nodes:
            self._differing.add("nodes")
        states = self._connection.execute("SELECT * FROM main.derived").fetchall()
        if states != [(DERIVED_VERSION, self._seq)]:
            self._differing.add("derived")

    def _compare_standing(self) -> None:
        for name in derive.STANDING_TABLES:
            stored, made = (
                _Stream(self._connection, _list_rows(self._connection, schema, name))
                for schema in ("main", "temp")
            )
            if not (all(map(stored.matches, made)) and stored.has_ended()):
                self._differing.add(name)


def _list_rows(connection: sqlite3.Connection, schema: str, name: str) -> str:
    """Return the SQL of all rows of a table in the order of its key."""
    keys = connection.execute("SELECT name FROM pragma_table_info(?) WHERE pk ORDER BY pk", (name,))
    order = ", ".join(key for (key,) in keys)
    return f"SELECT * FROM {schema}.{name} ORDER BY {order}"  # noqa: S608 - fixed names
