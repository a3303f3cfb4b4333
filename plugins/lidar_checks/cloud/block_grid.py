"""Counts per grid cell in memory that follows the flown area, not the bounding box.

Cells are kept in blocks of 64 by 64, so that one far-off noise point costs a block, not a raster.
Whole numbers only: the order of points, chunks and files leaves no trace.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Int64Array = NDArray[np.int64]
CountArray = NDArray[np.unsignedinteger]
BlockKey = tuple[int, int]

BLOCK = 64
"""Cells along a side of a block."""

MOST_HELD = 1 << 9
"""Blocks, 4 MiB with two layers, beyond which those without new points for now are packed."""

MAX_BLOCKS = 1 << 16
"""Blocks of one file; with cells of 1 m some 270 km². Only scattered nonsense needs more."""

_BITS = 6
_LOW = BLOCK - 1
_CELLS = BLOCK * BLOCK

# Blocks from end to end of a slice that are numbered as they lie; a wider spread is sorted first.
_SPAN_BLOCKS = 1 << 16


@dataclass(frozen=True, slots=True)
class PackedBlock:
    """One block of a closed grid, as small as it can be.

    Args:
        kind: type of the counts, the smallest unsigned one that holds them.
        content: counts of the last layer, row by row, compressed.
        cover: cells with a count in any layer, a bit each, compressed.
    """

    kind: str
    content: bytes
    cover: bytes

    @property
    def counts(self) -> NDArray[np.unsignedinteger]:
        """Return the counts of the last layer, (64, 64)."""
        counts = np.frombuffer(zlib.decompress(self.content), dtype=self.kind)
        return counts.reshape(BLOCK, BLOCK)

    @property
    def occupied(self) -> NDArray[np.uint8]:
        """Return the cells with points, a bit each, uint8, (512,)."""
        return np.frombuffer(zlib.decompress(self.cover), dtype=np.uint8)

    def unpack_occupied(self) -> NDArray[np.bool_]:
        """Return the cells with points, bool, (64, 64)."""
        return np.unpackbits(self.occupied).reshape(BLOCK, BLOCK).astype(np.bool_)


class BlockGrid:
    """Counts per cell and layer.

    Blocks that the last points did not lie in are packed once there are many, and added to what was
    packed of them before.

    Attributes:
        layers: how many counts each cell has.
        blocks: counts by column and row of the block, (layers, 64, 64), row then column, each in
            a type wide enough for it.
        packed: what was packed, to be added to those.
        overflown: the points lie in more than `MAX_BLOCKS` blocks, and nothing is kept.
    """

    def __init__(self, layers: int = 1) -> None:
        """Start without any block; `layers` is a power of two."""
        self.layers = layers
        self.blocks: dict[BlockKey, CountArray] = {}
        self.packed: dict[BlockKey, PackedBlock] = {}
        self.overflown = False
        # Blocks with points, and those of them with points since blocks were last looked through.
        self._known: set[BlockKey] = set()
        self._touched: set[BlockKey] = set()
        # No count of a block is greater than this.
        self._most: dict[BlockKey, int] = {}

    def add(
        self, columns: Int64Array, rows: Int64Array, layer: NDArray[np.integer] | NDArray[np.bool_]
    ) -> None:
        """Count points.

        Args:
            columns: column of the cell of each point, int64, (n,).
            rows: row of the cell, int64, (n,).
            layer: layer to count it in, (n,).
        """
        if self.overflown or not len(columns):
            return
        self._add_sorted(columns, rows, layer)
        self._settle()

    def add_planes(
        self, corner: BlockKey, planes: Sequence[NDArray[np.int64] | NDArray[np.bool_] | None]
    ) -> None:
        """Add the counts of a window.

        Args:
            corner: column and row of its south-western cell.
            planes: its counts by layer, (high, wide), row by row from the south; None for none.
        """
        shape = next((plane.shape for plane in planes if plane is not None), (0, 0))
        most = max((int(plane.max()) for plane in planes if plane is not None), default=0)
        for up, here, rows in _cut(corner[1], shape[0]):
            for along, across, columns in _cut(corner[0], shape[1]):
                parts = [None if plane is None else plane[rows, columns] for plane in planes]
                key = along, up
                if key not in self.blocks and not any(
                    part is not None and part.any() for part in parts
                ):
                    continue
                held = self._hold_block(key, most)
                if held is None:
                    return
                for layer, part in zip(held, parts, strict=True):
                    if part is not None:
                        cells = layer[here, across]
                        np.add(cells, part, out=cells, casting="unsafe")
        self._settle()

    def merge(self, other: BlockGrid) -> None:
        """Add the counts of another grid of the same cells."""
        if other.overflown:
            self._give_up()
        for key, packed in other.packed.items():
            if not self._know(key):
                return
            before = self.packed.get(key)
            self.packed[key] = _pack(packed.counts, packed.unpack_occupied(), before)
        for key, counts in other.blocks.items():
            held = self._hold_block(key, int(counts.max()))
            if held is None:
                return
            np.add(held, counts, out=held, casting="unsafe")
        self._settle()

    def _settle(self) -> None:
        """Pack blocks when there are many, but not those with new points, which may go on."""
        if len(self.blocks) > max(MOST_HELD, 2 * len(self._touched)):
            for key in self.blocks.keys() - self._touched:
                block = self.blocks.pop(key)
                self.packed[key] = _pack(
                    block[-1], np.asarray(block.any(axis=0)), self.packed.get(key)
                )
                del self._most[key]
        self._touched.clear()

    def _know(self, key: BlockKey) -> bool:
        """Say whether there is room for a block."""
        if self.overflown or (key not in self._known and len(self._known) >= MAX_BLOCKS):
            self._give_up()
            return False
        self._known.add(key)
        return True

    def _give_up(self) -> None:
        self.overflown = True
        for each in (self.blocks, self.packed, self._known, self._most):
            each.clear()

    def _hold_block(self, key: BlockKey, more: int) -> CountArray | None:
        """Return a block with room for so much more in a cell; None once there are too many."""
        held = self.blocks.get(key)
        self._touched.add(key)
        if held is None:
            if not self._know(key):
                return None
            held = np.zeros((self.layers, BLOCK, BLOCK), dtype=np.uint8)
            self.blocks[key], self._most[key] = held, 0
        self._most[key] += more
        if self._most[key] > np.iinfo(held.dtype).max:
            self._most[key] = int(held.max()) + more
            held = held.astype(np.promote_types(held.dtype, np.min_scalar_type(self._most[key])))
            self.blocks[key] = held
        return held

    def _add_sorted(
        self,
        columns: Int64Array,
        rows: Int64Array,
        layer: NDArray[np.integer] | NDArray[np.bool_],
    ) -> None:
        across, across_rank = _rank(columns >> _BITS)
        along, along_rank = _rank(rows >> _BITS)
        block = across_rank * len(along) + along_rank
        inside = ((rows & _LOW) << _BITS) | (columns & _LOW)
        keys = np.sort((block * self.layers + layer) * _CELLS + inside)
        first = np.flatnonzero(np.diff(keys, prepend=keys[0] - 1))
        counts = np.diff(first, append=len(keys)).astype(np.uint32)
        cells = keys[first]
        per_block = self.layers * _CELLS
        blocks, inside = cells // per_block, cells % per_block
        starts = np.flatnonzero(np.diff(blocks, prepend=blocks[0] - 1))
        stops = np.append(starts[1:], len(cells))
        for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
            rank = int(blocks[start])
            key = (int(across[rank // len(along)]), int(along[rank % len(along)]))
            here = counts[start:stop]
            held = self._hold_block(key, int(here.max()))
            if held is None:
                return
            # Each cell comes once, so that adding by index misses nothing.
            held.reshape(-1)[inside[start:stop]] += here.astype(held.dtype)


def _cut(start: int, length: int) -> Iterator[tuple[int, slice, slice]]:
    """Yield the blocks along one side of a window: number, cells of the block, of the window."""
    for block in range(start >> _BITS, (start + length + _LOW) >> _BITS):
        low = max(start, block << _BITS)
        stop = min(start + length, (block + 1) << _BITS)
        first = block << _BITS
        yield block, slice(low - first, stop - first), slice(low - start, stop - start)


def _rank(blocks: Int64Array) -> tuple[Int64Array, Int64Array]:
    """Return block numbers in order, and for each point the place of its own among them.

    The product of two ranks, a cell and a layer has to fit a signed 64-bit key.
    """
    low, high = int(blocks.min()), int(blocks.max())
    if high - low < _SPAN_BLOCKS:
        return np.arange(low, high + 1, dtype=np.int64), blocks - low
    values, ranks = np.unique(blocks, return_inverse=True)
    return values, ranks.reshape(-1).astype(np.int64)


def pack_blocks(grid: BlockGrid) -> dict[BlockKey, PackedBlock]:
    """Return the blocks in order of their keys: the last layer counted, the others as cover."""
    packed = dict(grid.packed)
    for key, block in grid.blocks.items():
        packed[key] = _pack(block[-1], np.asarray(block.any(axis=0)), packed.get(key))
    return {key: packed[key] for key in sorted(packed)}


def _pack(counts: CountArray, cover: NDArray[np.bool_], more: PackedBlock | None) -> PackedBlock:
    """Return a block with what was packed of it before."""
    bits = np.packbits(cover)
    if more is not None:
        counts, bits = counts.astype(np.uint64) + more.counts, bits | more.occupied
    counts = counts.astype(np.min_scalar_type(int(counts.max())))
    return PackedBlock(
        counts.dtype.str, zlib.compress(counts.tobytes(), 1), zlib.compress(bits.tobytes(), 1)
    )
