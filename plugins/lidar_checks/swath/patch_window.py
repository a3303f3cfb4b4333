"""The patches that the points of a slice lie in, found once for all that is counted by patch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk

Int64Array = NDArray[np.int64]

# A slice whose patches span more than this is looked at point by point.
_MOST = 1 << 18


class PatchWindow:
    """The smallest rectangle of patches round the points of a slice.

    Attributes:
        columns, rows: patch of each point, int64, (n,).
        left, bottom: first column and row; both even, so that columns of heights, which are two
            patches wide, begin here.
        wide, high: patches across and along, both even.
        index: place of each point's patch in the rectangle, row by row; None where it is too large.
    """

    def __init__(self, points: PointChunk, side: int) -> None:
        """Take a slice with points, and the side of a patch in lattice steps."""
        self.columns = points.x // side
        self.rows = points.y // side
        self.left, self.bottom = int(self.columns.min()) & ~1, int(self.rows.min()) & ~1
        self.wide = (int(self.columns.max()) - self.left | 1) + 1
        self.high = (int(self.rows.max()) - self.bottom | 1) + 1
        self.index: Int64Array | None = None
        if self.wide * self.high <= _MOST:
            index = self.rows - self.bottom
            index *= self.wide
            index += self.columns
            index -= self.left
            self.index = index

    def list_patches(self) -> tuple[Int64Array, Int64Array]:
        """Return column and row of every patch of the rectangle, (1, wide) and (high, 1)."""
        across = np.arange(self.left, self.left + self.wide, dtype=np.int64)
        along = np.arange(self.bottom, self.bottom + self.high, dtype=np.int64)
        return across[np.newaxis, :], along[:, np.newaxis]
