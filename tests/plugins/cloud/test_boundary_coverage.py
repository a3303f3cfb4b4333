"""Coverage of the site: gaps at its rim and inside, none where points reach it."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_cloud import Box as Extent
from made_cloud import Delivery, make_crs, make_lattice_points, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.needs import find_unmet
from ledger.crs import describe
from ledger.model.boundary import Boundary, Polygon
from ledger.model.chunk import PointChunk
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.specification import Specification
from ledger.testing import check_tally_laws, make_evidence, make_file, take
from lidar_checks.cloud.boundary_cells import fill_rows
from lidar_checks.cloud.boundary_coverage import BoundaryCoverage
from lidar_checks.cloud.voids import Voids

BOX: Extent = (1000.0, 2000.0, 1100.0, 2100.0)  # 10,000 m², so that 0.5 % are 50 m²
UTM = describe("EPSG:6346")


def draw(box: Extent, *holes: Extent) -> Polygon:
    """Return a box with holes as a polygon."""
    return tuple(((w, s), (e, s), (e, n), (w, n), (w, s)) for w, s, e, n in (box, *holes))


def judge(
    *chunks: PointChunk,
    site: tuple[Polygon, ...] = (draw(BOX),),
    criteria: dict[str, Any] | None = None,
    **parts: Any,
) -> Finding:
    """Return what the check finds in these tiles together."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk)
    boundary = Boundary("site.geojson", "ab", site)
    (found,) = delivery.drive(BoundaryCoverage(), criteria, boundary=boundary, **parts)
    return found


def cloud(box: Extent = BOX, spacing: float = 0.5, **given: Any) -> PointChunk:
    """Return a lattice of points."""
    return make_lattice_points(box, spacing, **given)


def cut(chunk: PointChunk, box: Extent) -> PointChunk:
    """Return a cloud without the points in a box."""
    x, y = chunk.x / 1e4, chunk.y / 1e4
    inside = (x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])
    return take(chunk, ~inside)


def test_points_up_to_the_boundary_conform() -> None:
    """Half a cell at the rim is no gap, on even cells and on odd ones."""
    assert judge(cloud()).observed == "100.00"
    odd = (1000.9, 2001.1, 1099.3, 2098.7)
    assert judge(cloud(odd), site=(draw(odd),)).observed == "100.00"


def test_a_delivery_that_reaches_beyond_conforms() -> None:
    """What lies outside is not looked at."""
    assert judge(cloud((900, 1900, 1200, 2200), 1.0)).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("gap", "share", "outcome"),
    [
        ((1040, 2040, 1048, 2046), "99.52", Outcome.CONFORMS),  # 48 m²
        ((1040, 2040, 1048, 2048), "99.36", Outcome.NONCONFORMING),  # 64 m²
        ((1040, 2040, 1041.9, 2099), "100.00", Outcome.CONFORMS),  # no square of 4 m fits
        ((1092, 2000, 1100, 2100), "92.00", Outcome.NONCONFORMING),  # a line missed at the rim
        ((1000, 2000, 1004, 2012), "99.52", Outcome.CONFORMS),
        ((1000, 2000, 1004, 2014), "99.44", Outcome.NONCONFORMING),
    ],
)
def test_just_inside_and_just_outside(gap: Extent, share: str, outcome: Outcome) -> None:
    """0.5 % of the area, to the cell; a gap at the rim counts whole."""
    found = judge(cut(cloud(), gap))
    assert (found.observed, found.outcome) == (share, outcome)
    if outcome is Outcome.NONCONFORMING:
        assert found.grade is Grade.MINOR
        assert found.catalogue == ("DN-04",)
        assert found.where.xy is not None
        assert gap[0] <= found.where.xy[0] <= gap[2]
        assert gap[1] <= found.where.xy[1] <= gap[3]
        area = (gap[2] - gap[0]) * (gap[3] - gap[1])
        assert f"1 gap of {area:,.0f} m²" in found.sentence


def test_a_hole_of_the_polygon_needs_no_points() -> None:
    """A pond that is left out of the site."""
    pond = (1040.0, 2040.0, 1060.0, 2060.0)
    assert judge(cut(cloud(), pond), site=(draw(BOX, pond),)).outcome is Outcome.CONFORMS
    assert judge(cut(cloud(), pond)).outcome is Outcome.NONCONFORMING


def test_two_sites_are_both_looked_at() -> None:
    """The second polygon has no points: a gap of its own."""
    second = (1200.0, 2000.0, 1210.0, 2010.0)
    found = judge(cloud(), site=(draw(BOX), draw(second)))
    assert found.outcome is Outcome.NONCONFORMING
    assert "1 gap of 100 m²" in found.sentence


def test_of_several_gaps_the_largest_is_named() -> None:
    """One gap is told alone; of two, the larger one."""
    small, large = (1010.0, 2010.0, 1020.0, 2020.0), (1050.0, 2050.0, 1070.0, 2060.0)
    found = judge(cut(cut(cloud(), small), large))
    assert "2 gaps, the largest of 200 m² at" in found.sentence
    assert "class water round a gap as 9" in found.remedy


LAKE: Extent = (1040.0, 2040.0, 1060.0, 2060.0)


def find_holes(chunk: PointChunk) -> tuple[Finding, ...]:
    """Return what `voids` finds in the same cloud."""
    delivery = Delivery()
    delivery.add("tile_0.laz", chunk)
    return delivery.drive(Voids(), {"area_min_m2": 50.0})


@pytest.mark.parametrize(
    ("second", "grade"),
    [
        (None, Grade.OBSERVATION),
        # 36 m² more lie within the half percent, 80 m² at the rim, which is no hole, do not.
        ((1010.0, 2010.0, 1016.0, 2016.0), Grade.OBSERVATION),
        ((1000.0, 2010.0, 1004.0, 2030.0), Grade.MINOR),
    ],
)
def test_a_lake_is_told_once(second: Extent | None, grade: Grade) -> None:
    """A lake that no class marks is a hole; what is missing of the site is that hole alone."""
    chunk = cut(cloud(), LAKE)
    chunk = chunk if second is None else cut(chunk, second)
    holes = find_holes(chunk)
    assert [each.grade for each in holes] == [Grade.MINOR]
    found = judge(chunk, results={"voids": holes})
    assert found.grade is grade
    assert ("Without the hole that voids tells of" in found.sentence) is (
        grade is Grade.OBSERVATION
    )


def test_a_lake_is_told_here_where_voids_does_not_tell_it() -> None:
    """A check that is blank, or speaks of a hole elsewhere or of a part, settles nothing here."""
    chunk = cut(cloud(), LAKE)
    (hole,) = find_holes(chunk)
    elsewhere = replace(hole, where=replace(hole.where, xy=(1010.0, 2010.0)))
    smaller = replace(hole, observed="60.00")
    let_be = replace(hole, grade=Grade.OBSERVATION)
    for holes in ((), (elsewhere,), (smaller,), (let_be,)):
        assert judge(chunk, results={"voids": holes}).grade is Grade.MINOR


def test_water_is_no_gap_unless_it_is_asked_for() -> None:
    """Class 9 on the shore shows that it is water."""
    points = cut(cloud(), (1040, 2040, 1060, 2060))
    x, y = points.x / 1e4, points.y / 1e4
    shore = (x > 1030) & (x < 1070) & (y > 2030) & (y < 2070)
    wet = make_points(x, y, 0.0, classification=np.where(shore, 9, 2))
    found = judge(wet)
    assert found.outcome is Outcome.CONFORMS
    assert "400 m² over water not counted" in found.sentence
    assert judge(wet, criteria={"water_is_gap": True}).observed == "96.00"


def test_an_area_left_out_by_design_is_taken_off() -> None:
    """To the cell."""
    points = cut(cloud(), (1040, 2040, 1060, 2060))
    assert judge(points, criteria={"by_design_m2": 352}).outcome is Outcome.CONFORMS
    assert judge(points, criteria={"by_design_m2": 344}).outcome is Outcome.NONCONFORMING


def test_a_buffer_has_to_hold_points_too() -> None:
    """Ten metres round the site are asked for: four sides and a quarter of a disk at corners."""
    asked = {"buffer_m": 10.0}
    assert judge(cloud(), criteria=asked).outcome is Outcome.NONCONFORMING
    wide = (990.0, 1990.0, 1110.0, 2110.0)
    found = judge(cloud(wide), criteria=asked)
    assert found.outcome is Outcome.CONFORMS
    assert "and 10 m round it" in found.sentence


def test_tiles_are_judged_together() -> None:
    """A border between tiles is no gap, and one tile that is missing is."""
    points = cloud()
    west = points.x < 1_050_0000
    parts = take(points, west), take(points, ~west)
    assert judge(*parts).outcome is Outcome.CONFORMS
    assert judge(parts[0]).observed == "50.00"


def test_sparse_points_at_random_leave_no_gap_by_chance() -> None:
    """One point in two square metres, the sparsest of the USGS quality levels (QL3)."""
    random = np.random.default_rng(7)
    box = (1000.0, 2000.0, 1400.0, 2400.0)
    x, y = random.uniform(0, 400, (2, 80_000))
    found = judge(make_points(1000 + x, 2000 + y), site=(draw(box),))
    assert found.outcome is Outcome.CONFORMS, found.sentence


def test_no_boundary_is_not_assessed() -> None:
    """The key is named."""
    delivery = Delivery()
    delivery.add("a.laz", cloud())
    unmet = find_unmet(BoundaryCoverage.needs, delivery.make_evidence())
    assert unmet == ("boundary: delivery.boundary is blank",)


def test_a_boundary_nobody_confirmed_is_at_best_inconclusive() -> None:
    """It was taken over from the last job."""
    found = judge(cloud(), specification=Specification(carried=("delivery.boundary",)))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "delivery.boundary was taken from the last job" in found.sentence


def test_a_file_in_another_system_is_not_compared() -> None:
    """And nothing is claimed of the gap that it may fill."""
    points = cloud()
    west = points.x < 1_050_0000
    record = CrsRecord(True, describe("EPSG:6347"))
    delivery = Delivery()
    own = CrsRecord(True, replace(UTM))
    delivery.add("a.laz", take(points, west), crs=CrsReading(own, CrsRecord(False), own))
    delivery.add("b.laz", take(points, ~west), crs=CrsReading(record, CrsRecord(False), record))
    boundary = Boundary("site.geojson", "ab", (draw(BOX),))
    found = delivery.drive(BoundaryCoverage(), boundary=boundary, specified_crs=UTM)
    assert {each.outcome for each in found} == {Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE}


def test_too_narrow_or_too_large_is_inconclusive() -> None:
    """With what to set instead."""
    narrow = judge(cloud(), site=(draw((1000, 2000, 1003, 2100)),))
    assert (narrow.outcome, narrow.remedy) == (Outcome.INCONCLUSIVE, "Set a smaller cell_m.")
    large = judge(cloud(), site=(draw((-1e7, -1e7, 1e7, 1e7)),))
    assert (large.outcome, large.remedy) == (Outcome.INCONCLUSIVE, "Set a larger cell_m.")


def test_no_point_is_not_assessed() -> None:
    """An empty delivery."""
    assert judge(make_points([], [])).outcome is Outcome.NOT_ASSESSED


def test_degrees_are_not_assessed() -> None:
    """They have no length."""
    delivery = Delivery()
    delivery.add("a.laz", cloud(), crs=make_crs(None, "geographic"))  # type: ignore[arg-type]
    boundary = Boundary("site.geojson", "ab", (draw(BOX),))
    found = delivery.drive(BoundaryCoverage(), boundary=boundary)
    assert {each.outcome for each in found} == {Outcome.NOT_ASSESSED}


def test_the_map_shows_a_gap_as_large_as_it_is() -> None:
    """A gap of 18 m by 14 m is 63 cells of 2 m, and the rest of the site has points."""
    delivery = Delivery()
    delivery.add("tile.laz", cut(cloud(), (1022.0, 2020.0, 1040.0, 2034.0)))
    boundary = Boundary("site.geojson", "ab", (draw(BOX),))
    (drawn,) = delivery.draw(BoundaryCoverage(), boundary=boundary)
    assert (drawn.cell, drawn.origin, drawn.values.shape) == (2.0, (1000.0, 2000.0), (50, 50))
    assert (drawn.values[10:17, 11:20] == 10_000).all()
    assert np.count_nonzero(drawn.values == 0) == 50 * 50 - 63


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same cells."""
    points = cloud((1000.0, 2000.0, 1020.0, 2020.0), 1.0)
    boundary = Boundary("site.geojson", "ab", (draw((1000, 2000, 1020, 2020)),))
    evidence = make_evidence(make_file("a.laz", crs=make_crs()), boundary=boundary)
    check_tally_laws(BoundaryCoverage(), [points], evidence=evidence)


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.integers(-90, 90), st.integers(-90, 90)), min_size=3, max_size=9),
    st.integers(0, 3),
)
def test_cells_are_those_whose_centre_lies_inside(
    corners: list[tuple[int, int]], reach: int
) -> None:
    """Against a plain count of crossings to the right of each centre, and plain distances."""
    ring = tuple((x + 1 / math.pi, y + 1 / math.e) for x, y in [*corners, corners[0]])
    found = fill_rows(((ring,),), 4.0, reach)
    assert found is not None
    got = {
        (column, row)
        for row, start, stop in zip(found.row, found.start, found.stop, strict=True)
        for column in range(start, stop)
    }
    assert len(got) == found.count()
    inside = {
        (column, row)
        for column in range(-26, 26)
        for row in range(-26, 26)
        if _crosses(ring, 4.0 * (column + 0.5), 4.0 * (row + 0.5)) % 2
    }
    steps = range(-reach, reach + 1)
    disk = [(a, u) for a in steps for u in steps if a * a + u * u <= reach * reach]
    assert got == {(c + a, r + u) for c, r in inside for a, u in disk}


def _crosses(ring: tuple[tuple[float, float], ...], x: float, y: float) -> int:
    return sum(
        (a[1] > y) != (b[1] > y) and a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) > x
        for a, b in itertools.pairwise(ring)
    )
