"""Deliverables as entries of their own: what a receipt may show.

The entry of an audit tells its folder, its verdict and its checks. Whoever is to be shown that one
file belongs to a deliverable needs none of that: this entry names the deliverable and the root of
its manifest's tree, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.canonical import decode
from ledger.model.entry import Draft, Entry, Kind
from ledger.store.reading import Book
from ledger.store.writing import Addition


def draft_deliverables(book: Book, by: str) -> tuple[Addition, ...]:
    """Return an entry for every audited deliverable that has none yet, in order of audit.

    Args:
        book: an open book.
        by: function of the person.
    """
    known = {str(entry.values["manifest_sha256"]) for entry in book.entries(Kind.DELIVERABLE)}
    fresh: dict[str, Entry] = {}
    for entry in book.entries(Kind.AUDIT):
        digest = str(entry.values["manifest_sha256"])
        if digest not in known and not _is_partly_unread(book, entry):
            fresh.setdefault(digest, entry)
    return tuple(Addition(_draft(book, entry, by)) for entry in fresh.values())


def _is_partly_unread(book: Book, audit: Entry) -> bool:
    """Say whether a file had no digest: its deliverable has no identity to vouch for."""
    return any(not row["sha256"] for row in decode(book.blob(str(audit.values["manifest"]))))


def _draft(book: Book, audit: Entry, by: str) -> Draft:
    values = {
        "deliverable": audit.values["id"],
        "manifest_sha256": audit.values["manifest_sha256"],
        "manifest_root": audit.values["manifest_root"],
        "files": len(decode(book.blob(str(audit.values["manifest"])))),
    }
    return Draft(Kind.DELIVERABLE, values, by=by)


def list_deliverables(book: Book) -> Iterator[tuple[Entry, list[dict[str, object]]]]:
    """Yield every entry of a deliverable with the rows of its manifest, newest first."""
    manifests = {
        str(entry.values["manifest_sha256"]): str(entry.values["manifest"])
        for entry in book.entries(Kind.AUDIT)
    }
    for entry in sorted(book.entries(Kind.DELIVERABLE), key=lambda each: -each.seq):
        yield entry, decode(book.blob(manifests[str(entry.values["manifest_sha256"])]))
