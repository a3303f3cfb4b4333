"""Closed sets of cells, and what several of them hold together, by rows of blocks."""

from __future__ import annotations

import zlib
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Int64Array = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SIDE = 64
"""Cells along a side of a block."""

BLOCK_BYTES = SIDE * SIDE // 8
_BITS, _LOW = 6, SIDE - 1
_FULL = 255


@dataclass(frozen=True)
class PackedCells:
    """A closed set of cells.

    Args:
        keys: column and row of each block, sorted by row, then column, int32, (n, 2).
        bands: bits of all blocks of a row from west to east, each row by row of cells from the
            south, compressed; by row, from the south.
        overflown: the points lie in too many blocks, and nothing is kept.
    """

    keys: NDArray[np.int32]
    bands: dict[int, bytes]
    overflown: bool = False

    def unpack(self) -> NDArray[np.uint8]:
        """Return the bits of the blocks, uint8, (n, 512)."""
        content = b"".join(zlib.decompress(band) for band in self.bands.values())
        return np.frombuffer(content, dtype=np.uint8).reshape(-1, BLOCK_BYTES)

    def take(self, row: int) -> PackedCells:
        """Return the blocks of one row, of which there is at least one."""
        low, high = np.searchsorted(self.keys[:, 1], [row, row + 1])
        return PackedCells(self.keys[low:high], {row: self.bands[row]})


@dataclass(frozen=True)
class Cover:
    """The cells of all files together.

    Args:
        keys: column and row of each block, sorted by row, then column, int64, (n, 2).
        bits: cells of blocks, uint8, (m, 512); those full of points, which may be most, share one.
        rows: the row of `bits` of each block, int32, (n,).
    """

    keys: Int64Array
    bits: NDArray[np.uint8]
    rows: NDArray[np.int32]

    def read(self, place: Int64Array) -> NDArray[np.uint8]:
        """Return the cells of some blocks by their places, uint8, (k, 512)."""
        return self.bits[self.rows[place]]

    def find(self, across: Int64Array, up: Int64Array) -> Int64Array:
        """Return the place of blocks by column and row; -1 where there is none."""
        if not len(self.keys):
            return np.full(len(across), -1, dtype=np.int64)
        wanted, own = _join_key(across, up), _join_key(self.keys[:, 0], self.keys[:, 1])
        place = np.minimum(np.searchsorted(own, wanted), len(own) - 1)
        found: Int64Array = np.where(own[place] == wanted, place, -1)
        return found

    def holds(self, columns: Int64Array, rows: Int64Array) -> BoolArray:
        """Say of cells, by column and row, whether they hold a point."""
        place = self.find(columns >> _BITS, rows >> _BITS)
        if not len(self.keys):
            return np.zeros(len(columns), dtype=np.bool_)
        byte = self.bits[self.rows[place], ((rows & _LOW) << 3) + ((columns & _LOW) >> 3)]
        held: BoolArray = (byte >> (7 - (columns & 7)).astype(np.uint8) & 1).astype(np.bool_)
        return held & (place >= 0)

    def count(self) -> int:
        """Return the number of cells."""
        return int(self.count_each().sum())

    def count_each(self) -> Int64Array:
        """Return the number of cells of each block, (n,)."""
        return self.count_squares(SIDE)[2]

    def count_squares(self, side: int) -> tuple[Int64Array, Int64Array, Int64Array]:
        """Return column and row of squares, counted in squares, and the cells of each, (m,).

        Args:
            side: cells along a side of a square: 8, 16, 32 or 64.
        """
        along = SIDE // side
        bytes_each = np.bitwise_count(self.bits).reshape(-1, along, side, along, side // 8)
        cells = bytes_each.sum(axis=(2, 4), dtype=np.int64)[self.rows]
        up, across = np.indices((along, along))
        columns, rows = self.keys.T[:, :, None, None] * along + np.stack([across, up])[:, None]
        return columns.reshape(-1), rows.reshape(-1), cells.reshape(-1)


def join_cells(parts: Iterable[PackedCells]) -> Cover:
    """Return the cells that any of several sets holds."""
    listed = [part for part in parts if len(part.keys)]
    keys = np.unique(
        np.concatenate([np.empty(0, dtype=np.int64), *(_join_key(*part.keys.T) for part in listed)])
    )
    is_full = np.zeros(len(keys), dtype=np.bool_)
    for part in listed:
        full = (part.unpack() == _FULL).all(axis=1)
        is_full[np.searchsorted(keys, _join_key(*part.keys.T))[full]] = True
    # Row 0 is that of full blocks. Parts are unpacked a second time rather than kept.
    rows = np.where(is_full, 0, np.cumsum(~is_full)).astype(np.int32)
    bits = np.zeros((1 + int(np.count_nonzero(~is_full)), BLOCK_BYTES), dtype=np.uint8)
    bits[0] = _FULL
    for part in listed:
        bits[rows[np.searchsorted(keys, _join_key(*part.keys.T))]] |= part.unpack()
    up, across = keys >> 32, (keys & 0xFFFFFFFF) - (1 << 31)
    return Cover(np.stack([across, up], axis=1), bits, rows)


class Bands:
    """The cells of all files together, one row of blocks after another, so that few are unpacked.

    Attributes:
        rows: rows of blocks, ascending.
        span: first column of cells that may hold a point, and the one after the last.
    """

    def __init__(self, parts: Iterable[PackedCells]) -> None:
        """Take the cells of each file."""
        self._parts = [part for part in parts if len(part.keys)]
        self.rows = sorted({row for part in self._parts for row in part.bands})
        west = min((int(part.keys[:, 0].min()) for part in self._parts), default=0)
        east = max((int(part.keys[:, 0].max()) for part in self._parts), default=-1)
        self.span = west * SIDE, (east + 1) * SIDE
        self._held: dict[int, Cover] = {}

    def read(self, row: int) -> Cover:
        """Return the cells of one row of blocks, which may be none; the last few are kept."""
        if row not in self._held:
            self._held = {each: held for each, held in self._held.items() if each >= row - 2}
            self._held[row] = join_cells(
                part.take(row) for part in self._parts if row in part.bands
            )
        return self._held[row]


def _join_key(across: NDArray[np.signedinteger], up: NDArray[np.signedinteger]) -> Int64Array:
    """Return one number a block that sorts by row, then column."""
    key: Int64Array = (up.astype(np.int64) << 32) + across + (1 << 31)
    return key


def pack_bands(bands: Bands) -> PackedCells:
    """Return the cells of several sets as one closed set."""
    keys, content = [np.empty((0, 2), dtype=np.int32)], {}
    for row in bands.rows:
        cover = bands.read(row)
        keys.append(cover.keys.astype(np.int32))
        content[row] = zlib.compress(cover.read(np.arange(len(cover.keys))).tobytes(), 1)
    return PackedCells(np.concatenate(keys), content)
