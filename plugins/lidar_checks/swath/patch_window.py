"""The patches that the points of a slice lie in, found once for all that is counted by patch."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from lidar_checks.cloud.slice_cells import NEAR, IndexArray, SliceCells, find_cells, share_offsets

Int64Array = NDArray[np.int64]

# A slice whose patches span more than this is looked at point by point.
_MOST = 1 << 18


class PatchWindow:
    """The smallest rectangle of patches round the points of a slice.

    Attributes:
        points: the slice.
        cells: its patches; the first column and row are even, and so is the number of both, so
            that columns of heights, which are two patches wide, begin and end with them.
        is_dense: whether the rectangle is small enough to look patches up in it.
    """

    def __init__(self, points: PointChunk, side: int) -> None:
        """Take a slice with points, and the side of a patch in lattice steps."""
        self.points = points
        self.cells: SliceCells = find_cells(points, side, 2)
        self.is_dense = self.cells.size <= _MOST

    @cached_property
    def places(self) -> tuple[Int64Array, Int64Array]:
        """Return column and row of the patch of each point, int64, (n,)."""
        return self.cells.place()

    @cached_property
    def index(self) -> Int64Array:
        """Return the place of each point's patch in the rectangle, row by row; only if dense."""
        return self.cells.number().astype(np.int64, copy=False)

    def list_patches(self) -> tuple[Int64Array, Int64Array]:
        """Return column and row of every patch of the rectangle, (1, wide) and (high, 1)."""
        cells = self.cells
        across = np.arange(cells.left, cells.left + cells.wide, dtype=np.int64)
        along = np.arange(cells.bottom, cells.bottom + cells.high, dtype=np.int64)
        return across[np.newaxis, :], along[:, np.newaxis]

    def find_bins(self, step: int) -> tuple[int, int, IndexArray]:
        """Return the lowest bin of height, how many there are, and each point's from there, (n,).

        Args:
            step: height of a bin, lattice steps.
        """
        low, high = self.points.span("z")
        first, last = low // step, high // step
        start = first * step
        if high - start < NEAR:
            bins = share_offsets(self.points, "z") + np.uint32(low - start)
            return first, last - first + 1, bins // np.uint32(min(step, NEAR))
        return first, last - first + 1, (self.points.z - start) // step
