"""In which heights the points of each column of ground lie: counts by column and bin.

Columns are two patches wide, bins a few metres high. A lone point far above or below the rest shows
as a bin with hardly any points and none round it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.swath.patch_window import PatchWindow

Int64Array = NDArray[np.int64]

# Column, row and bin of a height in one signed number; what lies further out counts as the edge.
_PLACE_BITS, _BIN_BITS = 23, 16
_PLACE_HALF, _BIN_HALF = 1 << (_PLACE_BITS - 1), 1 << (_BIN_BITS - 1)
# Counts are brought together when so many have piled up.
_PILE = 1 << 17
# A dense window is counted at once while it has no more cells than this; else keys are sorted.
_FREE_A_POINT, _FREE, _MOST = 8, 1 << 16, 1 << 22


@dataclass(frozen=True)
class ColumnCounts:
    """Counts by place; sorted, each place once.

    Args:
        key: column, row and bin, see `unpack`; int64, (n,).
        count: points, int64, (n,).
    """

    key: Int64Array
    count: Int64Array


class HeightColumns:
    """Counts of the points of one file by column and bin."""

    def __init__(self, step: int) -> None:
        """Take the height of a bin in lattice steps."""
        self.step = step
        self.piles: list[ColumnCounts] = []
        self.waiting = 0

    def add(self, window: PatchWindow, kept: NDArray[np.bool_] | None) -> None:
        """Count the points of a slice.

        Args:
            window: the patches that they lie in.
            kept: those that count, (n,); None for all.
        """
        low, deep, bins = window.find_bins(self.step)
        chosen = None if kept is None else np.flatnonzero(kept)
        points = len(bins) if chosen is None else len(chosen)
        if not points:
            return
        cells = window.cells
        wide = cells.wide // 2
        length = cells.size // 4 * deep
        if not window.is_dense or length > min(_MOST, _FREE + _FREE_A_POINT * points):
            columns, rows = window.places
            keys = pack(columns >> 1, rows >> 1, bins.astype(np.int64) + low)
            keys = keys if chosen is None else keys.take(chosen)
            self._pile(*np.unique(keys, return_counts=True))
            return
        place = (cells.rows >> 1) * wide
        place += cells.columns >> 1
        place = place * deep + bins
        counts = np.bincount(place if chosen is None else place.take(chosen), minlength=length)
        held = np.flatnonzero(counts)
        column_row, level = np.divmod(held, deep)
        row, column = np.divmod(column_row, wide)
        corner = cells.left >> 1, cells.bottom >> 1
        self._pile(pack(column + corner[0], row + corner[1], level + low), counts[held])

    def merge(self, other: HeightColumns) -> None:
        """Add the counts of another part of the same file."""
        for pile in other.piles:
            self._pile(pile.key, pile.count)

    def close(self) -> ColumnCounts:
        """Return all counts."""
        return join_counts(self.piles)

    def _pile(self, key: Int64Array, count: Int64Array) -> None:
        self.piles.append(ColumnCounts(key, count.astype(np.int64)))
        self.waiting += len(key)
        if self.waiting > _PILE:
            self.piles = [join_counts(self.piles)]
            # Where the area itself needs more, wait for as many again.
            self.waiting = -len(self.piles[0].key)


def join_counts(parts: list[ColumnCounts]) -> ColumnCounts:
    """Return the counts of several parts as one."""
    if not parts:
        return ColumnCounts(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64))
    keys = np.concatenate([part.key for part in parts])
    counts = np.concatenate([part.count for part in parts])
    order = np.argsort(keys, kind="stable")
    keys, counts = keys[order], counts[order]
    if not len(keys):
        return ColumnCounts(keys, counts)
    first = np.flatnonzero(np.diff(keys, prepend=keys[0] - 1))
    return ColumnCounts(keys[first], np.add.reduceat(counts, first))


def pack(column: Int64Array, row: Int64Array, level: Int64Array) -> Int64Array:
    """Return one number for column, row and bin, ordered by column, then row, then bin."""
    across = np.clip(column, -_PLACE_HALF, _PLACE_HALF - 1) + _PLACE_HALF
    along = np.clip(row, -_PLACE_HALF, _PLACE_HALF - 1) + _PLACE_HALF
    up = np.clip(level, -_BIN_HALF, _BIN_HALF - 1) + _BIN_HALF
    packed: Int64Array = (((across << _PLACE_BITS) | along) << _BIN_BITS) | up
    return packed


def unpack(key: Int64Array) -> tuple[Int64Array, Int64Array, Int64Array]:
    """Return column, row and bin."""
    level = (key & ((1 << _BIN_BITS) - 1)) - _BIN_HALF
    along = ((key >> _BIN_BITS) & ((1 << _PLACE_BITS) - 1)) - _PLACE_HALF
    return (key >> (_BIN_BITS + _PLACE_BITS)) - _PLACE_HALF, along, level
