"""Receipts: that one file belongs to a sealed deliverable, shown without the book.

A receipt holds the seal, the entry of the deliverable with its proof under the seal's root, and
the file's place in the manifest with its proof under the manifest's root. It names no other file
and no finding. It is verified with SHA-256 and Ed25519 alone: `docs/guide/verify_receipt.py`.

Sources: RFC 9162 section 2.1.3 (inclusion proofs), C2SP signed-note and tlog-checkpoint.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ledger.canonical import encode
from ledger.dataclass import dataclass
from ledger.deliverables import list_deliverables
from ledger.errors import UsageError
from ledger.fixity import read_fixity
from ledger.merkle import Frontier, ReadNode, compute_inclusion_proof, hash_leaf
from ledger.model.entry import Entry
from ledger.outgoing import require_apart
from ledger.sealed import KeptSeal, read_seals
from ledger.store.reading import Book
from ledger.wholefile import write_whole

FOLDER = "receipts"
_SCHEMA = 1
_KIND = "swathbook-receipt"


@dataclass(frozen=True)
class Receipt:
    """One receipt.

    Args:
        path: the file within its deliverable.
        sha256: its digest.
        deliverable: id of the deliverable.
        entry: entry of the deliverable.
        seal: number of entries that the seal covers.
        file: where the receipt was written.
    """

    path: str
    sha256: str
    deliverable: str
    entry: int
    seal: int
    file: Path


@dataclass(frozen=True)
class ReceiptResult:
    """What `receipt` made.

    Args:
        receipts: one for each file that was named, in that order.
        key: the public key that they are verified with, as it is handed on.
    """

    receipts: tuple[Receipt, ...]
    key: str


@dataclass(frozen=True)
class _Place:
    """A file within a deliverable."""

    entry: Entry
    rows: Sequence[dict[str, Any]]
    index: int


def make_receipts(job: Path, files: Sequence[Path], to: Path | None = None) -> ReceiptResult:
    """Write a receipt for each file; nothing is entered into the book.

    Args:
        job: the job folder, or its book.
        files: files of audited folders, anywhere on this computer: their bytes tell which they are.
        to: folder to write to; `receipts` in the job folder when None.

    Raises:
        UsageError: a file belongs to no sealed deliverable, or the folder holds raw or delivered
            files.
        BookError: the book cannot be read.
        FileError: a file cannot be read, or a receipt not written.
    """
    with Book.open(job) as book:
        seal = _require_seal(book)
        known = [
            (entry, rows) for entry, rows in list_deliverables(book) if entry.seq <= seal.head.size
        ]
        if to is not None:
            require_apart(book, to)
        folder = to or book.folder / FOLDER
        made = [_make(book, seal, _find(known, file), folder) for file in files]
        for content, receipt in made:
            write_whole(receipt.file, content)
    return ReceiptResult(tuple(receipt for _, receipt in made), seal.key.text)


def _require_seal(book: Book) -> KeptSeal:
    seals = read_seals(book)
    if not seals:
        raise UsageError(
            "a receipt stands under a seal, and this book has none",
            where=str(book.path),
            remedy="swathbook seal",
        )
    return seals[-1]


def _find(known: Sequence[tuple[Entry, Any]], file: Path) -> _Place:
    """Return where a file stands: in the newest deliverable that holds its bytes."""
    digest = read_fixity(file).sha256
    places = [
        _Place(entry, rows, index)
        for entry, rows in known
        for index, row in enumerate(rows)
        if row["sha256"] == digest
    ]
    if not places:
        raise UsageError(
            "no sealed deliverable holds a file with these bytes",
            where=str(file),
            remedy="audit its folder, then swathbook seal",
        )
    # The same bytes may stand under several names: the name at hand tells which is meant.
    named = [place for place in places if _get_name(place) == file.name]
    return (named or places)[0]


def _get_name(place: _Place) -> str:
    return str(place.rows[place.index]["path"]).rpartition("/")[2]


def _make(book: Book, seal: KeptSeal, place: _Place, folder: Path) -> tuple[bytes, Receipt]:
    row = place.rows[place.index]
    leaves = [encode({"path": each["path"], "sha256": each["sha256"]}) for each in place.rows]
    nodes = _grow([hash_leaf(leaf) for leaf in leaves])
    inside = compute_inclusion_proof(place.index, len(leaves), nodes)
    index = place.entry.seq - 1
    under = compute_inclusion_proof(index, seal.head.size, book.node)
    content = {
        "kind": _KIND,
        "schema": _SCHEMA,
        "seal": seal.content.decode(),
        "entry": {
            "index": index,
            "body": book.body(place.entry.seq).decode(),
            "proof": [part.hex() for part in under],
        },
        "file": {
            "index": place.index,
            "leaf": leaves[place.index].decode(),
            "proof": [part.hex() for part in inside],
        },
    }
    written = json.dumps(content, indent=1, ensure_ascii=False) + "\n"
    name = f"{str(row['path']).replace('/', '_')}.receipt.json"
    deliverable = str(place.entry.values["deliverable"])
    receipt = Receipt(
        str(row["path"]),
        str(row["sha256"]),
        deliverable,
        place.entry.seq,
        seal.head.size,
        folder / f"{deliverable}-{name}",
    )
    return written.encode(), receipt


def _grow(hashes: Sequence[bytes]) -> ReadNode:
    """Return the complete nodes of the tree over some leaf hashes."""
    tree = Frontier()
    nodes = {(level, number): node for leaf in hashes for level, number, node in tree.append(leaf)}
    return lambda level, number: nodes[level, number]
