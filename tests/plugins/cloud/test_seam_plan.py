"""Neighbouring tiles: which boxes share a seam, where it lies, and what is kept of either side."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_cloud import make_header

from ledger.model.chunk import Lattice
from lidar_checks.cloud.seam_plan import Box, Seam, Sizes, compute_box, plan_seams

SIZES = Sizes(cell=5, strip=20, gap=20, shortest=100)


def grid(columns: int, rows: int, side: int = 800, buffer: int = 0) -> dict[str, Box]:
    """Return boxes of a grid of tiles; `buffer` widens each, a negative one leaves gaps."""
    return {
        f"{column}_{row}": Box(
            column * side - buffer,
            row * side - buffer,
            (column + 1) * side + buffer,
            (row + 1) * side + buffer,
        )
        for column in range(columns)
        for row in range(rows)
    }


def list_pairs(seams: tuple[Seam, ...]) -> list[tuple[str, str, str]]:
    """Return axis and both tiles of each seam."""
    return sorted((seam.axis, seam.low, seam.high) for seam in seams)


@pytest.mark.parametrize("buffer", [0, -10, 5, 200])
def test_a_grid_has_a_seam_between_all_side_neighbours(buffer: int) -> None:
    """Six by four tiles have 38 seams, whether they touch, leave a gap or overlap."""
    seams = plan_seams(grid(6, 4, buffer=buffer), SIZES)
    assert len(seams) == 6 * 3 + 5 * 4
    assert {seam.number for seam in seams} == set(range(38))
    for seam in seams:
        low, high = (tuple(map(int, name.split("_"))) for name in (seam.low, seam.high))
        step = (1, 0) if seam.axis == "x" else (0, 1)
        assert (high[0] - low[0], high[1] - low[1]) == step
        assert seam.line == (high[0] if seam.axis == "x" else high[1]) * 800


@pytest.mark.parametrize(("gap", "found"), [(20, 1), (21, 0)])
def test_a_gap_is_bridged_up_to_the_limit(gap: int, found: int) -> None:
    """Tiles one step further apart than the limit share no seam."""
    boxes = {"a": Box(0, 0, 800, 800), "b": Box(800 + gap, 0, 1600, 800)}
    assert len(plan_seams(boxes, SIZES)) == found


@pytest.mark.parametrize(("overlap", "found"), [(400, 1), (401, 0)])
def test_files_that_lie_on_each_other_are_no_tiles(overlap: int, found: int) -> None:
    """An overlap of more than half of the narrower box is no seam."""
    boxes = {"a": Box(0, 0, 800, 800), "b": Box(800 - overlap, 0, 1600, 800)}
    assert len(plan_seams(boxes, SIZES)) == found


@pytest.mark.parametrize(("common", "found"), [(100, 1), (99, 0)])
def test_a_seam_has_a_least_length(common: int, found: int) -> None:
    """Tiles that only touch at a corner share no seam."""
    boxes = {"a": Box(0, 0, 800, 800), "b": Box(800, 800 - common, 1600, 1600)}
    assert len(plan_seams(boxes, SIZES)) == found


@pytest.mark.parametrize(("length", "found"), [(2**18 * 5, 1), (2**18 * 5 + 1, 0)])
def test_a_seam_of_more_cells_than_any_tile_is_none(length: int, found: int) -> None:
    """A border of more than 2^18 cells is a broken header, and would take memory for nothing."""
    boxes = {"a": Box(0, 0, length, length), "b": Box(length, 0, 2 * length, length)}
    assert len(plan_seams(boxes, SIZES)) == found


def test_strips_lie_on_both_sides_of_the_border() -> None:
    """Touching, apart and overlapping tiles: each side keeps what reaches the border, and 2 m."""
    zones = {}
    for name, end in (("touching", 800), ("apart", 790), ("overlapping", 810)):
        boxes = {"a": Box(0, 0, end, 800), "b": Box(1600 - end, 0, 1600, 800)}
        (seam,) = plan_seams(boxes, SIZES)
        zones[name] = [(zone.low, zone.high) for zone in seam.zones]
    assert zones == {
        "touching": [(780, 800), (800, 820)],
        "apart": [(770, 790), (810, 830)],
        "overlapping": [(780, 810), (790, 820)],
    }


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from("abcdefgh"),
        st.tuples(*[st.integers(-900, 900), st.integers(-900, 900)], *[st.integers(0, 900)] * 2),
        min_size=2,
    )
)
def test_the_grid_index_finds_the_pairs_that_all_pairs_give(
    corners: dict[str, tuple[int, int, int, int]],
) -> None:
    """Looking tiles up by squares finds each pair that comparing two at a time finds."""
    boxes = {name: Box(x, y, x + w, y + h) for name, (x, y, w, h) in corners.items()}
    one_by_one = []
    for a, b in itertools.combinations(boxes.items(), 2):
        one_by_one += list_pairs(plan_seams(dict((a, b)), SIZES))
    assert list_pairs(plan_seams(boxes, SIZES)) == sorted(one_by_one)


def test_a_header_of_a_thousand_kilometres_costs_nothing() -> None:
    """A box that cannot be right is left out of the search, and the others are found."""
    boxes = grid(2, 1) | {"wild": Box(-(10**13), -(10**13), 10**13, 10**13)}
    assert list_pairs(plan_seams(boxes, SIZES)) == [("x", "0_0", "1_0")]


def test_boxes_come_from_headers() -> None:
    """A stated box becomes lattice steps that hold it; nonsense becomes none."""
    lattice = Lattice(10_000, 10_000)
    assert compute_box(make_header((0.5, -1.25, 2.0, 3.0)), lattice) == Box(
        5_000, -12_500, 20_000, 30_000
    )
    assert compute_box(make_header((0.0, 0.0, math.nan, 1.0)), lattice) is None
    assert compute_box(make_header((0.0, 0.0, math.inf, 1.0)), lattice) is None
    assert compute_box(make_header((2.0, 0.0, 1.0, 1.0)), lattice) is None
    assert plan_seams({}, SIZES) == ()
