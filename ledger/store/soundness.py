"""Is a book sound enough to grow?

Before every addition the last stored root is held against the tree: its frontier is read from
stored nodes, and the last bodies are hashed again. A change further back is found by a check of the
whole book.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from ledger.errors import BrokenBookError, ContractError
from ledger.merkle import EMPTY_ROOT, Frontier, hash_leaf
from ledger.model.ask import NoProgress
from ledger.store import derive
from ledger.store.checking import check_rows
from ledger.store.schema import DERIVED_VERSION

_TAIL_LEVEL = 4
"""Bodies after the last complete node of this level, at most 15, are hashed again."""


def require_sound(connection: sqlite3.Connection, path: Path) -> Frontier:
    """Return the tree of the book, held against its last root.

    Raises:
        BrokenBookError: the book is broken.
    """
    size = derive.count_entries(connection)
    version, known = derive.read_state(connection)
    if known > size:
        raise _make_broken_error(f"entries {size + 1} to {known} are missing", path)
    if (version, known) == (DERIVED_VERSION, size):
        frontier = _read_frontier(connection, size)
        if frontier is not None and frontier.root() == _read_last_root(connection):
            return frontier
    return _rebuild_if_unbroken(connection, path)


def _rebuild_if_unbroken(connection: sqlite3.Connection, path: Path) -> Frontier:
    """Rebuild derived tables that do not fit, if the book itself does."""
    state = check_rows(connection, NoProgress())
    if not state.unbroken:
        raise _make_broken_error(state.sentence, path)
    return derive.rebuild(connection)


def _make_broken_error(found: str, path: Path) -> BrokenBookError:
    return BrokenBookError(
        "the book is broken and nothing is added to it",
        found=found,
        where=str(path),
        remedy="run swathbook recheck, then work on from the last good copy",
    )


def _read_frontier(connection: sqlite3.Connection, size: int) -> Frontier | None:
    """Return the frontier from stored nodes and the last bodies; None when a node is missing."""

    def read_node(level: int, number: int) -> bytes:
        row = connection.execute(
            "SELECT hash FROM nodes WHERE level = ? AND number = ?", (level, number)
        ).fetchone()
        return b"" if row is None else row[0]

    settled = size >> _TAIL_LEVEL << _TAIL_LEVEL
    try:
        frontier = Frontier.from_nodes(settled, read_node)
    except ContractError:
        return None
    bodies = connection.execute("SELECT body FROM journal WHERE seq > ? ORDER BY seq", (settled,))
    for (body,) in bodies:
        if not isinstance(body, bytes):
            return None
        frontier.append(hash_leaf(body))
    return frontier


def _read_last_root(connection: sqlite3.Connection) -> bytes:
    row = connection.execute("SELECT root FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
    return EMPTY_ROOT if row is None else row[0]
