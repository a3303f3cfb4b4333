"""What the checks of cover count: in a table of a whole slice, and point by point, the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from ledger.model.chunk import PointChunk
from ledger.testing.chunks import METRES
from ledger.testing.laws import find_difference
from lidar_checks.cloud import kind_table
from lidar_checks.cloud.cover_tally import CoverSummary, CoverTally, Wanted, choose_points
from lidar_checks.cloud.slice_cells import find_cells

WANTED = (
    Wanted("counts", "first-returns", 10_000),
    Wanted("sources", "first-returns", 10_000),
    Wanted("counts", "ground", 20_000),
    Wanted("cells", "water", 20_000),
    Wanted("cells", "all", 7_001),
    Wanted("cells", "last-returns", 3_333),
)
FAR = 1 << 44


def make_slice(seed: int, points: int, spread: int, kinds: int) -> PointChunk:
    """Return points strewn over a square, with `kinds` classes, sources and numbers of returns."""
    random = np.random.default_rng(seed)
    x, y = random.integers(-spread, spread, (2, points))
    total = random.integers(0, kinds, points)
    fields: dict[str, NDArray[np.generic]] = {
        "classification": random.integers(2, 2 + 4 * kinds, points).astype(np.uint8),
        "number_of_returns": total.astype(np.uint8),
        "point_source_id": (random.integers(0, kinds, points) * 21_000).astype(np.uint16),
        "return_number": np.minimum(total, random.integers(0, kinds, points)).astype(np.uint8),
        "withheld": random.random(points) < 0.1 * (kinds - 1),
    }
    return PointChunk(x, y, x - y, METRES, fields)


def count(*slices: PointChunk) -> CoverSummary:
    """Return what is left of a file of some slices."""
    tally = CoverTally(WANTED)
    for each in slices:
        tally.chunk(each)
    return tally.close()


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32),
    st.integers(1, 3000),
    st.sampled_from([1, 9_999, 300_000, 2_000_000]),
    st.integers(1, 3),
)
def test_tables_and_single_points_agree(seed: int, points: int, spread: int, kinds: int) -> None:
    """A slice that is counted at once leaves what it leaves point by point."""
    cloud = make_slice(seed, points, spread, kinds)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kind_table, "_LONGEST", 0)
        wanted = count(cloud)
    assert not find_difference(wanted, count(cloud))
    half = points // 2
    assert not find_difference(wanted, count(cloud.slice(0, half), cloud.slice(half, points)))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32),
    st.sampled_from([1, 9_999, 2_000_000, 1 << 31, FAR]),
    st.sampled_from([1, 7, 10_000, 1 << 20, (1 << 31) + 5, 1 << 40]),
    st.sampled_from([1, 2, 64]),
)
def test_cells_are_those_of_plain_division(seed: int, spread: int, cell: int, whole: int) -> None:
    """Columns and rows are those of rounding down, however far the points lie apart."""
    cloud = make_slice(seed, 50, spread, 1)
    cells = find_cells(cloud, cell, whole)
    columns, rows = cells.place()
    assert np.array_equal(columns, cloud.x // cell)
    assert np.array_equal(rows, cloud.y // cell)
    assert cells.left % whole == cells.bottom % whole == cells.wide % whole == 0
    assert int(cells.columns.max()) < cells.wide
    assert int(cells.rows.max()) < cells.high


def test_counts_are_those_of_plain_counting() -> None:
    """Each cell holds as many first returns as a comparison of its borders finds."""
    cloud = make_slice(5, 400, 60_000, 2)
    first = choose_points(cloud, "first-returns") & ~cloud["withheld"].astype(bool)
    counted = count(cloud).counts[WANTED[0]]
    assert counted.counted == np.count_nonzero(first)
    for (across, up), block in counted.blocks.items():
        for row, column in np.argwhere(block.counts).tolist():
            west, south = (across * 64 + column) * 10_000, (up * 64 + row) * 10_000
            inside = (cloud.x >= west) & (cloud.x < west + 10_000)
            inside &= (cloud.y >= south) & (cloud.y < south + 10_000)
            assert int(block.counts[row, column]) == np.count_nonzero(inside & first)
    assert sum(int(block.counts.sum()) for block in counted.blocks.values()) == counted.counted
