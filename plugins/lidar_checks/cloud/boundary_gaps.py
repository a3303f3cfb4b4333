"""What of a boundary holds no point.

A cell is part of a gap where a square of cells without any point fits over it, so that sparse
points leave no gap by chance. A gap begins with cells that lie within the boundary to all sides;
from there it takes in the empty cells at the rim. A rim cell alone, half outside, is none.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from lidar_checks.cloud.boundary_cells import Rows
from lidar_checks.cloud.cell_cover import SIDE, BoolArray, Cover, Int64Array
from lidar_checks.cloud.cell_runs import Runs, label_runs

_SQUARE = 2
_HALO = 4
# Cells of a strip that is looked at at once.
_STRIP_CELLS = 1 << 23


def find_gaps(inside: Rows, cover: Cover) -> tuple[Runs, int]:
    """Return the gaps, each with a label of its own, and how many cells could show one.

    Args:
        inside: the cells within the boundary; at least one.
        cover: cells with points.
    """
    left, right = int(inside.start.min()) - _HALO, int(inside.stop.max()) + _HALO
    band = max(2 * _HALO, min(4 * SIDE, _STRIP_CELLS // (right - left)))
    parts, judged = [np.empty((3, 0), dtype=np.int64)], 0
    for low in range(int(inside.row[0]), int(inside.row[-1]) + 1, band):
        gap, core = _judge_band(inside, cover, (low, low + band, left, right))
        judged += core
        parts.append(_list_runs(gap, low, left))
    row, start, stop = np.concatenate(parts, axis=1)
    if not len(row):
        return Runs(row, start, stop, row), judged
    return Runs(row, start, stop, label_runs(row, start, stop)), judged


def _judge_band(
    inside: Rows, cover: Cover, place: tuple[int, int, int, int]
) -> tuple[BoolArray, int]:
    """Return the gap cells of one band, (rows, columns), and how many lie off the rim."""
    low, high, left, right = place
    bottom, top = low - _HALO, high + _HALO
    within = _draw_rows(inside, (bottom, top, left, right))
    empty = ~_draw_cover(cover, (bottom, top, left, right))
    core = ~_spread(~within)
    found = _open(empty) & core
    found |= _spread(found) & within & empty & ~core
    middle = slice(_HALO, _HALO + high - low)
    return found[middle], int(np.count_nonzero(core[middle]))


def _draw_rows(inside: Rows, window: tuple[int, int, int, int]) -> BoolArray:
    bottom, top, left, right = window
    begin, end = np.searchsorted(inside.row, [bottom, top])
    edges = np.zeros((top - bottom, right - left + 1), dtype=np.int8)
    row = inside.row[begin:end] - bottom
    # Runs do not touch, so that each place is set once.
    edges[row, inside.start[begin:end] - left] = 1
    edges[row, inside.stop[begin:end] - left] = -1
    drawn: BoolArray = np.cumsum(edges, axis=1, dtype=np.int8)[:, :-1] > 0
    return drawn


def _draw_cover(cover: Cover, window: tuple[int, int, int, int]) -> BoolArray:
    bottom, top, left, right = window
    low, west = bottom // SIDE, left // SIDE
    high, east = (top - 1) // SIDE + 1, (right - 1) // SIDE + 1
    drawn = np.zeros(((high - low) * SIDE, (east - west) * SIDE), dtype=np.bool_)
    across, up = cover.keys[:, 0], cover.keys[:, 1]
    near = np.flatnonzero((up >= low) & (up < high) & (across >= west) & (across < east))
    for block in near.tolist():
        row, column = (int(up[block]) - low) * SIDE, (int(across[block]) - west) * SIDE
        bits = np.unpackbits(cover.bits[cover.rows[block]]).reshape(SIDE, SIDE)
        drawn[row : row + SIDE, column : column + SIDE] = bits
    row, column = bottom - low * SIDE, left - west * SIDE
    return drawn[row : row + top - bottom, column : column + right - left]


def _spread(cells: BoolArray) -> BoolArray:
    """Return the cells with those round them."""
    spread = cells.copy()
    spread[1:] |= cells[:-1]
    spread[:-1] |= cells[1:]
    high = spread.copy()
    spread[:, 1:] |= high[:, :-1]
    spread[:, :-1] |= high[:, 1:]
    return spread


def _open(empty: BoolArray) -> BoolArray:
    """Return the cells that a square of empty cells fits over."""
    reach = _SQUARE - 1
    fits = empty[:-reach] & empty[reach:]
    fits = fits[:, :-reach] & fits[:, reach:]
    opened = np.zeros_like(empty)
    for up, along in _list_steps():
        rows, columns = fits.shape
        opened[up : up + rows, along : along + columns] |= fits
    return opened


def _list_steps() -> Iterator[tuple[int, int]]:
    return ((up, along) for up in range(_SQUARE) for along in range(_SQUARE))


def _list_runs(cells: BoolArray, low: int, left: int) -> Int64Array:
    """Return row, start and stop of each run of cells, int64, (3, n)."""
    edged = np.zeros((cells.shape[0], cells.shape[1] + 2), dtype=np.int8)
    edged[:, 1:-1] = cells
    step = np.diff(edged, axis=1)
    row, start = np.nonzero(step == 1)
    stop = np.nonzero(step == -1)[1]
    return np.stack([row + low, start + left, stop + left]).astype(np.int64)
