"""What was deleted on purpose, by entries that say so.

A place whose deletion was entered is expected no more, and counts as a copy no more, until bytes
are seen there again.
"""

from __future__ import annotations

from collections.abc import Iterable

from ledger.canonical import compute_digest, decode, encode
from ledger.model.entry import Draft, Kind
from ledger.store.reading import Book
from ledger.store.writing import Addition

Spot = tuple[str, str, str]
"""Path as the book writes it, SHA-256, and id of the drive (empty where the path tells it)."""


def draft_deletion(spots: Iterable[Spot], reason: str, by: str) -> Addition:
    """Return the entry of a deletion.

    Args:
        spots: what is gone.
        reason: why it was deleted.
        by: function of the person.
    """
    listed = [{"path": path, "sha256": sha256, "volume": drive} for path, sha256, drive in spots]
    content = encode(listed)
    values = {"reason": reason, "files": compute_digest(content), "count": len(listed)}
    return Addition(Draft(Kind.DELETION, values, by=by), (content,))


def read_deletions(book: Book) -> dict[Spot, int]:
    """Return the entry of the latest deletion of every place.

    Raises:
        BookError: its lists are not in the book.
    """
    return {
        (str(row["path"]), str(row["sha256"]), str(row["volume"])): entry.seq
        for entry in book.entries(Kind.DELETION)
        for row in decode(book.blob(str(entry.values["files"])))
    }
