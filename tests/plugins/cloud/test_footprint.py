"""The footprint: closed gaps are inside, rims and wide holes are not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from lidar_checks.cloud.block_grid import BLOCK, BlockKey
from lidar_checks.cloud.footprint import MAX_RADIUS, BoolArray, compute_interior

SIDE = 3 * BLOCK


def cut_blocks(cells: BoolArray) -> dict[BlockKey, BoolArray]:
    """Return a raster cut into blocks, those without a cell left out."""
    blocks = {
        (column, row): cells[row * BLOCK : (row + 1) * BLOCK, column * BLOCK : (column + 1) * BLOCK]
        for column in range(cells.shape[1] // BLOCK)
        for row in range(cells.shape[0] // BLOCK)
    }
    return {key: block for key, block in blocks.items() if block.any()}


def join_blocks(blocks: dict[BlockKey, BoolArray]) -> BoolArray:
    """Return blocks put together into one raster."""
    cells = np.zeros((SIDE, SIDE), dtype=np.bool_)
    for (column, row), block in blocks.items():
        cells[row * BLOCK : (row + 1) * BLOCK, column * BLOCK : (column + 1) * BLOCK] = block
    return cells


def widen(cells: BoolArray, radius: int) -> BoolArray:
    """Return every cell within a square of `radius` of a set one, by shifting."""
    wide = np.pad(cells, radius)
    out = np.zeros_like(cells)
    for up in range(2 * radius + 1):
        for along in range(2 * radius + 1):
            out |= wide[up : up + cells.shape[0], along : along + cells.shape[1]]
    return out


def reckon(cells: BoolArray, radius: int) -> BoolArray:
    """Return closing and rim removal done on one raster by the definition."""
    margin = 3 * radius + 3
    closed = ~widen(~widen(np.pad(cells, margin), radius), radius)
    inner = ~widen(~closed, 1)
    result: NDArray[np.bool_] = inner[margin:-margin, margin:-margin]
    return result


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0, 1, 2, 4]), st.floats(0.001, 0.6))
def test_blocks_give_what_one_raster_gives(seed: int, radius: int, share: float) -> None:
    """Cutting the area into blocks changes no cell of the interior."""
    random = np.random.default_rng(seed)
    cells = random.random((SIDE, SIDE)) < share
    cells[40:100, 20:150] |= random.random((60, 130)) < 0.7
    assert np.array_equal(
        join_blocks(dict(compute_interior(cut_blocks(cells), radius))), reckon(cells, radius)
    )


@pytest.mark.parametrize("gap", [1, 2, 3, 4, 5, 6])
def test_a_gap_is_closed_up_to_twice_the_radius(gap: int) -> None:
    """At radius 2 a strip without points is inside up to 4 cells wide, else outside with a rim."""
    cells = np.zeros((SIDE, SIDE), dtype=np.bool_)
    cells[10:170, 10:170] = True
    cells[:, 62 : 62 + gap] = False
    inside = join_blocks(dict(compute_interior(cut_blocks(cells), 2)))
    rim = 0 if gap <= 4 else 1
    expected = 158 - (gap + 2 if rim else 0)
    assert int(inside[90].sum()) == expected


def test_the_widest_radius_still_sees_its_neighbours() -> None:
    """At the greatest radius a gap across the border of two blocks is closed."""
    cells = np.zeros((SIDE, SIDE), dtype=np.bool_)
    cells[0:SIDE, 0:40] = cells[0:SIDE, 40 + 2 * MAX_RADIUS : SIDE] = True
    inside = join_blocks(dict(compute_interior(cut_blocks(cells), MAX_RADIUS)))
    assert np.array_equal(inside, reckon(cells, MAX_RADIUS))
    assert inside[90, 40 + MAX_RADIUS]
