"""Is the book unbroken? Reads every row once and compares it with the tree.

What is found: any change to a stored body, root, blob or number; rows that are missing, swapped or
added. What cannot be found here: entries cut off at the end together with all traces of them, and a
book rewritten from some entry on with new roots. Both show only against a root that was kept
elsewhere.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import suppress
from dataclasses import field, replace
from typing import Any

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.merkle import EMPTY_ROOT, Frontier, Node, hash_leaf
from ledger.model.ask import Progress
from ledger.model.phrases import agree, count_things
from ledger.store import derive, guards
from ledger.store.blobs import find_withheld, list_withheld, unpack
from ledger.store.comparing import Comparison
from ledger.store.faults import is_damage
from ledger.store.pages import BlobDigest, read_blobs, read_parts

_Take = Callable[[dict[str, Any], tuple[Node, ...], dict[str, bytes]], None]


@dataclass(frozen=True)
class BookState:
    """What a check of the book found.

    Args:
        unbroken: every stored row is what was entered.
        first_broken_entry: the first entry that is not; None when unbroken, or when what is wrong
            belongs to no entry.
        sentence: what was found, in one sentence.
        entries: number of entries that fit, from the first.
        root: tree root after those, 32 bytes.
        derived_difference: name of a derived table that does not fit the book, or of the triggers
            that do not, or why they cannot be compared; empty for none. The book itself is not
            broken by it: `BookWriter.rebuild` makes tables and triggers anew.
    """

    unbroken: bool
    first_broken_entry: int | None
    sentence: str
    entries: int
    root: bytes
    derived_difference: str = ""


class _Broken(Exception):  # noqa: N818 - never leaves this module
    """Something does not fit."""

    def __init__(self, entry: int | None, reason: str) -> None:
        super().__init__(reason)
        self.entry = entry
        self.reason = reason


@dataclass
class _Walk:
    """How far the check has come.

    Args:
        frontier: the tree over the bodies read so far.
        entries: entries that fit.
        root: root after those.
        blobs: digest of the stored bytes of every blob met, by its name; empty when withheld.
        namers: the first entry that names it, by the name of a blob.
        contents: contents of the blobs that the last entry was the first to name, by name.
        withheld: blobs that some entry withholds, once one was found missing.
    """

    frontier: Frontier = field(default_factory=Frontier)
    entries: int = 0
    root: bytes = EMPTY_ROOT
    blobs: dict[str, str] = field(default_factory=dict)
    namers: dict[str, int] = field(default_factory=dict)
    contents: dict[str, bytes] = field(default_factory=dict)
    withheld: dict[str, int] | None = None


def check_book(connection: sqlite3.Connection, progress: Progress) -> BookState:
    """Check every row of journal and blobs, and the derived tables beside them.

    Args:
        connection: outside a transaction; the book is read as it stands at one instant.
        progress: told of bytes.
    """
    connection.execute("BEGIN")
    try:
        comparison = Comparison(connection, _list_withheld(connection))
        state = check_rows(connection, progress, comparison.add)
        if not state.unbroken:
            return state
        return _compare_guards(connection, _add_difference(state, comparison.finish()))
    finally:
        connection.rollback()


def check_rows(
    connection: sqlite3.Connection, progress: Progress, take: _Take | None = None
) -> BookState:
    """Check every row of journal and blobs.

    Args:
        connection: inside a transaction.
        progress: told of bytes.
        take: is given every entry that fits: what stands in its body, the nodes of the tree that
            became complete by it, and contents of its blobs; None for nobody.
    """
    walk = _Walk()
    try:
        total = _start(connection, progress)
        done = _walk_rows(connection, walk, progress, take)
        progress.advance(total - done)
    except _Broken as broken:
        return _make_broken_state(walk, broken)
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
        return _make_broken_state(walk, _Broken(walk.entries + 1, f"the file is damaged ({error})"))
    finally:
        progress.finish()
    count = f"{walk.entries} {'entry' if walk.entries == 1 else 'entries'}"
    return BookState(
        unbroken=True,
        first_broken_entry=None,
        sentence=f"the book is unbroken: {count}",
        entries=walk.entries,
        root=walk.root,
    )


def _start(connection: sqlite3.Connection, progress: Progress) -> int:
    """Tell the size of the file: that of its rows alone would take reading them all for it."""
    (total,) = connection.execute(
        "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size"
    ).fetchone()
    progress.start("checking the book", int(total), "bytes")
    return int(total)


def _walk_rows(
    connection: sqlite3.Connection, walk: _Walk, progress: Progress, take: _Take | None
) -> int:
    """Hold every row against the tree; return the bytes that were told of."""
    done = 0
    for seq, body, root in connection.execute(
        f"SELECT seq, {_as_bytes('body')}, {_as_bytes('root')} FROM journal ORDER BY seq"  # noqa: S608 - fixed names
    ):
        parts, nodes = _check_row(walk, seq, body, root)
        size = len(body)
        if parts["blobs"]:
            walk.contents.clear()
            for blob in read_blobs(parts):
                size += _check_blob(connection, walk, seq, blob)
        done += size
        progress.advance(size)
        if take is not None:
            take(parts, nodes, walk.contents)
    known = derive.read_state(connection)[1]
    if known > walk.entries:
        raise _Broken(walk.entries + 1, f"entries {walk.entries + 1} to {known} are missing")
    _check_names(connection, walk)
    return done


def _check_names(connection: sqlite3.Connection, walk: _Walk) -> None:
    """Hold the names in the rows of blobs against those that entries name.

    Blobs are found by the index of their names, so that a name that was changed in its row alone
    would not be seen: the rows themselves are read.
    """
    named = {sha256.encode() for sha256, stored in walk.blobs.items() if stored}
    loose = 0
    for (name,) in connection.execute(
        "SELECT CASE typeof(sha256) WHEN 'text' THEN CAST(sha256 AS BLOB) END"
        " FROM blobs NOT INDEXED"
    ):
        if name in named:
            named.remove(name)
        else:
            loose += 1
    if named:
        first = min(named, key=lambda name: walk.namers[name.decode()])
        short = first.decode()[:16]
        raise _Broken(walk.namers[first.decode()], f"its blob {short} has another name")
    if loose:
        told = f"{count_things(loose, 'blob')} {agree(loose, 'belongs', 'belong')}"
        raise _Broken(None, f"{told} to no entry")


def _list_withheld(connection: sqlite3.Connection) -> dict[str, int]:
    """Return what is withheld, as far as the derived tables know it.

    Where they lie they are found to differ, and no blob is taken for missing on their word.
    """
    with suppress(SwathbookError):  # the walk says which entry it is
        if derive.is_current(connection):
            return list_withheld(connection)
    return {}


def _is_withheld(connection: sqlite3.Connection, walk: _Walk, sha256: str) -> bool:
    """Say whether an entry of the journal withholds a blob that is not there."""
    if walk.withheld is None:
        walk.withheld = {}
        with suppress(SwathbookError):  # as above
            walk.withheld = find_withheld(connection)
    return sha256 in walk.withheld


def _as_bytes(column: str) -> str:
    """Return the SQL of a column that gives NULL for a value that somebody made another type.

    Bytes turned into text need be no text at all, and reading them as such would raise.
    """
    return f"CASE typeof({column}) WHEN 'blob' THEN {column} END"


def _check_row(
    walk: _Walk, seq: int, body: object, root: object
) -> tuple[dict[str, Any], tuple[Node, ...]]:
    """Hold one row of the journal against the tree; return what its body says, and the nodes.

    Args:
        walk: how far the check has come.
        seq: number of the row.
        body: stored body; bytes, unless somebody changed its type.
        root: stored root; the same.
    """
    expected = walk.entries + 1
    if seq != expected:
        raise _Broken(expected, f"entry {expected} is missing")
    if not isinstance(body, bytes) or not isinstance(root, bytes):
        raise _Broken(seq, "its row does not hold bytes")
    nodes = walk.frontier.append(hash_leaf(body))
    if walk.frontier.root() != root:
        raise _Broken(seq, "its bytes or its root were changed")
    try:
        parts = read_parts(seq, body)
    except SwathbookError as error:
        raise _Broken(seq, error.faults[0].what) from error
    walk.entries, walk.root = seq, root
    return parts, nodes


def _check_blob(connection: sqlite3.Connection, walk: _Walk, seq: int, blob: BlobDigest) -> int:
    """Hold one blob against the entry that names it; return the bytes read.

    Args:
        connection: the book.
        walk: how far the check has come.
        seq: number of the entry.
        blob: what it says of the blob.
    """
    short = blob.sha256[:16]
    seen = walk.blobs.get(blob.sha256)
    if seen is not None:
        if seen not in ("", blob.stored):
            raise _Broken(seq, f"it says otherwise of blob {short} than an earlier entry")
        return 0
    walk.namers[blob.sha256] = seq
    row = connection.execute(
        f"SELECT {_as_bytes('bytes')} FROM blobs WHERE sha256 = ?",  # noqa: S608 - a fixed name
        (blob.sha256,),
    ).fetchone()
    if row is None:
        if not _is_withheld(connection, walk, blob.sha256):
            raise _Broken(seq, f"its blob {short} is missing")
        walk.blobs[blob.sha256] = ""
        return 0
    stored = row[0]
    if not isinstance(stored, bytes) or compute_digest(stored) != blob.stored:
        raise _Broken(seq, f"its blob {short} was changed")
    try:
        walk.contents[blob.sha256] = unpack(stored, blob)
    except SwathbookError:
        raise _Broken(seq, f"its blob {short} does not have the content it is named for") from None
    walk.blobs[blob.sha256] = blob.stored
    return len(stored)


def _add_difference(state: BookState, difference: str) -> BookState:
    if not difference:
        return state
    sentence = f"{state.sentence}; its derived tables have to be made anew: {difference}"
    return replace(state, sentence=sentence, derived_difference=difference)


def _compare_guards(connection: sqlite3.Connection, state: BookState) -> BookState:
    faulty = ", ".join(guards.find_faulty(connection))
    if not faulty:
        return state
    sentence = f"{state.sentence}; what guards it against alteration has to be laid anew: {faulty}"
    return replace(state, sentence=sentence, derived_difference=state.derived_difference or faulty)


def _make_broken_state(walk: _Walk, broken: _Broken) -> BookState:
    place = "" if broken.entry is None else f" at entry {broken.entry}"
    return BookState(
        unbroken=False,
        first_broken_entry=broken.entry,
        sentence=f"the book is broken{place}: {broken.reason}",
        entries=walk.entries,
        root=walk.root,
    )
