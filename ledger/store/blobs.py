"""Blobs: contents kept compressed under the SHA-256 of the content.

A compressed stream can change without changing its content, so an entry names the digest of both.
"""

from __future__ import annotations

import sqlite3
import zlib
from dataclasses import replace

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.errors import BookError, BrokenBookError
from ledger.model.entry import Kind
from ledger.store.pages import BlobDigest, read_page

_LEVEL = 6


@dataclass(frozen=True)
class PackedBlob:
    """A blob ready to be stored.

    Args:
        digest: its digests and size.
        stored: the compressed bytes.
    """

    digest: BlobDigest
    stored: bytes

    def named_as(self, stored: str) -> PackedBlob:
        """Return the same content with the digest of the bytes that the book holds for it."""
        return replace(self, digest=replace(self.digest, stored=stored))


def pack(content: bytes) -> PackedBlob:
    """Compress a content and take both digests."""
    stored = zlib.compress(content, _LEVEL)
    digest = BlobDigest(compute_digest(content), compute_digest(stored), len(content))
    return PackedBlob(digest, stored)


def unpack(stored: bytes, digest: BlobDigest) -> bytes:
    """Return the content of stored bytes.

    Raises:
        BrokenBookError: they are not the bytes that were stored.
    """
    try:
        # One byte more than expected is enough to see that there is too much; a forged stream
        # could otherwise swell without end.
        content = zlib.decompressobj().decompress(stored, digest.bytes + 1)
    except zlib.error:
        content = None
    if content is None or compute_digest(content) != digest.sha256:
        raise BrokenBookError(
            "a blob of the book is not what was stored",
            where=f"blob {digest.sha256[:16]}",
            remedy="run swathbook recheck",
        )
    return content


def read_content(connection: sqlite3.Connection, sha256: str) -> bytes:
    """Return the content of a blob.

    Raises:
        BookError: no entry names it, it was withheld, or it is missing.
        BrokenBookError: it is not what was stored.
    """
    row = connection.execute(
        "SELECT d.stored, d.bytes, b.bytes, w.entry FROM blob_digests d"
        " LEFT JOIN blobs b USING (sha256) LEFT JOIN withheld w USING (sha256)"
        " WHERE d.sha256 = ?",
        (sha256,),
    ).fetchone()
    where = f"blob {sha256[:16]}"
    if row is None:
        raise BookError("the book holds no such content", where=where)
    stored_digest, size, stored, withheld = row
    if withheld is not None:
        raise BookError(f"the content was withheld by entry {withheld}", where=where)
    if stored is None:
        raise BrokenBookError(
            "a blob of the book is missing", where=where, remedy="run swathbook recheck"
        )
    return unpack(stored, BlobDigest(sha256, stored_digest, size))


def find_withheld(connection: sqlite3.Connection) -> dict[str, int]:
    """Return the digests of blobs that an entry withholds, with the number of that entry.

    Every body is looked through.

    Raises:
        BrokenBookError: bytes that look like such an entry are none.
    """
    return _read_withheld(connection, "instr(body, ?) > 0", b'"kind":"withhold"')


def list_withheld(connection: sqlite3.Connection) -> dict[str, int]:
    """Return of those blobs the ones whose entries the derived tables know; these must be current.

    Raises:
        BrokenBookError: what they take for such an entry is none.
    """
    known = "seq IN (SELECT seq FROM main.entries WHERE kind = ?)"
    return _read_withheld(connection, known, Kind.WITHHOLD.value)


def _read_withheld(connection: sqlite3.Connection, condition: str, value: object) -> dict[str, int]:
    withheld: dict[str, int] = {}
    rows = connection.execute(
        f"SELECT seq, body, root FROM journal WHERE {condition} ORDER BY seq",  # noqa: S608 - of two
        (value,),
    )
    for seq, body, root in rows:
        entry = read_page(seq, body, root).entry
        if entry.kind == Kind.WITHHOLD:
            withheld.setdefault(str(entry.values.get("blob", "")), seq)
    return withheld
