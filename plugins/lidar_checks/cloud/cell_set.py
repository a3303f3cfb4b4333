"""Which cells hold a point: one bit a cell, in blocks of 64 by 64 that follow the flown area.

Finer cells than counts could afford: a cell costs an eighth of a byte while points come, and less
once its block is packed.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable

import numpy as np

from lidar_checks.cloud.cell_cover import (
    BLOCK_BYTES,
    SIDE,
    Bands,
    BoolArray,
    Int64Array,
    PackedCells,
    pack_bands,
)

MAX_BLOCKS = 1 << 19
"""Blocks of one file; only scattered nonsense needs more."""

MOST_HELD = 1 << 13
"""Blocks, 4 MiB, beyond which those that points do not lie in for now are packed."""

_BITS, _LOW = 6, SIDE - 1
_GROWTH = 256
# Blocks from end to end of a slice that are numbered as they lie.
_SPAN = 1 << 22
# Cells of the blocks that a slice touches are marked one by one while they are no more than so
# many times its points; where they are, single bits are set (measured).
_CELLS_A_POINT, _CELLS_FREE = 64, 1 << 16


class CellSet:
    """Cells that hold a point.

    Blocks that the last points did not lie in are packed once there are many. Points that come back
    to one begin it anew; all that was packed of it is joined in the end, so that the order of the
    points leaves no trace.

    Attributes:
        overflown: the points lie in more than `MAX_BLOCKS` blocks, and nothing is kept.
    """

    def __init__(self, finish: Callable[[PackedCells], PackedCells] | None = None) -> None:
        """Start without any block.

        Args:
            finish: what makes a closed set smaller. What it gives for the parts of a set, joined
                and made smaller again, has to be what it gives for the set.
        """
        self.places: dict[tuple[int, int], int] = {}
        self.bits = np.zeros(0, dtype=np.uint8)
        self.overflown = False
        self._finish = finish if finish is not None else _leave
        self._parts: list[PackedCells] = []
        # Packed blocks at which those of several parts are joined.
        self._joined_at = MOST_HELD

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
            self._settle(places)
            return
        byte = places[block] * BLOCK_BYTES + ((rows & _LOW) << 3) + ((columns & _LOW) >> 3)
        np.bitwise_or.at(self.bits, byte, np.uint8(128) >> (columns & 7).astype(np.uint8))
        self._settle(places)

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
            self._settle(places)

    def merge(self, other: CellSet) -> None:
        """Take in the cells of another set of the same cells."""
        if other.overflown:
            self._give_up()
        places = self._hold(other.places)
        if self.overflown:
            return
        if len(places):
            ours = self.bits.reshape(-1, BLOCK_BYTES)
            ours[places] |= other.bits.reshape(-1, BLOCK_BYTES)[list(other.places.values())]
        self._parts += other._parts
        self._settle(places)

    def close(self) -> PackedCells:
        """Return the cells in order of their blocks."""
        self._pack(set())
        self._join_parts()
        if self.overflown or not self._parts:
            return PackedCells(np.empty((0, 2), dtype=np.int32), {}, self.overflown)
        return self._parts[0]

    def _settle(self, touched: Int64Array) -> None:
        """Pack blocks when there are many, but not those at these places, which may go on."""
        if len(self.places) > max(MOST_HELD, 2 * len(touched)):
            self._pack(set(touched.tolist()))
        packed = sum(len(part.keys) for part in self._parts)
        if packed + len(self.places) > MAX_BLOCKS:
            # Some may have been packed twice.
            self._pack(set())
            self._join_parts()
        elif packed > self._joined_at:
            self._join_parts()

    def _pack(self, but: set[int]) -> None:
        """Pack all blocks but those at some places."""
        packed = sorted(
            (key for key, place in self.places.items() if place not in but),
            key=lambda key: (key[1], key[0]),
        )
        if not packed:
            return
        blocks = self.bits.reshape(-1, BLOCK_BYTES)
        keys = np.array(packed, dtype=np.int32)
        places = np.array([self.places[key] for key in packed], dtype=np.int64)
        rows, first = np.unique(keys[:, 1], return_index=True)
        bands = {
            row: zlib.compress(blocks[here].tobytes(), 1)
            for row, here in zip(rows.tolist(), np.split(places, first[1:]), strict=True)
        }
        self._parts.append(self._finish(PackedCells(keys, bands)))
        left = [key for key, place in self.places.items() if place in but]
        self.bits = blocks[[self.places[key] for key in left]].reshape(-1)
        self.places = {key: place for place, key in enumerate(left)}

    def _join_parts(self) -> None:
        """Make one part of all; give up when it has too many blocks."""
        if len(self._parts) > 1:
            self._parts = [self._finish(pack_bands(Bands(self._parts)))]
        packed = sum(len(part.keys) for part in self._parts)
        self._joined_at = 2 * packed + MOST_HELD
        if packed > MAX_BLOCKS:
            self._give_up()

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
        self._parts.clear()
        self.bits = np.zeros(0, dtype=np.uint8)


def _leave(cells: PackedCells) -> PackedCells:
    return cells
