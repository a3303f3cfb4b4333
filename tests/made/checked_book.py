"""A small book to forge entries into, its check, and a short entry to add to any book."""

from __future__ import annotations

from pathlib import Path

from ledger.canonical import compute_digest
from ledger.merkle import Frontier, hash_leaf
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.checking import BookState
from ledger.store.reading import Book
from ledger.store.writing import create_book

NOTE = Draft(Kind.RECHECK, {"book": "unbroken", "counts": {}})


def check_book(folder: Path) -> BookState:
    """Return the state of the book in a folder."""
    with Book.open(folder) as book:
        return book.check(NoProgress())


def find_naming_entry(folder: Path, sha256: str) -> int:
    """Return the first entry that names a blob."""
    with Book.open(folder) as book:
        rows = book._fetch("SELECT seq, body FROM journal ORDER BY seq")
    return next(int(seq) for seq, body in rows if sha256.encode() in body)


def make_small_book(folder: Path) -> None:
    """Make a book of four entries with two blobs."""
    with create_book(folder, machine="0123abcd") as book:
        book.append(Draft(Kind.JOB, {"reference": "J", "title": "", "like": ""}))
        text = b"[job]\n"
        values = {"sha256": compute_digest(text), "bytes": len(text)}
        book.append(Draft(Kind.SPECIFICATION, values), (text,))
        book.append(Draft("note", {}), (text, b"second"))
        book.append(Draft("note", {"text": "\u00e4"}))


def compute_root(bodies: list[bytes]) -> bytes:
    """Return the root of the tree over the bodies of entries."""
    frontier = Frontier()
    for body in bodies:
        frontier.append(hash_leaf(body))
    return frontier.root()
