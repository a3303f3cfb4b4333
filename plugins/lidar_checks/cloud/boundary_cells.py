"""The cells whose centre lies within a boundary, as runs of a row.

Whole cells are found by where the edges of the rings cross the middle of each row (even and odd, so
that holes need no direction). Runs, not maps: a boundary costs as much as its height.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.model.boundary import Polygon

Int64Array = NDArray[np.int64]

MOST_CELLS = 1 << 28
"""Cells of the box round a boundary; with cells of 2 m more than 1,000 km²."""

MOST_COLUMNS = 1 << 19
"""Cells from west to east, so that a strip of it fits into memory."""

_MOST_CROSSINGS = 1 << 24


@dataclass(frozen=True)
class Rows:
    """Cells in rows, without overlap: `start` up to `stop` of a row.

    Args:
        row: int64, (n,), ascending.
        start: first column, (n,), ascending within a row.
        stop: column after the last, (n,).
    """

    row: Int64Array
    start: Int64Array
    stop: Int64Array

    def count(self) -> int:
        """Return the number of cells."""
        return int((self.stop - self.start).sum())


def fill_rows(polygons: Sequence[Polygon], side: float, reach: int = 0) -> Rows | None:
    """Return the cells whose centre lies in any of some polygons; None where they are too many.

    Args:
        polygons: outer rings and holes.
        side: side of a cell in the unit of the polygons.
        reach: cells that the area is widened by, to all sides alike.
    """
    filled = [_fill(polygon, side) for polygon in polygons]
    parts = [each for each in filled if each is not None]
    if len(parts) < len(filled):
        return None
    joined = _join(*np.concatenate(parts, axis=1))
    if not len(joined.row):
        return joined
    wide = int(joined.stop.max() - joined.start.min()) + 2 * reach
    tall = int(joined.row[-1] - joined.row[0]) + 1 + 2 * reach
    if wide > MOST_COLUMNS or wide * tall > MOST_CELLS:
        return None
    if not reach:
        return joined
    if len(joined.row) * (2 * reach + 1) > _MOST_CROSSINGS:
        return None
    wider = []
    for step in range(-reach, reach + 1):
        wide = math.isqrt(reach * reach - step * step)
        wider.append(np.stack([joined.row + step, joined.start - wide, joined.stop + wide]))
    return _join(*np.concatenate(wider, axis=1))


def _fill(polygon: Polygon, side: float) -> Int64Array | None:
    """Return row, start and stop of the runs of one polygon, int64, (3, n)."""
    rings = [np.array(ring, dtype=np.float64) / side - 0.5 for ring in polygon]
    low = np.concatenate([ring[:-1] for ring in rings])
    high = np.concatenate([ring[1:] for ring in rings])
    wide, tall = (np.ptp(low, axis=0) + 1).tolist()
    if wide * tall > MOST_CELLS:
        return None
    downward = low[:, 1] > high[:, 1]
    low[downward], high[downward] = high[downward], low[downward]
    first, last = (np.ceil(each[:, 1]).astype(np.int64) for each in (low, high))
    number = last - first
    if int(number.sum()) > _MOST_CROSSINGS:
        return None
    edge = np.repeat(np.arange(len(number)), number)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(number) - number, number) + first[edge]
    share = (row - low[edge, 1]) / (high[edge, 1] - low[edge, 1])
    column = np.ceil(low[edge, 0] + share * (high[edge, 0] - low[edge, 0])).astype(np.int64)
    order = np.lexsort((column, row))
    row, column = row[order], column[order]
    # A row is crossed an even number of times, for each ring is closed.
    return np.stack([row[::2], column[::2], column[1::2]])


def _join(row: Int64Array, start: Int64Array, stop: Int64Array) -> Rows:
    """Return the same cells, each once."""
    held = start < stop
    row, start, stop = row[held], start[held], stop[held]
    if not len(row):
        return Rows(row, start, stop)
    order = np.lexsort((start, row))
    row, start, stop = row[order], start[order], stop[order]
    span = int(stop.max() - start.min()) + 2
    base = (row - row[0]) * span - start.min()
    furthest = np.maximum.accumulate(stop + base)
    new = np.ones(len(row), dtype=np.bool_)
    new[1:] = (start + base)[1:] > furthest[:-1]
    begin = np.flatnonzero(new)
    last = np.append(begin[1:], len(row)) - 1
    return Rows(row[begin], start[begin], furthest[last] - base[begin])
