"""What the checks of density and cover count together: one tally a file, as each of them asks.

A check asks for counts per cell, for the mere set of cells that hold a point, or for such a set by
point source. What two ask for alike is kept once. Withheld points never count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from lidar_checks.cloud.block_grid import BlockGrid, BlockKey, PackedBlock, pack_blocks
from lidar_checks.cloud.cell_set import SIDE, CellSet, PackedCells
from lidar_checks.cloud.class_codes import GROUND, WATER

Counted = Literal["first-returns", "last-returns", "first-or-only", "all"]
Kind = Counted | Literal["ground", "water"]
BoolArray = NDArray[np.bool_]
T = TypeVar("T", bound=np.generic)

MAX_SOURCES = 1024
"""Point sources of one file that are told apart."""

# The cells of all sources of a slice are marked at once in a window of no more cells than this.
_WINDOW, _WINDOW_FREE, _WINDOW_A_POINT = 1 << 22, 1 << 16, 32


@dataclass(frozen=True, order=True)
class Wanted:
    """What a check asks for.

    Args:
        form: counts per cell, cells that hold a point, or such cells by point source.
        kind: which points.
        cell: side of a cell, lattice steps.
    """

    form: Literal["counts", "cells", "sources"]
    kind: Kind
    cell: int


@dataclass(frozen=True)
class CountedCells:
    """Counts of one file.

    Args:
        counted: points of the wanted kind.
        scattered: the points lie too far apart to be kept by cell.
        blocks: cells by block: covered by any kind, and counts of the wanted kind.
    """

    counted: int
    scattered: bool
    blocks: dict[BlockKey, PackedBlock]


@dataclass(frozen=True)
class SourceCells:
    """Points of one file by point source.

    Args:
        counted: points of the wanted kind by point source id.
        cells: the cells that hold one.
        crowded: there are more sources than are told apart.
    """

    counted: dict[int, int]
    cells: dict[int, PackedCells]
    crowded: bool = False


@dataclass(frozen=True)
class CoverSummary:
    """What is left of a file.

    Args:
        points: points that are not withheld.
        unnumbered: those whose return number is 0.
        counts: counts as asked for.
        cells: cells as asked for.
        sources: cells by point source, as asked for.
    """

    points: int
    unnumbered: int
    counts: dict[Wanted, CountedCells] = field(default_factory=dict)
    cells: dict[Wanted, PackedCells] = field(default_factory=dict)
    sources: dict[Wanted, SourceCells] = field(default_factory=dict)


class CoverTally:
    """Counts of one file."""

    def __init__(self, wanted: Iterable[Wanted]) -> None:
        """Take what is asked for."""
        listed = tuple(wanted)
        self.points = self.unnumbered = 0
        self.counted = dict.fromkeys((w for w in listed if w.form == "counts"), 0)
        self.grids = {w: BlockGrid(layers=2) for w in self.counted}
        self.sets = {w: CellSet() for w in listed if w.form == "cells"}
        self.sources: dict[Wanted, _Sources] = {
            w: _Sources() for w in listed if w.form == "sources"
        }

    def chunk(self, points: PointChunk) -> None:
        """Count the points that are not withheld."""
        withheld = points["withheld"].astype(np.bool_)
        kept = ~withheld if withheld.any() else None
        number = _pick(points["return_number"], kept)
        self.points += len(number)
        self.unnumbered += int(np.count_nonzero(number == 0))
        masks: dict[str, BoolArray] = {}
        for wanted in (*self.grids, *self.sets, *self.sources):
            if wanted.kind not in masks:
                masks[wanted.kind] = _pick(choose_points(points, wanted.kind), kept)
            mask = masks[wanted.kind]
            columns, rows = (_pick(share_cells(points, a, wanted.cell), kept) for a in "xy")
            if wanted.form == "counts":
                self.counted[wanted] += int(np.count_nonzero(mask))
                self.grids[wanted].add(columns, rows, mask)
            elif mask.any():
                every = bool(mask.all())
                columns, rows = (each if every else each[mask] for each in (columns, rows))
                if wanted.form == "cells":
                    self.sets[wanted].add(columns, rows)
                else:
                    source = _pick(points["point_source_id"], kept)
                    self.sources[wanted].add(columns, rows, source if every else source[mask])

    def merge(self, other: CoverTally) -> None:
        """Add the counts of another part of the same file."""
        self.points += other.points
        self.unnumbered += other.unnumbered
        for wanted, grid in other.grids.items():
            self.counted[wanted] += other.counted[wanted]
            self.grids[wanted].merge(grid)
        for wanted, cells in other.sets.items():
            self.sets[wanted].merge(cells)
        for wanted, sources in other.sources.items():
            self.sources[wanted].merge(sources)

    def close(self) -> CoverSummary:
        """Return the counts, each as small as it can be."""
        counts = {
            wanted: CountedCells(self.counted[wanted], grid.overflown, pack_blocks(grid))
            for wanted, grid in self.grids.items()
        }
        return CoverSummary(
            self.points,
            self.unnumbered,
            counts,
            {wanted: cells.close() for wanted, cells in self.sets.items()},
            {wanted: sources.close() for wanted, sources in self.sources.items()},
        )


class _Sources:
    """Points and their cells by point source."""

    def __init__(self) -> None:
        self.counted: dict[int, int] = {}
        self.sets: dict[int, CellSet] = {}
        self.crowded = False

    def add(
        self,
        columns: NDArray[np.int64],
        rows: NDArray[np.int64],
        source: NDArray[np.generic],
    ) -> None:
        numbers = np.bincount(source.astype(np.int64))
        present = np.flatnonzero(numbers).tolist()
        if len(present) > 1 and self._mark(columns, rows, source, numbers):
            return
        if len(present) > 1:
            # Sorted once: a mask for each of many sources costs more.
            order = np.argsort(source, kind="stable")
            columns, rows = columns[order], rows[order]
        start = 0
        for each in present:
            if not self._hold(each):
                return
            stop = start + int(numbers[each])
            self.counted[each] += stop - start
            self.sets[each].add(columns[start:stop], rows[start:stop])
            start = stop

    def _mark(
        self,
        columns: NDArray[np.int64],
        rows: NDArray[np.int64],
        source: NDArray[np.generic],
        numbers: NDArray[np.int64],
    ) -> bool:
        """Mark the cells of all sources at once; False where their window is too large for it."""
        left, bottom = int(columns.min()) // SIDE, int(rows.min()) // SIDE
        wide = (int(columns.max()) // SIDE - left + 1) * SIDE
        high = (int(rows.max()) // SIDE - bottom + 1) * SIDE
        present = np.flatnonzero(numbers)
        if len(present) * wide * high > min(_WINDOW, _WINDOW_FREE + _WINDOW_A_POINT * len(rows)):
            return False
        start = np.zeros(len(numbers), dtype=np.int64)
        # The first cell of the window of each source, moved so that a cell needs no shift.
        start[present] = np.arange(len(present)) * (wide * high) - (bottom * wide + left) * SIDE
        index = rows * wide
        index += columns
        index += start[source.astype(np.int64)]
        flags = np.zeros((len(present), high, wide), dtype=np.bool_)
        flags.reshape(-1)[index] = True
        for place, each in enumerate(present.tolist()):
            if not self._hold(each):
                break
            self.counted[each] += int(numbers[each])
            self.sets[each].mark((left, bottom), flags[place])
        return True

    def merge(self, other: _Sources) -> None:
        if other.crowded:
            self._give_up()
        for each, cells in other.sets.items():
            if not self._hold(each):
                return
            self.counted[each] += other.counted[each]
            self.sets[each].merge(cells)

    def close(self) -> SourceCells:
        order = sorted(self.sets)
        counted = {each: self.counted[each] for each in order}
        cells = {each: self.sets[each].close() for each in order}
        return SourceCells(counted, cells, self.crowded)

    def _hold(self, source: int) -> bool:
        if self.crowded:
            return False
        if source not in self.sets:
            if len(self.sets) >= MAX_SOURCES:
                self._give_up()
                return False
            self.sets[source], self.counted[source] = CellSet(), 0
        return True

    def _give_up(self) -> None:
        self.crowded = True
        self.sets.clear()
        self.counted.clear()


def _pick(array: NDArray[T], kept: BoolArray | None) -> NDArray[T]:
    return array if kept is None else array[kept]


def share_cells(points: PointChunk, axis: str, cell: int) -> NDArray[np.int64]:
    """Return the column or row of the cell of each point, shared among checks."""
    along = points.x if axis == "x" else points.y
    shared = points.shared(f"cell {axis}, {cell} steps", lambda: along // cell)
    return cast("NDArray[np.int64]", shared)


def choose_points(points: PointChunk, kind: Kind) -> BoolArray:
    """Say of each point whether it is of a kind."""
    if kind == "all":
        return np.ones(len(points), dtype=np.bool_)
    if kind in ("ground", "water"):
        code = cast("NDArray[np.uint8]", points["classification"])
        return np.equal(code, GROUND if kind == "ground" else WATER)
    number = cast("NDArray[np.uint8]", points["return_number"])
    total = cast("NDArray[np.uint8]", points["number_of_returns"])
    if kind == "first-returns":
        return np.equal(number, 1)
    if kind == "last-returns":
        return np.equal(number, total) & np.greater(number, 0)
    # An only return counts even where its return number was lost.
    return np.equal(number, 1) | np.equal(total, 1)
