"""Empty cells that make a void: where a square without any point fits.

A place counts as empty where a square of a given side without any point fits over it (opening by a
square, as in mathematical morphology: Serra 1982), so that chance gaps between sparse points do not
run together into one.

A row of a block is one number of 64 bits, its westernmost cell the highest: 64 cells are looked at
at once. Blocks are looked at in bands, all blocks of one row from west to east.
"""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

from lidar_checks.cloud.cell_cover import SIDE, Bands, Cover, Int64Array, PackedCells

WordArray = NDArray[np.uint64]

SQUARE = 6
"""Cells along the side of the square that has to fit: three quarters of the smallest void."""

RIM = 8
"""Cells beside a hole that are looked at for water."""

_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)
_TOP = np.uint64(SIDE - 1)
_ONE = np.uint64(1)
# Blocks that are looked at at once.
_BATCH = 1024


def open_band(bands: Bands, band: int, square: int) -> WordArray:
    """Return the empty cells of a band that make a void, a bit each, (n, 64), block by block.

    Args:
        bands: cells with points.
        band: row of the blocks.
        square: side of the square that has to fit, cells; at most 32.
    """
    columns = bands.read(band).keys[:, 0]
    parts = [
        _open_blocks([bands.read(band + up) for up in (-1, 0, 1)], part, band, square)
        for part in np.split(columns, range(_BATCH, len(columns), _BATCH))
    ]
    return np.concatenate(parts)


def _open_blocks(covers: list[Cover], columns: Int64Array, band: int, square: int) -> WordArray:
    """Return the empty cells that make a void of some blocks; covers are those of three bands."""
    halo = square - 1
    west, own, east = (
        np.concatenate(
            [
                _read_empty(covers[0], columns + along, band - 1)[:, SIDE - halo :],
                _read_empty(covers[1], columns + along, band),
                _read_empty(covers[2], columns + along, band + 1)[:, :halo],
            ],
            axis=1,
        )
        for along in (-1, 0, 1)
    )
    # Where the lower left cell of a square may lie: in the block itself, or a little west of it.
    inside, beside = own.copy(), west.copy()
    for step in range(1, square):
        inside &= _shift_west(own, east, step)
        beside &= _shift_west(west, own, step)
    inside, beside = (_fold(each, square, np.bitwise_and) for each in (inside, beside))
    inside, beside = (_fold(each, square, np.bitwise_or) for each in (inside, beside))
    opened = inside.copy()
    for step in range(1, square):
        opened |= _shift_east(inside, beside, step)
    return opened


def _read_empty(cover: Cover, columns: Int64Array, band: int) -> WordArray:
    """Return the cells without points of blocks of one band, a bit each, (n, 64)."""
    if not len(cover.keys):
        return np.full((len(columns), SIDE), _ALL)
    place = cover.find(columns, np.full(len(columns), band))
    words = ~_view_words(cover.read(place))
    words[place < 0] = _ALL
    return words


def _view_words(bits: NDArray[np.uint8]) -> WordArray:
    """Return the cells of blocks, uint8, (n, 512), as one number a row, (n, 64)."""
    return bits.view(">u8").astype(np.uint64)


def _shift_west(words: WordArray, east: WordArray, step: int) -> WordArray:
    """Return for each cell what lies so many cells east of it, less than 64."""
    return (words << np.uint64(step)) | (east >> np.uint64(SIDE - step))


def _shift_east(words: WordArray, west: WordArray, step: int) -> WordArray:
    """Return for each cell what lies so many cells west of it, less than 64."""
    return (words >> np.uint64(step)) | (west << np.uint64(SIDE - step))


def _fold(words: WordArray, square: int, join: np.ufunc) -> WordArray:
    """Return each row joined with the `square` - 1 rows after it; shorter by as many."""
    held, width = words, 1
    while width < square:
        step = min(width, square - width)
        held = join(held[:, : held.shape[1] - step], held[:, step:])
        width += step
    return held


def list_runs(
    opened: WordArray, columns: Int64Array, band: int, span: tuple[int, int]
) -> tuple[Int64Array, Int64Array, Int64Array]:
    """Return row, start and stop of every run of empty cells of a band, by row, then start.

    Where there is no block there is no point. Runs that reach the outside begin a cell before the
    first column or end a cell after the last.

    Args:
        opened: empty cells of the blocks, (n, 64).
        columns: of the blocks, ascending, (n,).
        band: row of the blocks.
        span: first column of cells that may hold a point, and the one after the last.
    """
    left, right = span
    after = np.flatnonzero(np.diff(columns, append=columns[-1] + 2) > 1)
    # The rim, what lies between blocks, and an end, beside the blocks themselves.
    base = np.concatenate([[left - 1], columns * SIDE, (columns[after] + 1) * SIDE, [right + 1]])
    words = np.full((SIDE, len(base)), _ALL)
    words[:, 1 : len(columns) + 1] = opened.T
    words[:, -1] = 0
    order = np.argsort(base, kind="stable")
    base, words = base[order], words[:, order]
    last = np.zeros_like(words)
    last[:, 1:] = words[:, :-1] << _TOP
    before = (words >> _ONE) | last
    row, start = _list_bits(words & ~before, base)
    _, stop = _list_bits(~words & before, base)
    return row + band * SIDE, start, stop


def _list_bits(words: WordArray, base: Int64Array) -> tuple[Int64Array, Int64Array]:
    """Return row and column of every bit, by row, then column; `base` is that of each column."""
    rows, places = np.nonzero(words)
    each = words[rows, places].astype(">u8").view(np.uint8).reshape(-1, SIDE // 8)
    number, bit = np.nonzero(np.unpackbits(each, axis=1))
    return rows[number].astype(np.int64), base[places[number]] + bit


def close_gaps(cells: PackedCells, square: int, rim: int) -> PackedCells:
    """Return the cells of one file with those gaps filled that no square fits into.

    Holes of several files together are the same after it: a square that is empty in all of them is
    empty in each, so that what no square fits into in one of them is in no hole (opening is
    monotone and idempotent: Serra 1982). Beside what stays empty the cells are left as they are.

    Args:
        cells: cells with points.
        square: side of the square that has to fit, cells; at most 32.
        rim: cells on both sides of what stays empty that are left, less than 64.
    """
    bands = Bands([cells])
    content = {}
    for band in bands.rows:
        cover = bands.read(band)
        near = _widen(open_band(bands, band, square), cover.keys[:, 0], rim)
        closed = _view_words(cover.read(np.arange(len(cover.keys)))) | ~near
        content[band] = zlib.compress(closed.astype(">u8").tobytes(), 1)
    return PackedCells(cells.keys, content, cells.overflown)


def _widen(opened: WordArray, columns: Int64Array, rim: int) -> WordArray:
    """Return cells with those so near west and east; where there is no block, all are empty."""
    west, east = np.full_like(opened, _ALL), np.full_like(opened, _ALL)
    touching = np.flatnonzero(np.diff(columns) == 1)
    east[touching] = opened[touching + 1]
    west[touching + 1] = opened[touching]
    near = opened.copy()
    for step in range(1, rim + 1):
        near |= _shift_west(opened, east, step) | _shift_east(opened, west, step)
    return near
