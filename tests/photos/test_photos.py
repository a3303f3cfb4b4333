"""Pictures of strangers: what they say of their size is not believed, and no pixel is decoded.

That a photo with a place in it is seen is held beside the bag that it would go out in.
"""

from __future__ import annotations

import struct
import tracemalloc
import zlib
from pathlib import Path

import pytest

from ledger.photos import find_place, tells_place


def write_png(side: int) -> bytes:
    """Return the beginning of a picture of so many black pixels a side (PNG, W3C)."""
    pixels = zlib.compress(bytes(16 << 20), 9)
    parts = (
        (b"IHDR", struct.pack(">2I5B", side, side, 1, 0, 0, 0, 0)),
        (b"IDAT", pixels),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content))
        + kind
        + content
        + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in parts
    )


@pytest.mark.parametrize("side", [10_000, 60_000, 2**31 - 1])
def test_a_picture_that_says_it_is_huge_costs_no_memory(tmp_path: Path, side: int) -> None:
    """A hundred million pixels and far more: looked into or not, in a few megabytes."""
    path = tmp_path / "mount.png"
    path.write_bytes(write_png(side))
    tracemalloc.start()
    try:
        told = tells_place(path)
        found = find_place(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert found is None
    # None is "cannot be told", and such a picture does not go out unasked.
    assert told is (False if side == 10_000 else None)
    assert most < 8 << 20
