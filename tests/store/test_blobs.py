"""Contents of a book: what is stored has to be what was entered, and may not swell.

Source: RFC 1950 and RFC 1951 by the library; a stream of zeros is a thousand times its size.
"""

from __future__ import annotations

import tracemalloc
import zlib
from dataclasses import replace

import pytest

from ledger.canonical import compute_digest
from ledger.errors import BookError, BrokenBookError
from ledger.store.blobs import pack, unpack
from ledger.store.reading import Book

MIB = 1 << 20


@pytest.mark.parametrize("content", [b"", b"x", bytes(MIB), bytes(range(256)) * 40])
def test_a_content_comes_back(content: bytes) -> None:
    """Packed and unpacked it is the same, with the digests of both and its size."""
    packed = pack(content)
    assert unpack(packed.stored, packed.digest) == content
    assert packed.digest.sha256 == compute_digest(content)
    assert packed.digest.stored == compute_digest(packed.stored)
    assert packed.digest.bytes == len(content)


@pytest.mark.parametrize("stated", [0, 1, 1000, MIB])
def test_a_content_that_swells_is_unpacked_no_further_than_its_entry_says(stated: int) -> None:
    """A stream of 64 MiB under the digest of another content costs what that content would."""
    bomb = zlib.compress(bytes(64 * MIB))
    digest = replace(pack(b"of the entry").digest, bytes=stated)
    tracemalloc.start()
    try:
        with pytest.raises(BrokenBookError, match="not what was stored"):
            unpack(bomb, digest)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert most < 4 * MIB


def test_more_than_stated_is_no_content_even_where_its_digest_fits() -> None:
    """A size that an entry states wrongly is told: content and entry do not belong together."""
    packed = pack(b"twelve bytes")
    for size in (3, 11):
        with pytest.raises(BrokenBookError):
            unpack(packed.stored, replace(packed.digest, bytes=size - 1))


@pytest.mark.parametrize("stored", [b"", b"no stream", pack(b"other").stored])
def test_what_is_no_stream_or_another_is_broken(stored: bytes) -> None:
    """Each is told with the digest that was asked for."""
    digest = pack(b"of the entry").digest
    with pytest.raises(BrokenBookError, match=digest.sha256[:16]):
        unpack(stored, digest)


def test_a_content_that_no_entry_names_is_told_by_its_first_digits(story_folder):
    """Sixteen of them, as everywhere."""
    with Book.open(story_folder) as book, pytest.raises(BookError, match=r"blob 0{16}\b.*no such"):
        book.blob("0" * 64)
