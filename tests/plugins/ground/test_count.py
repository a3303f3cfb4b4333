"""Number and spread of checkpoints, on each side of every limit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from ground_bench import EAST, NORTH, SIDE, draw, judge, make_ground, make_residuals, make_site

from ledger.contract.check import Finding, Grade, Outcome
from ledger.crs import describe
from ledger.model.boundary import Boundary
from ledger.testing import make_file
from lidar_checks.ground.checkpoint_count import CheckpointCount
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.site_shape import (
    compute_hull_area,
    compute_ring_area,
    find_nearest_pair,
    find_site,
    list_places,
)


def place(*places: tuple[float, float]) -> tuple[Residual, ...]:
    """Return checkpoints at these places of the site, metres from its south-west corner."""
    points = make_residuals([0.01] * len(places))
    return tuple(
        replace(each, east_m=EAST + x, north_m=NORTH + y)
        for each, (x, y) in zip(points, places, strict=True)
    )


def of_spread(findings: list[Finding]) -> list[Finding]:
    """Return what is said of the spread."""
    return [each for each in findings if "spread" in each.subject]


@pytest.mark.parametrize(
    ("count", "asked", "grade"),
    [
        (30, {}, None),
        (29, {}, Grade.OBSERVATION),
        (20, {"count_min": 20}, None),
        (19, {"count_min": 20}, Grade.MINOR),
    ],
)
def test_number(count: int, asked: dict[str, Any], grade: Grade | None) -> None:
    """Fewer than asked is minor; fewer than the 30 that nobody asked for is worth knowing."""
    found = judge(CheckpointCount(), make_residuals(draw(count, 0.02)), asked)[0]
    assert found.grade is grade
    assert found.observed == str(count)


def test_points_that_count_for_nothing_do_not_count() -> None:
    """Thirty points in the table and one without a height of the cloud are 29."""
    found = judge(CheckpointCount(), make_residuals([*draw(29, 0.02), None]))[0]
    assert found.observed == "29"
    assert "Of 30 checkpoints 1 gives no height" in found.sentence
    none = judge(CheckpointCount(), make_residuals([None] * 30))
    assert none[0].grade is Grade.OBSERVATION
    assert len(none) == 1


@pytest.mark.parametrize(("apart", "count"), [(0.0, "16"), (0.049, "16"), (0.051, "32")])
def test_a_point_counts_once(apart: float, count: str) -> None:
    """Two tables of the same sixteen points are sixteen points, a centimetre or four apart."""
    points = make_residuals(draw(16, 0.02))
    again = tuple(
        replace(each, table="control/again.csv", id=f"X{each.id}", east_m=each.east_m + apart)
        for each in points
    )
    found = judge(CheckpointCount(), (*points, *again))[0]
    assert found.observed == count
    assert ("Of 32 checkpoints 16 are listed once more." in found.sentence) is (count == "16")


def test_vegetation_is_counted_by_itself() -> None:
    """Five points in vegetation are asked for beside those of the open ground."""
    grown = tuple(
        replace(each, stratum="forest", north_m=each.north_m + 5.0)
        for each in make_residuals([0.1] * 4)
    )
    points = (*make_residuals(draw(30, 0.02)), *grown)
    findings = judge(CheckpointCount(), points, {"vegetated_count_min": 5})
    assert [each.grade for each in findings] == [None, Grade.MINOR, None]


@pytest.mark.parametrize(("side", "is_narrow"), [(310.0, False), (309.0, True)])
def test_share_of_the_site(side: float, is_narrow: bool) -> None:
    """A square of 310 m is 60 % of one of 400 m, one of 309 m is less."""
    low = (SIDE - side) / 2
    high = low + side
    found = of_spread(
        judge(CheckpointCount(), place((low, low), (high, low), (low, high), (high, high)))
    )
    assert [each.grade for each in found] == [Grade.OBSERVATION if is_narrow else None]


def test_round_the_car_park() -> None:
    """Four points in one corner: hardly any of the site, and three empty quarters."""
    found = of_spread(judge(CheckpointCount(), place((10, 10), (40, 10), (10, 40), (40, 40))))
    assert len(found) == 2
    assert "enclose 1% of the site" in found[0].sentence
    assert "south-east: 0, north-west: 0, north-east: 0" in found[1].sentence


def test_points_along_a_line_enclose_nothing() -> None:
    """A road is no area."""
    found = of_spread(judge(CheckpointCount(), place((10, 10), (200, 200), (390, 390))))
    assert "enclose 0% of the site" in found[0].sentence


@pytest.mark.parametrize(("in_quarter", "is_poor"), [(2, False), (1, True)])
def test_share_of_points_in_a_quarter(in_quarter: int, is_poor: bool) -> None:
    """A fifth of ten points in each quarter (USGS LBS 2025 rev. A; FGDC-STD-007.3-1998, 3-C)."""
    corners = [(x, y) for x in (10, 390) for y in (10, 390)]
    spots = [*corners, (15, 10), (385, 10), (15, 390), (20, 20), (370, 30)]
    spots += [(385, 385)] if in_quarter == 2 else [(30, 370)]
    asked = {"quadrant_share_min": 0.2}
    found = of_spread(judge(CheckpointCount(), place(*spots), asked))
    assert [each.grade for each in found] == [Grade.MINOR if is_poor else None]


@pytest.mark.parametrize(("apart", "is_near"), [(56.6, False), (56.5, True)])
def test_spacing(apart: float, is_near: bool) -> None:
    """A tenth of the diagonal of 400 m by 400 m is 56.57 m."""
    spots = [(10.0, 10.0), (10.0, 10.0 + apart), (390.0, 10.0), (10.0, 390.0), (390.0, 390.0)]
    found = of_spread(judge(CheckpointCount(), place(*spots), {"spacing_share_min": 0.1}))
    assert [each.grade for each in found] == [Grade.MINOR if is_near else None]


def test_two_points_on_one_spot_are_nearest() -> None:
    """A point that stands twice in the table is its own neighbour."""
    places = list_places([(0, 0), (5, 5), (5, 5), (9, 9)])
    assert find_nearest_pair(places) == (1, 2, 0.0)


def test_a_site_that_nobody_says() -> None:
    """Without boundary and headers the number is judged and the spread left open."""
    evidence = make_ground([make_file("tile.laz")])
    findings = judge(CheckpointCount(), make_residuals(draw(30, 0.02)), evidence=evidence)
    assert [each.outcome for each in findings] == [Outcome.CONFORMS, Outcome.INCONCLUSIVE]


def test_the_boundary_is_the_site_where_there_is_one() -> None:
    """A yard of 100 m by 100 m with a pond of 20 m by 20 m, in feet of 0.3048006 m."""
    foot = 1200 / 3937
    outer = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0), (0.0, 0.0))
    pond = ((40.0, 40.0), (40.0, 60.0), (60.0, 60.0), (60.0, 40.0), (40.0, 40.0))
    boundary = Boundary("site.geojson", "b" * 64, ((outer, pond),))
    evidence = make_ground(boundary=boundary, specified_crs=describe("EPSG:6438"))
    site = find_site(evidence)
    assert site is not None
    assert site.area_m2 == pytest.approx(9600 * foot**2)
    assert site.east == pytest.approx(100 * foot)
    assert site.basis == "the boundary"


def test_overlapping_tiles_are_not_counted_twice() -> None:
    """The same tile under two names covers the ground once."""
    tiles = make_site()
    again = tuple(replace(tile, path=f"again/{tile.path}") for tile in tiles)
    site = find_site(make_ground((*tiles, *again)))
    assert site is not None
    assert site.area_m2 == pytest.approx(SIDE**2)


def test_areas_against_known_figures() -> None:
    """A triangle of 3 by 4 has 6; a hull leaves out what lies inside."""
    triangle = np.array([[0, 0], [3, 0], [0, 4], [0, 0]], dtype=np.float64)
    assert compute_ring_area(triangle + 5e6) == pytest.approx(6.0)
    places = list_places([(0, 0), (2, 0), (2, 2), (0, 2), (1, 1), (0.5, 1.5)])
    assert compute_hull_area(places + 5e6) == pytest.approx(4.0)
    assert compute_hull_area(list_places([(0, 0), (1, 1)])) == 0.0


def test_large_areas_are_said_to_need_more() -> None:
    """Over 500 km² the standard asks for more points, in a table that was not read."""
    tiles = make_site()
    wide = tuple(
        replace(
            tile,
            header=replace(
                tile.header,
                minimum=(400_000.0, 3_000_000.0, 0.0),
                maximum=(430_000.0, 3_020_000.0, 1.0),
            ),
        )
        for tile in tiles
        if tile.header is not None
    )
    found = judge(CheckpointCount(), make_residuals(draw(40, 0.02)), evidence=make_ground(wide))
    assert "the standard asks for more" in found[0].sentence
