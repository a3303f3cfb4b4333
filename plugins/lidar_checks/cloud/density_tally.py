"""How many points of the kind that counts lie in each cell of one file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from lidar_checks.cloud.block_grid import BlockGrid, BlockKey, PackedBlock, pack_blocks

Counted = Literal["first-returns", "last-returns", "first-or-only", "all"]


@dataclass(frozen=True)
class DensitySummary:
    """What is left of a file.

    Args:
        points: points that are not withheld.
        counted: those of the counted kind.
        unnumbered: those whose return number is 0.
        scattered: the points lie too far apart to be kept by cell.
        blocks: cells by block: covered by any kind, and counts of the counted kind.
    """

    points: int
    counted: int
    unnumbered: int
    scattered: bool
    blocks: dict[BlockKey, PackedBlock]


class DensityTally:
    """Counts per cell of one file."""

    def __init__(self, counted: Counted, cell: int) -> None:
        """Take what counts and the side of a cell in lattice steps."""
        self.kind, self.cell = counted, cell
        self.points = self.counted = self.unnumbered = 0
        self.grid = BlockGrid(layers=2)

    def chunk(self, points: PointChunk) -> None:
        """Count the points that are not withheld."""
        columns = _share_cells(points, "x", self.cell)
        rows = _share_cells(points, "y", self.cell)
        number = points["return_number"]
        layer = _choose(points, self.kind)
        withheld = points["withheld"].astype(np.bool_)
        if withheld.any():
            kept = ~withheld
            columns, rows, number, layer = columns[kept], rows[kept], number[kept], layer[kept]
        self.points += len(columns)
        self.counted += int(np.count_nonzero(layer))
        self.unnumbered += int(np.count_nonzero(number == 0))
        self.grid.add(columns, rows, layer)

    def merge(self, other: DensityTally) -> None:
        """Add the counts of another part of the same file."""
        self.points += other.points
        self.counted += other.counted
        self.unnumbered += other.unnumbered
        self.grid.merge(other.grid)

    def close(self) -> DensitySummary:
        """Return the counts, each block as small as it can be."""
        return DensitySummary(
            self.points,
            self.counted,
            self.unnumbered,
            self.grid.overflown,
            pack_blocks(self.grid),
        )


def _share_cells(points: PointChunk, axis: Literal["x", "y"], cell: int) -> NDArray[np.int64]:
    """Return the column or row of the cell of each point, shared among checks."""
    along = points.x if axis == "x" else points.y
    shared = points.shared(f"cell {axis}, {cell} steps", lambda: along // cell)
    return cast("NDArray[np.int64]", shared)


def _choose(points: PointChunk, kind: Counted) -> NDArray[np.bool_]:
    """Say of each point whether it counts."""
    number = cast("NDArray[np.uint8]", points["return_number"])
    total = cast("NDArray[np.uint8]", points["number_of_returns"])
    chosen = np.ones(len(points), dtype=np.bool_)
    if kind == "first-returns":
        chosen = np.equal(number, 1)
    elif kind == "last-returns":
        chosen = np.equal(number, total) & np.greater(number, 0)
    elif kind == "first-or-only":
        # An only return counts even where its return number was lost.
        chosen = np.equal(number, 1) | np.equal(total, 1)
    return chosen
