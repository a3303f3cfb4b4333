"""Holes in what all files together cover: cells without a point that points enclose.

A place counts as empty where a square of a given side without any point fits over it (opening by a
square, as in mathematical morphology: Serra 1982), so that chance gaps between sparse points do not
run together into one. What is empty and reaches the outside is no hole: the ragged rim of a
delivery is none, and tile borders inside it are not seen at all. Cells touch along their sides.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lidar_checks.cloud.cell_set import SIDE, BoolArray, Cover, Int64Array, PackedCells, join_cells

SQUARE = 6
"""Cells along the side of the square that has to fit: three quarters of the smallest void."""

RIM = 8
"""Cells beside a hole that are looked at for water."""

_BATCH = 64
_FULL = 255


@dataclass(frozen=True)
class Runs:
    """Cells in rows: `start` up to `stop` of a row.

    Args:
        row: int64, (n,), ascending.
        start: first column, int64, (n,), ascending within a row.
        stop: column after the last, (n,).
        label: number of the hole, (n,).
    """

    row: Int64Array
    start: Int64Array
    stop: Int64Array
    label: Int64Array


def find_holes(cover: Cover, square: int) -> Runs:
    """Return the holes, each with a label of its own.

    Args:
        cover: cells with points.
        square: side of the square that has to fit, cells; at most 32.
    """
    if not len(cover.keys):
        nothing = np.empty(0, dtype=np.int64)
        return Runs(nothing, nothing, nothing, nothing)
    left = int(cover.keys[:, 0].min()) * SIDE
    right = (int(cover.keys[:, 0].max()) + 1) * SIDE
    row, start, stop = _list_runs(cover, square, left, right)
    label = _label(row, start, stop, right - left + 2)
    outside = np.unique(label[(start < left) | (stop > right)])
    inside = ~np.isin(label, outside)
    return Runs(row[inside], start[inside], stop[inside], label[inside])


def _list_runs(
    cover: Cover, square: int, left: int, right: int
) -> tuple[Int64Array, Int64Array, Int64Array]:
    """Return every run of empty cells by row, start and stop; those outside reach over the rim."""
    parts: list[Int64Array] = []
    bands, first = np.unique(cover.keys[:, 1], return_index=True)
    ends = np.append(first[1:], len(cover.keys))
    before = None
    for band, low, high in zip(bands.tolist(), first.tolist(), ends.tolist(), strict=True):
        if before is None or band != before + 1:
            parts.append(np.array([[band * SIDE - 1], [left - 1], [right + 1]]))
        columns = cover.keys[low:high, 0]
        empty = np.concatenate(list(_open_blocks(cover, columns, band, square)))
        for row, start, stop in _list_band(empty, columns, left, right):
            parts.append(np.stack([row + band * SIDE, start, stop]))
        before = band
    parts.append(np.array([[(int(bands[-1]) + 1) * SIDE], [left - 1], [right + 1]]))
    row, start, stop = np.concatenate(parts, axis=1)
    order = np.lexsort((start, row))
    row, start, stop = row[order], start[order], stop[order]
    # Runs that touch are one: they were cut where a block ends.
    first_of = np.ones(len(row), dtype=np.bool_)
    first_of[1:] = (row[1:] != row[:-1]) | (start[1:] != stop[:-1])
    begin = np.flatnonzero(first_of)
    return row[begin], start[begin], stop[np.append(begin[1:], len(row)) - 1]


def _list_band(
    empty: BoolArray, columns: Int64Array, left: int, right: int
) -> Iterator[tuple[Int64Array, Int64Array, Int64Array]]:
    """Yield row in the band, start and stop of empty runs in its blocks and between them."""
    edged = np.zeros((len(columns), SIDE, SIDE + 2), dtype=np.int8)
    edged[:, :, 1:-1] = empty
    step = np.diff(edged, axis=2)
    block, row, start = np.nonzero(step == 1)
    stop = np.nonzero(step == -1)[2]
    yield row, start + columns[block] * SIDE, stop + columns[block] * SIDE
    # Where there is no block there is no point; outside of the first and the last is the rim.
    gap_start = np.concatenate([[left - 1], (columns + 1) * SIDE])
    gap_stop = np.concatenate([columns * SIDE, [right + 1]])
    wide = gap_start < gap_stop
    number = int(np.count_nonzero(wide))
    every = np.repeat(np.arange(SIDE, dtype=np.int64), number)
    yield every, np.tile(gap_start[wide], SIDE), np.tile(gap_stop[wide], SIDE)


def _open_blocks(cover: Cover, columns: Int64Array, band: int, square: int) -> Iterator[BoolArray]:
    """Yield the empty cells of the blocks of one band, bool, (n, 64, 64), some blocks at once."""
    for low in range(0, len(columns), _BATCH):
        part = columns[low : low + _BATCH]
        opened = np.zeros((len(part), SIDE, SIDE), dtype=np.bool_)
        # No square lies in a block without an empty cell, which most are once gaps are closed.
        own = cover.read(cover.find(part, np.full(len(part), band)))
        open_ones = np.flatnonzero((own != _FULL).any(axis=1))
        if len(open_ones):
            opened[open_ones] = _open_some(cover, part[open_ones], band, square)
        yield opened


def _open_some(cover: Cover, columns: Int64Array, band: int, square: int) -> BoolArray:
    """Return the empty cells of some blocks of one band, bool, (n, 64, 64)."""
    window = np.ones((len(columns), 3 * SIDE, 3 * SIDE), dtype=np.bool_)
    for up in (-1, 0, 1):
        for along in (-1, 0, 1):
            place = cover.find(columns + along, np.full(len(columns), band + up))
            bits = np.unpackbits(cover.read(place), axis=1).reshape(-1, SIDE, SIDE) == 0
            bits[place < 0] = True
            window[
                :,
                (up + 1) * SIDE : (up + 2) * SIDE,
                (along + 1) * SIDE : (along + 2) * SIDE,
            ] = bits
    halo = square - 1
    near = window[:, SIDE - halo : 2 * SIDE + halo, SIDE - halo : 2 * SIDE + halo]
    fits = _erode(_erode(near, square, 1), square, 2)
    opened = np.zeros((len(columns), SIDE, SIDE), dtype=np.bool_)
    some = fits.any(axis=(1, 2))
    if some.any():
        opened[some] = _dilate(_dilate(fits[some], square, 1), square, 2)
    return opened


def close_gaps(cells: PackedCells, square: int, rim: int) -> PackedCells:
    """Return the cells of one file with those gaps filled that no square fits into.

    Holes of several files together are the same after it: a square that is empty in all of them is
    empty in each, so that what no square fits into in one of them is in no hole (opening is
    monotone and idempotent: Serra 1982). Beside what stays empty the cells are left as they are.

    Args:
        cells: cells with points.
        square: side of the square that has to fit, cells; at most 32.
        rim: cells on both sides of what stays empty that are left, at most 64.
    """
    cover = join_cells([cells])
    if not len(cover.keys):
        return cells
    bits = cover.read(np.arange(len(cover.keys)))
    bands, first = np.unique(cover.keys[:, 1], return_index=True)
    ends = np.append(first[1:], len(cover.keys))
    for band, low, high in zip(bands.tolist(), first.tolist(), ends.tolist(), strict=True):
        columns = cover.keys[low:high, 0]
        opened = np.concatenate(list(_open_blocks(cover, columns, band, square)))
        far = ~_dilate(_add_sides(opened, columns, rim), 2 * rim + 1, 2)
        bits[low:high] |= np.packbits(far, axis=2).reshape(len(columns), -1)
    return PackedCells(cells.keys, zlib.compress(bits.tobytes(), 1), cells.overflown)


def _add_sides(opened: BoolArray, columns: Int64Array, rim: int) -> BoolArray:
    """Return blocks of one band with some cells of their neighbours; where there is none, empty."""
    wide = np.ones((len(columns), SIDE, SIDE + 2 * rim), dtype=np.bool_)
    wide[:, :, rim : rim + SIDE] = opened
    touching = np.flatnonzero(np.diff(columns) == 1)
    wide[touching, :, rim + SIDE :] = opened[touching + 1, :, :rim]
    wide[touching + 1, :, :rim] = opened[touching, :, SIDE - rim :]
    return wide


def _erode(cells: BoolArray, square: int, axis: int) -> BoolArray:
    """Return where `square` cells from here on are all set; shorter by `square` - 1."""
    held, width = cells, 1
    while width < square:
        step = min(width, square - width)
        held = _cut(held, axis, 0, step) & _cut(held, axis, step, 0)
        width += step
    return held


def _dilate(cells: BoolArray, square: int, axis: int) -> BoolArray:
    """Return where any of the `square` cells up to here is set; shorter by `square` - 1."""
    held, width = cells, 1
    while width < square:
        step = min(width, square - width)
        held = _cut(held, axis, 0, step) | _cut(held, axis, step, 0)
        width += step
    return held


def _cut(cells: BoolArray, axis: int, low: int, high: int) -> BoolArray:
    index = [slice(None)] * cells.ndim
    index[axis] = slice(low, cells.shape[axis] - high)
    return cells[tuple(index)]


def label_runs(row: Int64Array, start: Int64Array, stop: Int64Array) -> Int64Array:
    """Return one number for all runs that hang together; there has to be a run.

    Args:
        row: ascending, (n,).
        start: first column, ascending within a row, (n,).
        stop: column after the last, (n,).
    """
    return _label(row, start, stop, int(stop.max() - start.min()) + 2)


def _label(row: Int64Array, start: Int64Array, stop: Int64Array, width: int) -> Int64Array:
    """Return one number for all runs that hang together."""
    left = int(start.min())
    wide = width + 2
    own = (row - row[0]) * wide
    begins, ends = own + start - left, own + stop - left
    # Partners in the row above: those that end after this begins and begin before this ends.
    low = np.searchsorted(ends, begins + wide, side="right")
    high = np.searchsorted(begins, ends + wide, side="left")
    number = np.maximum(high - low, 0)
    first = np.repeat(np.arange(len(row)), number)
    offset = np.arange(int(number.sum())) - np.repeat(np.cumsum(number) - number, number)
    return _connect(len(row), first, np.repeat(low, number) + offset)


def _connect(count: int, first: Int64Array, second: Int64Array) -> Int64Array:
    """Return the least number of those that each hangs together with."""
    label = np.arange(count, dtype=np.int64)
    while True:
        one, other = label[first], label[second]
        apart = one != other
        if not apart.any():
            return label
        np.minimum.at(label, np.maximum(one, other)[apart], np.minimum(one, other)[apart])
        while not np.array_equal(label, label[label]):
            label = label[label]
