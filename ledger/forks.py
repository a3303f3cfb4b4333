"""Two books of one job: where they part, and which goes on from which.

Roots decide: two books with the same root at entry n hold the same first n entries, whatever
computer they lie on (RFC 9162, section 2.1).
"""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.store.reading import Book


@dataclass(frozen=True)
class Fork:
    """How two books stand to each other.

    Args:
        common: entries that both hold; 0 for books that share nothing.
        here: entries of this book after those.
        there: entries of the other book after those.
    """

    common: int
    here: int
    there: int

    @property
    def is_forked(self) -> bool:
        """Say whether both books went on by themselves after their common entries."""
        return bool(self.here and self.there)


def find_fork(book: Book, other: Book) -> Fork:
    """Return where two unbroken books part."""
    size, there = book.size, other.size
    low, high = 0, min(size, there)
    while low < high:
        middle = (low + high + 1) // 2
        if _root_at(book, middle) == _root_at(other, middle):
            low = middle
        else:
            high = middle - 1
    return Fork(low, size - low, there - low)


def _root_at(book: Book, seq: int) -> bytes:
    entry = book.entry(seq)
    return b"" if entry is None else entry.root
