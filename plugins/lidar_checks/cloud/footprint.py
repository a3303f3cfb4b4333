"""Which cells a delivery covers, judged over all its tiles together.

The rule, for the time being without a boundary: the occupied cells, with gaps closed that are no
wider than a given width, less the outermost cells. Tile borders inside a delivery are no rim, since
the tiles are put together first; a strip between two tiles without points is a closed gap, and its
cells count as covered. A hole that is wider stays outside, with the ring of cells round it: it is
water, a shadow or a missed line, and what it is cannot be told from counts.

Closing and opening by squares as in mathematical morphology (Serra 1982), in exact integers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from lidar_checks.cloud.block_grid import BLOCK, BlockKey

BoolArray = NDArray[np.bool_]

# With this radius the cells that decide about a block lie in it and in the eight round it.
MAX_RADIUS = (BLOCK - 1) // 2


class CoverBits(Mapping[BlockKey, BoolArray]):
    """Cells by block, kept as a bit each and unpacked when they are asked for, bool, (64, 64)."""

    def __init__(self, bits: Mapping[BlockKey, NDArray[np.uint8]]) -> None:
        """Take the bits of each block, uint8, (512,), row by row."""
        self.bits = bits

    def __getitem__(self, key: BlockKey) -> BoolArray:
        """Return the cells of a block."""
        return np.unpackbits(self.bits[key]).reshape(BLOCK, BLOCK).view(np.bool_)

    def __iter__(self) -> Iterator[BlockKey]:
        """Yield the blocks in order of their keys."""
        return iter(sorted(self.bits))

    def __len__(self) -> int:
        """Return the number of blocks."""
        return len(self.bits)


def compute_interior(
    occupied: Mapping[BlockKey, BoolArray], radius: int
) -> Iterator[tuple[BlockKey, BoolArray]]:
    """Yield the covered cells less their rim, block by block in order of the keys.

    Args:
        occupied: cells with points, by block, bool, (64, 64), row then column.
        radius: gaps up to 2 · radius cells wide are closed; at most `MAX_RADIUS`.

    Yields:
        Block and interior, bool, (64, 64); only blocks that have any. A block without points
        cannot have any, because a closed gap is narrower than a block.
    """
    halo = 2 * radius + 1
    for key in sorted(occupied):
        window = _gather(occupied, key, halo)
        if window.all():
            # Most blocks of a survey, and nothing to work out.
            yield key, np.ones((BLOCK, BLOCK), dtype=np.bool_)
            continue
        closed = _count_in_square(window, radius) > 0
        inner = _count_in_square(closed, radius + 1) == (2 * radius + 3) ** 2
        cells = inner[halo : halo + BLOCK, halo : halo + BLOCK]
        if cells.any():
            yield key, cells


def count_wide(cells: Mapping[BlockKey, BoolArray], radius: int) -> int:
    """Return how many cells lie in a full square of cells: opening by a square (Serra 1982).

    Args:
        cells: set cells by block, bool, (64, 64), row then column.
        radius: the square is 2 · radius + 1 cells wide; at most `MAX_RADIUS`.
    """
    halo, found = 2 * radius, 0
    for key in cells:
        window = _gather(cells, key, halo)
        full = _count_in_square(window, radius) == (2 * radius + 1) ** 2
        wide = _count_in_square(full, radius) > 0
        found += int(np.count_nonzero(wide[halo : halo + BLOCK, halo : halo + BLOCK]))
    return found


def _gather(occupied: Mapping[BlockKey, BoolArray], key: BlockKey, halo: int) -> BoolArray:
    """Return a block with `halo` cells round it, taken from its neighbours."""
    wide = np.zeros((3 * BLOCK, 3 * BLOCK), dtype=np.bool_)
    for up in (-1, 0, 1):
        for along in (-1, 0, 1):
            block = occupied.get((key[0] + along, key[1] + up))
            if block is not None:
                top, left = (up + 1) * BLOCK, (along + 1) * BLOCK
                wide[top : top + BLOCK, left : left + BLOCK] = block
    return wide[BLOCK - halo : 2 * BLOCK + halo, BLOCK - halo : 2 * BLOCK + halo]


def _count_in_square(cells: BoolArray, radius: int) -> NDArray[np.int32]:
    """Return how many cells of the square round each cell are set; outside there are none."""
    side, edge = 2 * radius + 1, radius + 1
    padded = np.zeros([length + 2 * edge for length in cells.shape], dtype=np.int32)
    padded[edge:-edge, edge:-edge] = cells
    sums = padded.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    total: NDArray[np.int32] = (
        sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    )
    return total[: cells.shape[0], : cells.shape[1]]
