"""Sums by cell of one side of a comparison, on a grid that both sides share.

Where sums of hashes agree, the points of a cell agree (but for once in some 2^64 accidents). The
grid covers what headers say of the extent; points beyond it are counted in one cell more, which
has no place. Memory is bounded: cells grow until there are no more than `MOST_CELLS`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.lattice import DEGREE_LATTICE
from ledger.model.chunk import Int64Array, Lattice, PointChunk
from ledger.model.header import LasHeader
from ledger.pointwords import Uint64Array

MOST_CELLS = 1 << 21

# Heights beyond this many thousandths of a unit from the lowest would let sums of squares overflow.
_HEIGHT_LIMIT = 1 << 24
_DEGREE_CELLS = 100_000  # cells a degree, about a metre


@dataclass(frozen=True)
class Grid:
    """Square cells over the extent of both sides, in lattice steps.

    Args:
        lattice: the lattice.
        west: left border.
        south: lower border.
        step: side of a cell.
        columns: cells along X.
        rows: cells along Y.
        floor: height that sums are taken from.
    """

    lattice: Lattice
    west: int
    south: int
    step: int
    columns: int
    rows: int
    floor: int

    @property
    def size(self) -> int:
        """Return the number of cells, that of points beyond the grid included."""
        return self.columns * self.rows + 1

    def find_cells(self, chunk: PointChunk) -> Int64Array:
        """Return the number of the cell of each point, int64, (n,); the last for one beyond."""
        column = (chunk.x - self.west) // self.step
        row = (chunk.y - self.south) // self.step
        inside = (column >= 0) & (column < self.columns) & (row >= 0) & (row < self.rows)
        return np.where(inside, row * self.columns + column, self.size - 1)

    def find_middle(self, cell: int) -> tuple[float, float]:
        """Return the middle of a cell in units of the files."""
        row, column = divmod(cell, self.columns)
        x = self.west + (column + 0.5) * self.step
        y = self.south + (row + 0.5) * self.step
        return x / self.lattice.steps_xy, y / self.lattice.steps_xy


def make_grid(headers: Iterable[LasHeader], lattice: Lattice) -> Grid:
    """Return the grid over the boxes that headers state, with cells of one unit or more.

    Args:
        headers: of the files of both sides; a box that is no number is passed over.
        lattice: the lattice.
    """
    boxes = [
        (header.minimum, header.maximum)
        for header in headers
        if all(math.isfinite(value) for value in header.minimum + header.maximum)
    ] or [((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))]
    low = [min(box[0][axis] for box in boxes) for axis in range(3)]
    high = [max(box[1][axis] for box in boxes) for axis in range(3)]
    step = lattice.steps_xy // (_DEGREE_CELLS if lattice == DEGREE_LATTICE else 1)
    west, south, east, north = (
        math.floor(value * lattice.steps_xy) for value in (*low[:2], *high[:2])
    )
    west, south = west - west % step, south - south % step
    while True:
        columns, rows = ((far - near) // step + 1 for near, far in ((west, east), (south, north)))
        if columns * rows < MOST_CELLS:
            floor = math.floor(low[2] * lattice.steps_z)
            return Grid(lattice, west, south, step, columns, rows, floor)
        step *= 2


class CellTally:
    """Sums by cell of the points added so far.

    Attributes:
        count: points, (cells,).
        geometry: sum of the geometry hashes modulo 2^64, (cells,).
        full: sum of the full hashes modulo 2^64, (cells,).
        height: sum of the heights above the floor of the grid, lattice steps, (cells,).
        squares: sum of their squares, thousandths of a unit squared, (cells,).
    """

    def __init__(self, grid: Grid) -> None:
        """Start with no points."""
        self.grid = grid
        self.count = np.zeros(grid.size, np.int64)
        self.geometry = np.zeros(grid.size, np.uint64)
        self.full = np.zeros(grid.size, np.uint64)
        self.height = np.zeros(grid.size, np.int64)
        self.squares = np.zeros(grid.size, np.int64)

    def add(self, chunk: PointChunk, geometry: Uint64Array, full: Uint64Array) -> None:
        """Take in some points with their hashes, uint64, (n,)."""
        cells = self.grid.find_cells(chunk)
        heights, squares = self._measure(chunk)
        np.add.at(self.count, cells, np.ones(len(chunk), np.int64))
        np.add.at(self.geometry, cells, geometry)
        np.add.at(self.full, cells, full)
        np.add.at(self.height, cells, heights)
        np.add.at(self.squares, cells, squares)

    def _measure(self, chunk: PointChunk) -> tuple[Int64Array, Int64Array]:
        steps = chunk.lattice.steps_z
        limit = _HEIGHT_LIMIT * steps // 1000
        heights = np.clip(chunk.z - self.grid.floor, -limit, limit)
        rough = heights * 1000 // steps
        return heights, rough * rough

    def compute_means(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean height above the floor and standard deviation by cell, units; NaN for none.

        Both (cells,).
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = self.height / self.count / self.grid.lattice.steps_z
            variance = self.squares / self.count / 1e6 - mean * mean
        return mean, np.sqrt(np.maximum(variance, 0.0))
