"""Rows of the journal: from a draft to stored bytes, and from stored bytes to an entry.

The body is RFC 8785 canonical JSON. Beside the values it names every blob that came with the entry,
with the SHA-256 of its content and of its stored bytes: both are under the tree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from operator import itemgetter
from typing import Any

from ledger.canonical import MAX_WHOLE_NUMBER, decode, encode
from ledger.dataclass import dataclass
from ledger.errors import BrokenBookError, ContractError
from ledger.model.entry import Draft, Entry
from ledger.model.moments import read_moment
from ledger.store.layouts import Values

# The parts of a body, in the order of its keys, and their types.
_read_all = itemgetter("blobs", "by", "kind", "machine", "seq", "time", "values", "version")
_TYPES = (dict, str, str, str, int, str, dict, int)


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
    return make_page(read_parts(seq, body), root)


def read_parts(seq: int, body: bytes) -> dict[str, Any]:
    """Return what stands in the body of an entry, by name, every part of the type it has to be.

    Raises:
        BrokenBookError: the body is no entry, or that of another row.
    """
    try:
        parts: dict[str, Any] = decode(body)
        _require_layout(parts)
    except (ContractError, KeyError, TypeError, AttributeError, ValueError) as error:
        raise BrokenBookError("the book holds bytes that are no entry", where=f"entry {seq}") from (
            error
        )
    if parts["seq"] != seq:
        raise BrokenBookError(
            "an entry has another number than its row",
            found=str(parts["seq"]),
            expected=str(seq),
            where=f"entry {seq}",
        )
    return parts


def make_page(parts: Mapping[str, Any], root: bytes) -> Page:
    """Return the entry of parts that `read_parts` returned, with the root stored beside them."""
    names = ("seq", "time", "kind", "version", "by", "machine")
    values = Values(parts["seq"], parts["values"])
    entry = Entry(**{name: parts[name] for name in names}, values=values, root=root)
    return Page(entry, read_blobs(parts))


def read_blobs(parts: Mapping[str, Any]) -> tuple[BlobDigest, ...]:
    """Return what the parts of an entry say of the blobs that came with it."""
    return tuple(
        BlobDigest(sha256, blob["stored"], blob["bytes"]) for sha256, blob in parts["blobs"].items()
    )


def _require_layout(parts: Mapping[str, Any]) -> None:
    """Refuse what is laid out as no entry; somebody else may have written it."""
    if tuple(map(type, _read_all(parts))) != _TYPES:  # one by one they would cost a hash each
        raise TypeError("a part of an entry has another type")
    read_moment(parts["time"])
    _require_number(parts["version"])
    for blob in parts["blobs"].values():
        _require_number(blob["bytes"])
        if type(blob["stored"]) is not str:
            raise TypeError("a digest is text")


def _require_number(part: object) -> None:
    """Refuse what is no size or version: one that `encode` takes, and not negative."""
    if type(part) is not int or not 0 <= part <= MAX_WHOLE_NUMBER:
        raise TypeError(f"{part!r} is no size or version")
