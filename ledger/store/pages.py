"""Rows of the journal: from a draft to stored bytes, and from stored bytes to an entry.

The body is RFC 8785 canonical JSON. Beside the values it names every blob that came with the entry,
with the SHA-256 of its content and of its stored bytes: both are under the tree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from ledger.canonical import decode, encode
from ledger.errors import BrokenBookError, ContractError
from ledger.model.entry import Draft, Entry
from ledger.model.moments import read_moment

_T = TypeVar("_T")


@dataclass(frozen=True)
class BlobDigest:
    """What an entry says of a blob.

    Args:
        sha256: digest of the content, in hex.
        stored: digest of the compressed bytes as they are stored, in hex.
        bytes: size of the content.
    """

    sha256: str
    stored: str
    bytes: int


@dataclass(frozen=True)
class Page:
    """A stored entry with the blobs that it names."""

    entry: Entry
    blobs: tuple[BlobDigest, ...]


@dataclass(frozen=True)
class Stamp:
    """What the book gives to a draft.

    Args:
        seq: number of the entry.
        time: UTC, RFC 3339 with `Z`.
        machine: short id of the computer.
    """

    seq: int
    time: str
    machine: str


def make_body(
    draft: Draft, values: Mapping[str, Any], stamp: Stamp, blobs: Iterable[BlobDigest]
) -> bytes:
    """Return the bytes that are stored and hashed.

    Args:
        draft: kind, version and function of the person.
        values: the values, with an id where the book gave one.
        stamp: number, time and computer.
        blobs: the blobs that come with the entry.

    Raises:
        ContractError: the values have no canonical form.
    """
    return encode(
        {
            "blobs": {b.sha256: {"bytes": b.bytes, "stored": b.stored} for b in blobs},
            "by": draft.by,
            "kind": str(draft.kind),
            "machine": stamp.machine,
            "seq": stamp.seq,
            "time": stamp.time,
            "values": values,
            "version": draft.version,
        }
    )


def read_page(seq: int, body: bytes, root: bytes) -> Page:
    """Return the entry that a row of the journal holds.

    Raises:
        BrokenBookError: the body is no entry, or that of another row.
    """
    try:
        parts = decode(body)
        page = Page(
            Entry(
                seq=_require(parts["seq"], int),
                time=_require_time(parts["time"]),
                kind=_require(parts["kind"], str),
                version=_require(parts["version"], int),
                by=_require(parts["by"], str),
                machine=_require(parts["machine"], str),
                values=_require(parts["values"], dict),
                root=root,
            ),
            tuple(
                BlobDigest(sha256, _require(blob["stored"], str), _require(blob["bytes"], int))
                for sha256, blob in parts["blobs"].items()
            ),
        )
    except (ContractError, KeyError, TypeError, AttributeError, ValueError) as error:
        raise BrokenBookError("the book holds bytes that are no entry", where=f"entry {seq}") from (
            error
        )
    if page.entry.seq != seq:
        raise BrokenBookError(
            "an entry has another number than its row",
            found=str(page.entry.seq),
            expected=str(seq),
            where=f"entry {seq}",
        )
    return page


def _require_time(part: object) -> str:
    """Return a time that is one; somebody else may have written the entry."""
    time = _require(part, str)
    read_moment(time)
    return time


def _require(part: object, kind: type[_T]) -> _T:
    """Return a part of a body that is of its kind; a size or number is never negative."""
    if not isinstance(part, kind) or (isinstance(part, int) and part < 0):
        raise TypeError(f"{part!r} is no {kind.__name__}")
    return part
