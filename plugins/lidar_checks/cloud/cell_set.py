"""Which cells hold a point: one bit a cell, in blocks of 64 by 64 that follow the flown area.

Finer cells than counts could afford: a cell costs an eighth of a byte while a file is read, and
less once it is closed.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Int64Array = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SIDE = 64
"""Cells along a side of a block."""

MAX_BLOCKS = 1 << 19
"""Blocks of one file, 256 MiB; only scattered nonsense needs more."""

_BITS, _LOW = 6, SIDE - 1
BLOCK_BYTES = SIDE * SIDE // 8
_GROWTH = 256
_FULL = 255
# Blocks from end to end of a slice that are numbered as they lie.
_SPAN = 1 << 22
# Cells of the blocks that a slice touches are marked one by one while they are no more than so
# many times its points; where they are, single bits are set (measured).
_CELLS_A_POINT, _CELLS_FREE = 64, 1 << 16


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


class CellSet:
    """Cells that hold a point.

    Attributes:
        overflown: the points lie in more than `MAX_BLOCKS` blocks, and nothing is kept.
    """

    def __init__(self) -> None:
        """Start without any block."""
        self.places: dict[tuple[int, int], int] = {}
        self.bits = np.zeros(0, dtype=np.uint8)
        self.overflown = False

    def add(self, columns: Int64Array, rows: Int64Array) -> None:
        """Take in the cells of some points, by column and row, int64, (n,)."""
        if self.overflown or not len(columns):
            return
        left, bottom = int(columns.min()) >> _BITS, int(rows.min()) >> _BITS
        wide = (int(columns.max()) >> _BITS) - left + 1
        high = (int(rows.max()) >> _BITS) - bottom + 1
        across, up = columns >> _BITS, rows >> _BITS
        if wide * high <= _SPAN:
            number = (up - bottom) * wide + (across - left)
            present = np.zeros(wide * high, dtype=np.bool_)
            present[number] = True
            held = np.flatnonzero(present)
            table = np.zeros(wide * high, dtype=np.int64)
            table[held] = np.arange(len(held))
            places = self._hold(
                zip((held % wide + left).tolist(), (held // wide + bottom).tolist(), strict=True)
            )
            block = table[number]
        else:
            keys, inverse = np.unique(np.stack([across, up], axis=1), axis=0, return_inverse=True)
            places, block = self._hold(map(tuple, keys.tolist())), inverse.reshape(-1)
        if self.overflown:
            return
        if len(places) * SIDE * SIDE <= _CELLS_A_POINT * len(columns) + _CELLS_FREE:
            flags = np.zeros(len(places) * SIDE * SIDE, dtype=np.bool_)
            flags[(((block << _BITS) + (rows & _LOW)) << _BITS) + (columns & _LOW)] = True
            packed = np.packbits(flags).reshape(-1, BLOCK_BYTES)
            self.bits.reshape(-1, BLOCK_BYTES)[places] |= packed
            return
        byte = places[block] * BLOCK_BYTES + ((rows & _LOW) << 3) + ((columns & _LOW) >> 3)
        np.bitwise_or.at(self.bits, byte, np.uint8(128) >> (columns & 7).astype(np.uint8))

    def mark(self, corner: tuple[int, int], flags: BoolArray) -> None:
        """Take in the marked cells of a window.

        Args:
            corner: column and row of its south-western cell.
            flags: its cells, bool, (high, wide), row by row from the south.
        """
        left, bottom = corner[0] >> _BITS, corner[1] >> _BITS
        low, high = corner[1] & _LOW, (corner[1] & _LOW) + flags.shape[0]
        west, east = corner[0] & _LOW, (corner[0] & _LOW) + flags.shape[1]
        wide, tall = (east + _LOW) >> _BITS, (high + _LOW) >> _BITS
        blocks = np.zeros((tall * SIDE, wide * SIDE), dtype=np.bool_)
        blocks[low:high, west:east] = flags
        rows = np.packbits(blocks, axis=1).reshape(tall, SIDE, wide, SIDE // 8)
        bits = rows.transpose(0, 2, 1, 3).reshape(tall * wide, BLOCK_BYTES)
        held = np.flatnonzero(bits.any(axis=1))
        if self.overflown or not len(held):
            return
        across, up = (held % wide + left).tolist(), (held // wide + bottom).tolist()
        places = self._hold(zip(across, up, strict=True))
        if not self.overflown:
            self.bits.reshape(-1, BLOCK_BYTES)[places] |= bits[held]

    def merge(self, other: CellSet) -> None:
        """Take in the cells of another set of the same cells."""
        if other.overflown:
            self._give_up()
        places = self._hold(other.places)
        if self.overflown or not len(places):
            return
        ours = self.bits.reshape(-1, BLOCK_BYTES)
        ours[places] |= other.bits.reshape(-1, BLOCK_BYTES)[list(other.places.values())]

    def close(self) -> PackedCells:
        """Return the cells in order of their blocks."""
        order = sorted(self.places, key=lambda key: (key[1], key[0]))
        keys = np.array(order, dtype=np.int32).reshape(-1, 2)
        blocks = self.bits.reshape(-1, BLOCK_BYTES)
        places = np.array([self.places[key] for key in order], dtype=np.int64)
        rows, first = np.unique(keys[:, 1], return_index=True)
        bands = {
            row: zlib.compress(blocks[here].tobytes(), 1)
            for row, here in zip(rows.tolist(), np.split(places, first[1:]), strict=False)
        }
        return PackedCells(keys, bands, self.overflown)

    def _hold(self, keys: Iterable[tuple[int, int]]) -> Int64Array:
        """Return the place of each block, in a larger array where there are new ones."""
        places = []
        for across, up in keys:
            key = (across, up)
            place = self.places.get(key)
            if place is None:
                place = self.places[key] = len(self.places)
            places.append(place)
        if self.overflown or len(self.places) > MAX_BLOCKS:
            self._give_up()
            return np.zeros(len(places), dtype=np.int64)
        needed = len(self.places) * BLOCK_BYTES
        if needed > len(self.bits):
            room = needed + max(_GROWTH * BLOCK_BYTES, len(self.bits) // 4 // BLOCK_BYTES * 512)
            larger = np.zeros(room, dtype=np.uint8)
            larger[: len(self.bits)] = self.bits
            self.bits = larger
        return np.array(places, dtype=np.int64)

    def _give_up(self) -> None:
        self.overflown = True
        self.places.clear()
        self.bits = np.zeros(0, dtype=np.uint8)


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
        counts = np.bitwise_count(self.bits).sum(axis=1, dtype=np.int64)
        each: Int64Array = counts[self.rows]
        return each


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
