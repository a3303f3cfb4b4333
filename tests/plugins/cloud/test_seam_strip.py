"""Border strips: the lowest point of each cell, in any order, and nothing of the middle."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_cloud import make_points

from ledger.model.chunk import Lattice, PointChunk
from ledger.testing import cut, shuffle
from lidar_checks.cloud.seam_plan import Box, Zone
from lidar_checks.cloud.seam_strip import StripSummary, StripTally

BOX = Box(0, 0, 200_000, 200_000)
EAST = Zone(0, "x", 180_000, 200_000, 0, 200_000, 5_000)
NORTH = Zone(1, "y", 180_000, 200_000, 20_000, 120_000, 5_000)


def fill(*chunks: PointChunk, zones: tuple[Zone, ...] = (EAST, NORTH)) -> StripSummary:
    """Return what is left of a tile that has seen these chunks."""
    tally = StripTally(BOX, zones)
    for chunk in chunks:
        tally.chunk(chunk)
    return tally.close()


def list_strip(summary: StripSummary, seam: int) -> list[tuple[int, int, int]]:
    """Return a strip as (across, along, height)."""
    strip = summary.strips[seam]
    return list(
        zip(strip.across.tolist(), strip.along.tolist(), strip.height.tolist(), strict=True)
    )


def reckon(points: PointChunk, zone: Zone) -> list[tuple[int, int, int]]:
    """Return the lowest points found one by one."""
    best: dict[tuple[int, int], tuple[int, int, int]] = {}
    for x, y, z in zip(points.x.tolist(), points.y.tolist(), points.z.tolist(), strict=True):
        across, along = (x, y) if zone.axis == "x" else (y, x)
        if zone.low <= across <= zone.high and zone.start <= along <= zone.stop:
            cell = ((along - zone.start) // zone.cell, (across - zone.low) // zone.cell)
            best[cell] = min(best.get(cell, (z, across, along)), (z, across, along))
    return [(across, along, z) for _, (z, across, along) in sorted(best.items())]


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 5))
def test_each_cell_keeps_its_lowest_point(seed: int, heights: int) -> None:
    """The strips hold what a loop over the points finds, ties included, however they are cut."""
    random = np.random.default_rng(seed)
    x, y = random.uniform(-1, 21, (2, 600))
    points = make_points(x, y, random.integers(0, heights, 600) * 0.1)
    for chunks in ([points], cut(points, 7), [shuffle(points, seed % 100)]):
        summary = fill(*chunks)
        for zone in (EAST, NORTH):
            assert list_strip(summary, zone.seam) == reckon(points, zone)


def test_parts_of_a_tile_merge_into_the_whole() -> None:
    """Merging in any order gives what one tally gives, and a fresh one adds nothing."""
    random = np.random.default_rng(8)
    x, y = random.uniform(0, 20, (2, 900))
    points = make_points(x, y, random.integers(0, 3, 900) * 0.1)
    whole = fill(points)
    for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0)):
        tallies = [StripTally(BOX, (EAST, NORTH)) for _ in range(4)]
        for tally, part in zip(tallies, cut(points, 300), strict=False):
            tally.chunk(part)
        first = tallies[3]
        for number in order:
            first.merge(tallies[number])
        merged = first.close()
        assert (merged.points, merged.box) == (whole.points, whole.box)
        for seam in (0, 1):
            assert list_strip(merged, seam) == list_strip(whole, seam)


@pytest.mark.parametrize(
    "given_fields", [{"withheld": True}, {"classification": 7}, {"classification": 18}]
)
def test_noise_and_withheld_points_are_no_surface(given_fields: dict[str, object]) -> None:
    """A low point that is withheld or classed as noise is not the ground."""
    ground = make_points([19.1], [5.1], [10.0])
    low = make_points([19.2], [5.2], [-50.0], **given_fields)
    assert list_strip(fill(ground, low), 0) == [(191_000, 51_000, 100_000)]


def test_the_ends_of_a_zone_belong_to_it() -> None:
    """Points on the four edges of a zone are kept, points one step beyond are not."""
    for x, y, kept in (
        (180_000, 100_000, True),
        (200_000, 100_000, True),
        (190_000, 0, True),
        (190_000, 200_000, True),
        (179_999, 100_000, False),
        (200_001, 100_000, False),
        (190_000, -1, False),
        (190_000, 200_001, False),
    ):
        summary = fill(make_points([x / 10_000], [y / 10_000], 1.0), zones=(EAST,))
        assert (0 in summary.strips) is kept, (x, y)


def test_nothing_is_kept_of_the_middle() -> None:
    """Points away from the borders leave the box and no strip."""
    summary = fill(make_points([5.0, 17.9], [5.0, 17.9], [1.0, 2.0]))
    assert summary.strips == {}
    assert summary.box == Box(50_000, 50_000, 179_000, 179_000)
    assert summary.points == 2


def test_a_tile_without_points_has_no_box() -> None:
    """An empty chunk leaves an empty summary."""
    assert fill(make_points([], [])) == StripSummary(0, None, {})


def test_a_tile_without_seams_keeps_its_box_alone() -> None:
    """A tile without neighbours costs no memory for strips."""
    summary = fill(make_points([1.0], [2.0]), zones=())
    assert summary == StripSummary(1, Box(10_000, 20_000, 10_000, 20_000), {})


def test_zones_may_lie_outside_the_stated_box() -> None:
    """Points beyond the stated box are still looked at where a zone reaches them."""
    beyond = dataclasses.replace(EAST, high=220_000)
    assert list_strip(fill(make_points([21.5], [3.0], [1.0]), zones=(beyond,)), 0) == [
        (215_000, 30_000, 10_000)
    ]


def test_a_lattice_too_fine_for_one_number_costs_the_last_bits() -> None:
    """On steps of a nanometre places keep far better than a micrometre, heights keep all."""
    steps = 10**9
    zone = Zone(0, "x", 18 * steps, 22 * steps, 0, 400 * steps, steps // 2)
    tally = StripTally(Box(0, 0, 20 * steps, 400 * steps), [zone])
    x, y, z = np.array([[19 * steps + 1], [399 * steps + 3], [5]], dtype=np.int64)
    fields = {"classification": np.array([2]), "withheld": np.array([False])}
    tally.chunk(PointChunk(x, y, z, Lattice(steps, 10_000), fields))
    ((across, along, height),) = list_strip(tally.close(), 0)
    assert 0 <= 19 * steps + 1 - across < 1000
    assert 0 <= 399 * steps + 3 - along < 1000
    assert height == 5
