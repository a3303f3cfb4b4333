"""Holes in what all files together cover: empty cells that points enclose, joined band by band.

Cells touch along their sides. What is empty and reaches the outside is no hole: the ragged rim of a
delivery is none, and tile borders inside it are not seen at all.

Bands come from the south. Of a hole that ends in a band nothing is kept but what is told of it; of
one that may go on, the longest run of each row and how much of it lies in each square of the map.
So memory follows the width and the height of a site, and neither its area nor its points.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.cloud.cell_cover import SIDE, Bands, BoolArray, Cover, Int64Array
from lidar_checks.cloud.cell_runs import Runs, connect, cut_runs, find_touching
from lidar_checks.cloud.void_runs import RIM, WordArray, list_runs, open_band

# The share of the cells beside a hole that hold water where it is water.
_WATER_SHARE = 0.5


@dataclass(frozen=True)
class Hole:
    """One hole.

    Args:
        cells: cells that it takes whole.
        centre: column and row of the middle of its longest run nearest to its middle row.
        is_water: most cells with points beside it hold water.
    """

    cells: int
    centre: tuple[int, int]
    is_water: bool


@dataclass(frozen=True)
class BandHoles:
    """The holes that end in one band.

    Args:
        counted: cells with points of the band.
        holes: the holes, in no order.
        squares: column and row of the squares of the map that they lie in, counted in squares, and
            their cells in it, int64, (3, n); a square may come several times.
    """

    counted: Cover
    holes: list[Hole]
    squares: Int64Array


def walk_holes(
    counted: Bands, water: Bands, square: int, least: int, side: int
) -> Iterator[BandHoles]:
    """Yield the bands, each with the holes that end in it.

    Args:
        counted: cells with points.
        water: cells with water.
        square: side of the square that has to fit, cells; at most 32.
        least: cells of the smallest hole that is told.
        side: cells along a side of a square of the map.
    """
    finder = HoleFinder(counted.span, least, side)
    for band in counted.rows:
        wet = water.read(band) if water.rows else None
        opened, here = open_band(counted, band, square), counted.read(band)
        yield BandHoles(here, *finder.add(band, opened, here, wet))


def measure_runs(runs: Runs, counted: Cover, water: Cover) -> list[Hole]:
    """Return what hangs together, of which all runs are at hand, as holes, largest first."""
    labels, number = np.unique(runs.label, return_inverse=True)
    places = np.stack([runs.row, runs.start, runs.stop])
    counts = np.zeros((len(labels), 3), dtype=np.int64)
    np.add.at(counts, number, count_cells(places, counted, water if len(water.keys) else None))
    longest = keep_longest(np.concatenate([[number], places]))
    holes = [tell_hole(longest, counts, each) for each in range(len(labels))]
    return sorted(holes, key=lambda hole: (-hole.cells, hole.centre))


class HoleFinder:
    """Holes of at least so many cells."""

    def __init__(self, span: tuple[int, int], least: int, side: int) -> None:
        """Start below the first band.

        Args:
            span: first column of cells that may hold a point, and the one after the last.
            least: cells of the smallest hole that is told.
            side: cells along a side of a square of the map.
        """
        self._span, self._least, self._side = span, least, side
        self._before: int | None = None
        self._begin()

    def _begin(self) -> None:
        """Leave nothing open but the outside, which is number 0 and lies below the next band."""
        left, right = self._span
        # Start, stop and number of the runs of the last row.
        self._edge = np.array([[left - 1], [right + 1], [0]])
        # As `count_cells`, by number of what is open, (n, 3).
        self._counts = np.zeros((1, 3), dtype=np.int64)
        # Number, row, start and stop of the longest run of each row.
        self._longest = np.empty((4, 0), dtype=np.int64)
        # Number, row and column of squares, and cells in them.
        self._squares = np.empty((4, 0), dtype=np.int64)

    def add(
        self, band: int, opened: WordArray, counted: Cover, water: Cover | None
    ) -> tuple[list[Hole], Int64Array]:
        """Return the holes that end in a band, and their squares, as in `BandHoles`.

        Args:
            band: row of its blocks; bands come in ascending order.
            opened: its empty cells that make a void, (n, 64).
            counted: its cells with points; has a block.
            water: its cells with water; None where there is none in all bands.
        """
        if self._before != band - 1:
            # A row of blocks without any point is outside.
            self._begin()
        self._before = band
        runs = np.stack(list_runs(opened, counted.keys[:, 0], band, self._span))
        old, new, count = self._number(runs)
        is_last = runs[0] == (band + 1) * SIDE - 1
        goes_on = np.zeros(count, dtype=np.bool_)
        goes_on[0] = goes_on[new[is_last]] = True
        size = np.zeros(count, dtype=np.int64)
        np.add.at(size, old, self._counts[:, 0])
        np.add.at(size, new, runs[2] - runs[1])
        # The outside is not told, nor what ends and is too small.
        is_told = goes_on | (size >= self._least)
        is_told[0] = False
        self._take(runs, new, old, is_told)
        chosen = is_told[new]
        counts = np.zeros((count, 3), dtype=np.int64)
        np.add.at(counts, old, self._counts)
        np.add.at(counts, new[chosen], count_cells(runs[:, chosen], counted, water))
        ended = is_told & ~goes_on
        holes = [tell_hole(self._longest, counts, each) for each in np.flatnonzero(ended).tolist()]
        _, up, across, cells = self._squares[:, ended[self._squares[0]]]
        self._keep_open(goes_on, counts, np.stack([*runs[1:, is_last], new[is_last]]))
        return holes, np.stack([across, up, cells])

    def _number(self, runs: Int64Array) -> tuple[Int64Array, Int64Array, int]:
        """Return new numbers for what was open and for each run, and how many there are."""
        open_count, edges = len(self._counts), self._edge.shape[1]
        below = np.full(edges, runs[0, 0] - 1)
        row, start, stop = np.concatenate([[below, *self._edge[:2]], runs], axis=1)
        node = np.concatenate([self._edge[2], open_count + np.arange(runs.shape[1])])
        first, second = find_touching(row, start, stop)
        left, right = self._span
        outside = node[(start < left) | (stop > right)]
        label = connect(
            open_count + runs.shape[1],
            np.concatenate([node[first], outside]),
            np.concatenate([node[second], np.zeros(len(outside), dtype=np.int64)]),
        )
        names, number = np.unique(label, return_inverse=True)
        return number[:open_count], number[open_count:], len(names)

    def _take(self, runs: Int64Array, new: Int64Array, old: Int64Array, is_told: BoolArray) -> None:
        """Join what was open with the runs of a band, under new numbers."""
        for table in (self._longest, self._squares):
            table[0] = old[table[0]]
        chosen = is_told[new]
        runs, new = runs[:, chosen], new[chosen]
        run, row, column, cells = cut_runs(runs[0], runs[1], runs[2], self._side)
        squares = np.stack([new[run], row // self._side, column // self._side, cells])
        before = self._longest[:, is_told[self._longest[0]]]
        self._longest = keep_longest(np.concatenate([before, [new, *runs]], axis=1))
        before = self._squares[:, is_told[self._squares[0]]]
        self._squares = add_squares(np.concatenate([before, squares], axis=1))

    def _keep_open(self, goes_on: BoolArray, counts: Int64Array, edge: Int64Array) -> None:
        """Keep what may go on, numbered anew."""
        number = np.cumsum(goes_on) - 1
        self._counts = counts[goes_on]
        self._longest = self._longest[:, goes_on[self._longest[0]]]
        self._squares = self._squares[:, goes_on[self._squares[0]]]
        self._edge = edge
        for table, place in ((self._longest, 0), (self._squares, 0), (edge, 2)):
            table[place] = number[table[place]]


def tell_hole(longest: Int64Array, counts: Int64Array, number: int) -> Hole:
    """Return one hole.

    Args:
        longest: as `keep_longest` returns it.
        counts: as `count_cells` counts, by number, (n, 3).
        number: of the hole.
    """
    low, high = np.searchsorted(longest[0], [number, number + 1]).tolist()
    _, row, start, stop = longest[:, low:high]
    off = np.abs(2 * row - int(row[0]) - int(row[-1]))
    best = int(np.lexsort((start, row, start - stop, off))[0])
    centre = (int(start[best] + stop[best]) // 2, int(row[best]))
    cells, held, wet = counts[number].tolist()
    return Hole(cells, centre, wet > 0 and wet >= _WATER_SHARE * held)


def keep_longest(runs: Int64Array) -> Int64Array:
    """Return the longest run of each row, the westernmost of several, by number and row.

    Args:
        runs: number, row, start and stop, int64, (4, n).
    """
    number, row, start, stop = runs
    runs = runs[:, np.lexsort((start, start - stop, row, number))]
    is_first = np.ones(runs.shape[1], dtype=np.bool_)
    is_first[1:] = (np.diff(runs[:2]) != 0).any(axis=0)
    kept: Int64Array = runs[:, is_first]
    return kept


def add_squares(squares: Int64Array) -> Int64Array:
    """Return each square of each hole once, with all its cells, by number.

    Args:
        squares: number, row, column and cells, int64, (4, n).
    """
    number, up, across, _ = squares
    squares = squares[:, np.lexsort((across, up, number))]
    is_first = np.ones(squares.shape[1], dtype=np.bool_)
    is_first[1:] = (np.diff(squares[:3]) != 0).any(axis=0)
    first = np.flatnonzero(is_first)
    if not len(first):
        return squares
    cells = np.add.reduceat(squares[3], first)
    return np.concatenate([squares[:3, first], cells[np.newaxis]])


def count_cells(runs: Int64Array, counted: Cover, water: Cover | None) -> Int64Array:
    """Return cells of each run, and how many west and east of it hold points and water, (n, 3).

    Args:
        runs: row, start and stop, int64, (3, n).
        counted: cells with points.
        water: cells with water; without them nothing is counted beside a run.
    """
    row, start, stop = runs
    counts = np.zeros((len(row), 3), dtype=np.int64)
    counts[:, 0] = stop - start
    if water is not None:
        reach = np.arange(1, RIM + 1)
        columns = np.concatenate([start[:, None] - reach, stop[:, None] + reach - 1], axis=1)
        rows = np.repeat(row, 2 * RIM)
        wet = water.holds(columns.reshape(-1), rows)
        held = counted.holds(columns.reshape(-1), rows) | wet
        for place, each in ((1, held), (2, wet)):
            counts[:, place] = each.reshape(-1, 2 * RIM).sum(axis=1)
    return counts
