"""In which cells the points of a slice lie, worked out once a slice for all that count by cells.

Columns and rows are counted from the least of the slice: what is left is small, and small numbers
are divided several times faster (measured).
"""

from __future__ import annotations

from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass

IndexArray = NDArray[np.integer[Any]]
BoolArray = NDArray[np.bool_]

NEAR = 1 << 31
"""Points of a slice that lie less apart than this have offsets; these, and whatever is added to
bring them to the beginning of a cell, fit 32 bits."""


@dataclass(frozen=True)
class SliceCells:
    """The smallest rectangle of cells round the points of a slice.

    Args:
        left, bottom: first column and row.
        wide, high: cells across and along.
        columns, rows: of the cell of each point, counted from the first; unsigned 32-bit, or
            int64 where the points lie far apart, (n,).
    """

    left: int
    bottom: int
    wide: int
    high: int
    columns: IndexArray
    rows: IndexArray

    @property
    def size(self) -> int:
        """Return the number of cells."""
        return self.wide * self.high

    def number(self) -> IndexArray:
        """Return the place of each point's cell in the rectangle, row by row from the south, (n,).

        Only where `size` leaves room for more than itself in 32 bits.
        """
        index: IndexArray = self.rows * self.wide
        index += self.columns
        return index

    def take(self, chosen: NDArray[np.int64]) -> SliceCells:
        """Return the cells of some of the points, in the same rectangle."""
        columns, rows = self.columns.take(chosen), self.rows.take(chosen)
        return SliceCells(self.left, self.bottom, self.wide, self.high, columns, rows)

    def place(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return column and row of the cell of each point, int64, (n,)."""
        return (
            self.columns.astype(np.int64) + self.left,
            self.rows.astype(np.int64) + self.bottom,
        )


def find_cells(points: PointChunk, cell: int, whole: int = 1) -> SliceCells:
    """Return the cells of the points of a slice, which must have points.

    Args:
        points: the slice.
        cell: side of a cell, lattice steps.
        whole: begin and end at whole multiples of so many cells.
    """
    found = [_find_along(points, axis, cell, whole) for axis in ("x", "y")]
    (left, wide, columns), (bottom, high, rows) = found
    return SliceCells(left, bottom, wide, high, columns, rows)


def _find_along(
    points: PointChunk, axis: str, cell: int, whole: int
) -> tuple[int, int, IndexArray]:
    """Return the first cell along an axis, how many there are, and those of the points."""
    low, high = points.span(axis)
    first = low // (cell * whole) * whole
    last = (high // (cell * whole) + 1) * whole
    start = first * cell

    def count() -> IndexArray:
        if high - start < NEAR:
            near = share_offsets(points, axis)
            return (near + np.uint32(low - start)) // np.uint32(min(cell, NEAR))
        along = points.x if axis == "x" else points.y
        return (along - start) // cell

    cells = points.shared(f"cells along {axis}, {cell} steps from {first}", count)
    return first, last - first, cast("IndexArray", cells)


def share_offsets(points: PointChunk, axis: str) -> NDArray[np.uint32]:
    """Return how far each point lies from the least of the slice; they span less than 2^31."""
    along = {"x": points.x, "y": points.y, "z": points.z}[axis]

    def subtract() -> NDArray[np.uint32]:
        # The low halves alone: what is lost above them is the same for all.
        return along.astype(np.uint32) - np.uint32(points.span(axis)[0] & 0xFFFFFFFF)

    return cast("NDArray[np.uint32]", points.shared(f"offset along {axis}", subtract))


def find_between(points: PointChunk, axis: str, low: int, high: int) -> BoolArray | bool:
    """Say of each point whether it lies between two places along an axis, both ends inside.

    Args:
        points: the slice, which must have points.
        axis: `x` or `y`.
        low: the lower place, lattice steps.
        high: the higher place, lattice steps.

    Returns:
        Bool, (n,); or one answer for all, where the box of the slice settles it.
    """
    least, most = points.span(axis)
    low, high = max(low, least), min(high, most)
    if low > high:
        return False
    if (low, high) == (least, most):
        return True
    if most - least < NEAR:
        # What lies below becomes a great number where there is no sign.
        above = share_offsets(points, axis) - np.uint32(low - least)
        return np.asarray(above <= np.uint32(high - low))
    along = points.x if axis == "x" else points.y
    return np.asarray((along >= low) & (along <= high))


def find_outside(
    points: PointChunk, across: tuple[int, int], along: tuple[int, int]
) -> NDArray[np.int64]:
    """Return which points of a slice lie outside of a box, int64, (m,).

    Args:
        points: the slice, which must have points.
        across: ends of the box in X, lattice steps, both inside.
        along: the same in Y.
    """
    inside = [find_between(points, axis, *ends) for axis, ends in (("x", across), ("y", along))]
    if any(each is False for each in inside):
        return np.arange(len(points))
    marks = [each for each in inside if not isinstance(each, bool)]
    if not marks:
        return np.empty(0, dtype=np.int64)
    both = marks[0] if len(marks) == 1 else marks[0] & marks[1]
    return np.flatnonzero(~both)
