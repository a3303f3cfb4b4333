"""What the checks of density and cover count together: one tally a file, as each of them asks.

A check asks for counts per cell, for the mere set of cells that hold a point, or for such a set by
point source. What two ask for alike is kept once. Withheld points never count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field
from functools import partial
from typing import Literal, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.block_grid import BlockGrid, BlockKey, PackedBlock, pack_blocks
from lidar_checks.cloud.cell_cover import PackedCells
from lidar_checks.cloud.cell_set import CellSet
from lidar_checks.cloud.class_codes import BUILDING, GROUND, WATER
from lidar_checks.cloud.kind_table import KindTable, count_kinds
from lidar_checks.cloud.slice_cells import SliceCells, find_cells
from lidar_checks.cloud.void_runs import RIM, SQUARE, close_gaps

Counted = Literal["first-returns", "last-returns", "first-or-only", "all"]
Kind = Counted | Literal["ground", "water", "building"]
BoolArray = NDArray[np.bool_]
SourceArray = NDArray[np.uint16]
T = TypeVar("T", bound=np.generic)

_CLASSES: dict[str, int] = {"ground": GROUND, "water": WATER, "building": BUILDING}
_SETS = ("cells", "closed")

MAX_SOURCES = 1024
"""Point sources of one file that are told apart."""


@dataclass(frozen=True, order=True)
class Wanted:
    """What a check asks for.

    Args:
        form: counts per cell, cells that hold a point, such cells by point source, or such cells
            with the gaps closed that are too small for a void.
        kind: which points.
        cell: side of a cell, lattice steps.
    """

    form: Literal["counts", "cells", "closed", "sources"]
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
        self.groups: dict[int, list[Wanted]] = {}
        for wanted_here in listed:
            self.groups.setdefault(wanted_here.cell, []).append(wanted_here)
        self.counted = dict.fromkeys((w for w in listed if w.form == "counts"), 0)
        self.grids = {w: BlockGrid(layers=2) for w in self.counted}
        self.sets = {w: _make_set(w) for w in listed if w.form in _SETS}
        self.sources: dict[Wanted, _Sources] = {
            w: _Sources() for w in listed if w.form == "sources"
        }

    def chunk(self, points: PointChunk) -> None:
        """Count the points that are not withheld."""
        withheld = points["withheld"]
        kept = np.flatnonzero(np.equal(withheld, 0)) if withheld.any() else None
        number = _pick(points["return_number"], kept)
        self.points += len(number)
        self.unnumbered += int(np.count_nonzero(number == 0))
        if not len(number):
            return
        masks: dict[Kind, BoolArray] = {}
        for cell, asked in self.groups.items():
            for wanted in asked:
                if wanted.kind not in masks:
                    masks[wanted.kind] = _pick(choose_points(points, wanted.kind), kept)
            cells = find_cells(points, cell)
            cells = cells if kept is None else cells.take(kept)
            source = None
            if any(wanted.form == "sources" for wanted in asked):
                source = _pick(cast("SourceArray", points["point_source_id"]), kept)
            table = count_kinds(
                cells,
                {wanted.kind: masks[wanted.kind] for wanted in asked},
                source,
                exactly=any(wanted.form not in _SETS for wanted in asked),
            )
            for wanted in asked:
                if table is not None:
                    self._add_table(wanted, table)
                else:
                    self._add_points(wanted, cells, masks[wanted.kind], source)

    def _add_table(self, wanted: Wanted, table: KindTable) -> None:
        """Add what a slice holds from its counts by kind and source."""
        counted = table.add_up(wanted.kind)
        if wanted.form == "sources":
            self.sources[wanted].add_table(table, wanted.kind)
        elif wanted.form in _SETS and counted is not None:
            self.sets[wanted].mark(table.corner, counted > 0)
        elif wanted.form == "counts":
            self.grids[wanted].add_planes(
                table.corner, (table.add_up(wanted.kind, having=False), counted)
            )
            self.counted[wanted] += 0 if counted is None else int(counted.sum())

    def _add_points(
        self, wanted: Wanted, cells: SliceCells, mask: BoolArray, source: SourceArray | None
    ) -> None:
        """Add what a slice holds point by point: the points lie too far apart for a table."""
        if wanted.form == "counts":
            self.counted[wanted] += int(np.count_nonzero(mask))
            self.grids[wanted].add(*cells.place(), mask)
            return
        chosen = np.flatnonzero(mask)
        columns, rows = cells.take(chosen).place()
        if wanted.form in _SETS:
            self.sets[wanted].add(columns, rows)
        elif source is not None and len(chosen):
            self.sources[wanted].add(columns, rows, source.take(chosen))

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


def _make_set(wanted: Wanted) -> CellSet:
    if wanted.form == "cells":
        return CellSet()
    return CellSet(partial(close_gaps, square=SQUARE, rim=RIM))


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

    def add_table(self, table: KindTable, kind: Kind) -> None:
        for place, each in enumerate(table.sources):
            counts = table.add_up(kind, source=place)
            number = 0 if counts is None else int(counts.sum())
            if counts is None or not number:
                continue
            if not self._hold(each):
                return
            self.counted[each] += number
            self.sets[each].mark(table.corner, counts > 0)

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


def _pick(array: NDArray[T], kept: NDArray[np.int64] | None) -> NDArray[T]:
    return array if kept is None else array.take(kept)


def choose_points(points: PointChunk, kind: Kind) -> BoolArray:
    """Say of each point whether it is of a kind."""
    if kind == "all":
        return np.ones(len(points), dtype=np.bool_)
    if kind in _CLASSES:
        return np.equal(cast("NDArray[np.uint8]", points["classification"]), _CLASSES[kind])
    number = cast("NDArray[np.uint8]", points["return_number"])
    total = cast("NDArray[np.uint8]", points["number_of_returns"])
    if kind == "first-returns":
        return np.equal(number, 1)
    if kind == "last-returns":
        return np.equal(number, total) & np.greater(number, 0)
    # An only return counts even where its return number was lost.
    return np.equal(number, 1) | np.equal(total, 1)
