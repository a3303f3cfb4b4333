"""Small maps of what strips show together: how much was seen twice, and how far they differ.

A cell of these maps is a patch, the square in which the family looks at points; where only one
patch of several was looked at, so many of them make a cell.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ledger.contract.check import Raster
from ledger.contract.rasters import Sheet
from ledger.model.chunk import Lattice
from lidar_checks.swath.joined_rows import BoolArray, Int64Array, Pair, Rows, find_again

_STEPS_IN_M = 10_000
_WHOLE = 10_000


def draw_overlap(rows: Rows, lattice: Lattice) -> Raster | None:
    """Return a map of the share of cells that two passes or more have seen; None for no row."""
    if not len(rows):
        return None
    first, again = find_again(rows)
    column, row = _find_patches(rows, first)
    sheet = _open(rows, lattice, column, row, is_mean=True)
    sheet.add(column, row, np.where(again, _WHOLE, 0))
    title = "Share of the area that two strips or more have seen"
    return sheet.draw("overlap", title, step=100 / _WHOLE, unit="%")


def draw_differences(pairs: Sequence[Pair], smooth: Rows, lattice: Lattice) -> Raster | None:
    """Return a map of the largest mean difference between two strips; None for no pair.

    The sign is that of the higher point source id less the lower one, or of the later pass less
    the earlier.
    """
    drawn = [_average(pair, smooth) for pair in pairs if len(pair.rows)]
    if not drawn:
        return None
    column, row, values = (np.concatenate(parts) for parts in zip(*drawn, strict=True))
    sheet = _open(smooth, lattice, column, row, is_mean=False)
    sheet.add(column, row, values)
    title = "Largest mean difference in height between two strips"
    return sheet.draw("strip-differences", title, step=1 / _STEPS_IN_M, unit="m")


def _average(pair: Pair, smooth: Rows) -> tuple[Int64Array, Int64Array, Int64Array]:
    """Return column and row of each patch of a pair with its mean difference, whole steps."""
    column, row = _find_patches(smooth, pair.rows)
    steps = np.round(pair.step_m * _STEPS_IN_M).astype(np.int64)
    order = np.lexsort((row, column))
    column, row, steps = column[order], row[order], steps[order]
    begins = np.ones(len(order), dtype=np.bool_)
    begins[1:] = (np.diff(column) != 0) | (np.diff(row) != 0)
    first = np.flatnonzero(begins)
    count = np.diff(first, append=len(order))
    sums = np.add.reduceat(steps, first)
    return column[first], row[first], (2 * sums + count) // (2 * count)


def _find_patches(rows: Rows, chosen: Int64Array | BoolArray) -> tuple[Int64Array, Int64Array]:
    """Return column and row of the cell of the map in which each row lies."""
    joined = _count_joined(rows)
    column, row = (rows[name][chosen].astype(np.int64) // joined for name in ("column", "row"))
    return column, row


def _count_joined(rows: Rows) -> int:
    """Return how many patches lie along the side of a cell: so that each holds one, on average."""
    return 1 << (rows.level + 1) // 2


def _open(
    rows: Rows, lattice: Lattice, column: Int64Array, row: Int64Array, *, is_mean: bool
) -> Sheet:
    extent = (int(column.min()), int(row.min()), int(column.max()), int(row.max()))
    return Sheet(
        rows.side * _count_joined(rows), lattice, extent, keep="mean" if is_mean else "largest"
    )
