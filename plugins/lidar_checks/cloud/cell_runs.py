"""Runs of cells in rows, and which of them hang together along their sides."""

from __future__ import annotations

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.cloud.cell_cover import Int64Array


@dataclass(frozen=True)
class Runs:
    """Cells in rows: `start` up to `stop` of a row.

    Args:
        row: int64, (n,), ascending.
        start: first column, int64, (n,), ascending within a row.
        stop: column after the last, (n,).
        label: number of what hangs together, (n,).
    """

    row: Int64Array
    start: Int64Array
    stop: Int64Array
    label: Int64Array


def label_runs(row: Int64Array, start: Int64Array, stop: Int64Array) -> Int64Array:
    """Return one number for all runs that hang together; there has to be a run.

    Args:
        row: ascending, (n,).
        start: first column, ascending within a row, (n,).
        stop: column after the last, (n,).
    """
    return connect(len(row), *find_touching(row, start, stop))


def find_touching(
    row: Int64Array, start: Int64Array, stop: Int64Array
) -> tuple[Int64Array, Int64Array]:
    """Return the places of all pairs of runs that touch from row to row; as `label_runs`."""
    left = int(start.min())
    wide = int(stop.max()) - left + 2
    own = (row - row[0]) * wide
    begins, ends = own + start - left, own + stop - left
    # Partners in the row above: those that end after this begins and begin before this ends.
    low = np.searchsorted(ends, begins + wide, side="right")
    high = np.searchsorted(begins, ends + wide, side="left")
    number = np.maximum(high - low, 0)
    first = np.repeat(np.arange(len(row)), number)
    offset = np.arange(int(number.sum())) - np.repeat(np.cumsum(number) - number, number)
    return first, np.repeat(low, number) + offset


def connect(count: int, first: Int64Array, second: Int64Array) -> Int64Array:
    """Return the least number of those that each hangs together with.

    Args:
        count: how many there are, numbered from 0.
        first: one of each pair that hangs together, (n,).
        second: the other, (n,).
    """
    label = np.arange(count, dtype=np.int64)
    while True:
        one, other = label[first], label[second]
        apart = one != other
        if not apart.any():
            return label
        np.minimum.at(label, np.maximum(one, other)[apart], np.minimum(one, other)[apart])
        while not np.array_equal(label, label[label]):
            label = label[label]


def cut_runs(
    row: Int64Array, start: Int64Array, stop: Int64Array, side: int
) -> tuple[Int64Array, Int64Array, Int64Array, Int64Array]:
    """Return runs cut at the sides of the squares of a map, so that each has its own share.

    Args:
        row: (n,).
        start: first column, (n,).
        stop: column after the last, (n,).
        side: cells along a side of a square.

    Returns:
        place of the run, row, first column and number of cells of each piece, (m,).
    """
    pieces = (stop - 1) // side - start // side + 1
    run = np.repeat(np.arange(len(row)), pieces)
    number = np.arange(len(run)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    first = (start[run] // side + number) * side
    low, high = np.maximum(first, start[run]), np.minimum(first + side, stop[run])
    return run, row[run], low, high - low
