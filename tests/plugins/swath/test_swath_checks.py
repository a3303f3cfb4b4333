"""Swath checks from points to findings: planted steps, ghosts and flyers, and honest flights."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, Floats, make_crs
from made_flight import Flight, Shape, append

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.figures import require_figure
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws
from ledger.units import US_SURVEY_FOOT
from lidar_checks.swath.double_surfaces import DoubleSurfaces
from lidar_checks.swath.flyers import Flyers
from lidar_checks.swath.joined_rows import Pair
from lidar_checks.swath.point_source_ids import PointSourceIds
from lidar_checks.swath.surface_thickness import SurfaceThickness, compute_precision
from lidar_checks.swath.swath_check import SwathCheck
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep, tell_steps

CHECKS: tuple[tuple[SwathCheck, dict[str, Any]], ...] = (
    (SwathStep(), {}),
    (DoubleSurfaces(), {}),
    (SurfaceThickness(), {"rmsd_max_m": 0.06}),
    (Flyers(), {}),
    (SwathOverlap(), {"min_share": 0.5}),
    (PointSourceIds(), {}),
)


def constant(rise: float) -> Shape:
    """Return the same rise everywhere."""
    return lambda x, _: np.full_like(x, rise)


def judge(check: SwathCheck, flight: Flight, **criteria: Any) -> list[Finding]:
    """Return what one check finds in a made flight."""
    return list(flight.deliver().drive(check, criteria))


def list_grades(findings: list[Finding]) -> list[Grade]:
    """Return the grades of what is nonconforming."""
    return [finding.grade for finding in findings if finding.grade is not None]


def rolling(x: Floats, y: Floats) -> Floats:
    """Return gentle hills."""
    return np.asarray(1.5 * np.sin(x / 15) * np.cos(y / 12))


HONEST: dict[str, Flight] = {
    "flat": Flight(),
    "rolling": Flight(ground=rolling),
    "8 degrees": Flight(ground=lambda x, y: 0.14 * x + 0 * y),
    "steep": Flight(ground=lambda x, y: 0.7 * x + 0 * y),
    "forest": Flight(canopy=0.8),
    "some trees": Flight(canopy=0.2),
    "quarry face inside a tile": Flight(ground=lambda x, _: np.where(x < 41, 0.0, -8.0)),
    "quarry face at a tile edge": Flight(ground=lambda x, _: np.where(x < 40, 0.0, -8.0), tile=40),
    "kerbs": Flight(ground=lambda x, _: np.asarray(0.12 * np.floor(x / 3.3), dtype=np.float64)),
    "low walls": Flight(ground=lambda x, _: np.asarray(0.4 * (x % 6.1 < 0.4), dtype=np.float64)),
    "rough fields": Flight(noise=0.05),
    "tiles": Flight(tile=20),
    "feet": Flight(unit=US_SURVEY_FOOT),
    "thin": Flight(density=2.0),
}


@pytest.mark.parametrize("name", HONEST)
def test_honest_flights_are_left_alone(name: str) -> None:
    """Whatever the ground does on its own, no swath check speaks against it."""
    for check, criteria in CHECKS:
        if isinstance(check, SurfaceThickness):
            criteria = {"rmsd_max_m": 0.25}  # noqa: PLW2901 - rough fields are thick by themselves
        findings = judge(check, HONEST[name], **criteria)
        assert findings, check.id
        assert list_grades(findings) == [], (check.id, [f.sentence for f in findings])


def test_water_and_vegetation_are_no_surfaces() -> None:
    """A lake that rose between two passes is no step (LBS 2025 rev. A: water is left out)."""
    flight = Flight(raise_by={2: constant(0.5)})
    points = flight.make_points()
    points["classification"][:] = 9
    for check in (SwathStep(), DoubleSurfaces()):
        (finding,) = flight.deliver(points).drive(check)
        assert finding.outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize(("rise", "found"), [(0.0795, 0), (0.0805, 1), (-0.0805, 1), (31.9, 1)])
def test_the_step_between_two_swaths_is_the_criterion(rise: float, found: int) -> None:
    """A step just inside of 0.08 m conforms, one just outside is a minor of the pair."""
    flight = Flight(noise=0.0, raise_by={2: constant(rise)})
    findings = judge(SwathStep(), flight)
    assert len(list_grades(findings)) == found
    if found:
        (finding,) = findings
        assert finding.grade is Grade.MINOR
        assert finding.subject == "swaths 1 and 2"
        assert f"{rise:+.3f} m, nearly the same everywhere" in finding.sentence
        assert finding.where.file == "tile_0_0.laz"
        assert finding.remedy
        assert finding.catalogue == ("SW-01",)
        assert finding.where.strips == ("swath 1", "swath 2")
        # 3e8 + 10^9 GPS seconds, less the 18 leap seconds of 2021: 17 March 2021, 07:06:22 UTC;
        # the passes begin 200 s and 400 s later and take 16 s.
        assert finding.where.time_span is not None
        first, last = finding.where.time_span
        assert "2021-03-17T07:09:42Z" <= first < last <= "2021-03-17T07:13:18Z"


@pytest.mark.parametrize(("limit", "found"), [(0.041, 0), (0.039, 1)])
def test_a_profile_sets_the_rmsd(limit: float, found: int) -> None:
    """The RMSD of a steady step is the step: USGS LBS quality level 0 asks for 0.040 m."""
    flight = Flight(noise=0.0, raise_by={2: constant(0.04)})
    assert len(list_grades(judge(SwathStep(), flight, rmsd_max_m=limit))) == found


@pytest.mark.parametrize(("edge", "found"), [(6.0, 0), (20.0, 1)])
def test_a_step_in_one_corner_counts_when_it_is_prevalent(edge: float, found: int) -> None:
    """A step of 0.12 m along a strip is told by patches, not by the RMSD over everything."""
    flight = Flight(noise=0.005, raise_by={2: lambda x, _: np.where(x < edge, 0.12, 0.0)}, tile=40)
    findings = judge(SwathStep(), flight)
    assert len(list_grades(findings)) == found
    if found:
        assert "patches step by more than 0.08 m" in findings[0].sentence
        assert findings[0].unit == "share of patches"


def test_passes_of_one_id_are_told_apart_by_time() -> None:
    """Where every id is 0, a pause over the same ground parts two passes."""
    flight = Flight(raise_by={2: constant(0.1)}, ids={1: 0, 2: 0})
    (finding,) = judge(SwathStep(), flight)
    assert finding.subject == "passes of swath 0"
    assert finding.grade is Grade.MINOR
    (told,) = judge(PointSourceIds(), flight)
    assert told.grade is Grade.OBSERVATION
    assert "is 0, so swaths can only be told apart by time" in told.sentence


@pytest.mark.parametrize("density", [20.0, 600.0, 2000.0])
def test_dense_clouds_are_looked_at_as_others_are(density: float) -> None:
    """A step is found whether a file could keep one patch of all its points or hundreds."""
    flight = Flight(width=32, height=32, density=density, raise_by={2: constant(0.12)})
    (step,) = judge(SwathStep(), flight)
    assert step.grade is Grade.MINOR
    assert "+0.120 m, nearly the same everywhere" in step.sentence
    (double,) = judge(DoubleSurfaces(), flight)
    assert double.grade is Grade.MINOR
    (thick,) = judge(SurfaceThickness(), flight, rmsd_max_m=0.15)
    assert thick.outcome is Outcome.CONFORMS
    assert 0.05 < float(thick.observed) < 0.15


def test_without_ids_and_times_swaths_are_not_assessed() -> None:
    """Nothing tells the passes apart, and that is no pass."""
    flight = Flight(raise_by={2: constant(0.1)}, ids={1: 7, 2: 7}, time_step=0.0)
    for check, criteria in ((SwathStep(), {}), (SwathOverlap(), {"min_share": 0.1})):
        (finding,) = judge(check, flight, **criteria)
        assert finding.outcome is Outcome.NOT_ASSESSED
        assert finding.needs == ("point_source_id", "gps_time")


def test_times_rounded_to_32_bits_part_no_passes() -> None:
    """One pass whose times come in steps of 32 s is one pass, and the check says it is blind."""
    flight = Flight(passes=1, ids={1: 0})
    points = flight.make_points()
    points["gps_time"] = points["gps_time"].astype(np.float32).astype(np.float64)
    (finding,) = flight.deliver(points).drive(SwathOverlap(), {"min_share": 0.5})
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_one_file_a_flight_line_is_compared_as_well() -> None:
    """Swaths in files of their own meet in the cells that both have seen."""
    flight = Flight(raise_by={2: constant(0.1)})
    points = flight.make_points()
    delivery = Delivery()
    for line in (1, 2):
        chosen = points["point_source_id"] == line
        chunk = flight.make_chunk({name: each[chosen] for name, each in points.items()})
        delivery.add(f"line_{line}.laz", chunk)
    (finding,) = delivery.drive(SwathStep())
    assert finding.grade is Grade.MINOR
    (overlap,) = delivery.drive(SwathOverlap(), {"min_share": 0.9})
    assert overlap.outcome is Outcome.CONFORMS


def test_a_pass_cut_by_a_tile_edge_is_no_second_pass() -> None:
    """The halves of one pass in two tiles are neither a pair nor an overlap."""
    flight = Flight(width=82.0, height=82.0, tile=41.0, passes=1)
    (overlap,) = judge(SwathOverlap(), flight, min_share=0.01)
    assert overlap.observed == "0.00"


def _ghost(share: float, apart: float, where: float) -> Shape:
    """Return a second surface for a share of the points west of a line."""

    def rise(x: Floats, _: Floats) -> Floats:
        chosen = np.random.default_rng(3).random(len(x)) < share
        return np.where(chosen & (x < where), apart, 0.0)

    return rise


@pytest.mark.parametrize(
    ("apart", "where", "found"), [(0.15, 80, 1), (0.15, 8, 1), (0.15, 1.0, 0), (0.07, 80, 0)]
)
def test_two_surfaces_in_one_swath_are_ghosting(apart: float, where: float, found: int) -> None:
    """Two surfaces in a tenth of the ground are found; in hardly any, or closer, they are not."""
    flight = Flight(passes=1, noise=0.01, tile=40, raise_by={1: _ghost(0.5, apart, where)})
    findings = judge(DoubleSurfaces(), flight)
    assert len(list_grades(findings)) == found
    if found:
        (finding,) = findings
        assert finding.grade is Grade.MINOR
        assert "both of swath 1" in finding.sentence
        assert (finding.where.file in {"tile_0_0.laz", "tile_0_1.laz"}) or where > 40
        assert finding.where.xy is not None


@pytest.mark.parametrize(("apart", "found"), [(0.078, 0), (0.082, 1)])
def test_surfaces_have_to_lie_apart(apart: float, found: int) -> None:
    """Without noise the distance just inside of the criterion conforms."""
    flight = Flight(passes=1, noise=0.0, raise_by={1: _ghost(0.5, apart, 80)})
    findings = judge(DoubleSurfaces(), flight, apart_min_m=0.08)
    assert len(list_grades(findings)) == found


@pytest.mark.parametrize(("step", "found"), [(1e-4, 0), (-1e-4, 1)])
def test_the_share_of_cells_is_the_criterion(step: float, found: int) -> None:
    """Against the share that is there, a criterion just above and just below it."""
    flight = Flight(passes=1, noise=0.01, tile=40, raise_by={1: _ghost(0.5, 0.15, 24)})
    (finding,) = judge(DoubleSurfaces(), flight)
    share = float(finding.observed) / 100
    assert 0.07 < share < 0.3  # of three tenths a third is seen, see `two_surfaces`
    findings = judge(DoubleSurfaces(), flight, max_share_of_cells=share + step)
    assert len(list_grades(findings)) == found


def test_the_published_cell_of_single_pass_precision() -> None:
    """USGS LBS 2025 rev. A: range 0.09 m, slope 0.02, cell 2 m give 0.03344 m [computed]."""
    precision = compute_precision(np.array([0.09, 0.01]), np.array([0.02, 0.02]), 2.0)
    assert precision == pytest.approx([0.03344, 0.0])


@pytest.mark.parametrize(("thick", "found"), [(0.059, 0), (0.061, 1)])
def test_the_thickness_of_a_pass_is_its_range(thick: float, found: int) -> None:
    """Points at the bottom and the top of a level sheet give its thickness as RMSD."""
    flight = Flight(density=40.0, noise=0.0, raise_by={i: _ghost(0.5, thick, 80) for i in (1, 2)})
    findings = judge(SurfaceThickness(), flight, rmsd_max_m=0.06)
    assert list_grades(findings) == [Grade.MINOR] * found
    assert float(findings[0].observed) == pytest.approx(thick, abs=5e-4)


def test_thickness_takes_cells_of_another_size() -> None:
    """Cells of 1 m of a dense cloud are measured beside those of the other checks."""
    flight = Flight(width=40, height=40, density=40.0)
    (finding,) = judge(SurfaceThickness(), flight, rmsd_max_m=0.2, cell_m=1.0)
    assert "cells of 1 m" in finding.sentence


def test_thickness_without_a_criterion_is_not_assessed() -> None:
    """Only the customer or a profile can say how thick a surface may be."""
    assert SurfaceThickness.criteria.model_fields["rmsd_max_m"].is_required()


def test_an_overlap_that_nobody_asks_for_is_told_and_not_judged() -> None:
    """The share stands in the sentence, and what would judge it is named."""
    (finding,) = judge(SwathOverlap(), Flight())
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.criteria.swath-overlap.min_share",)
    assert "100.0 % of" in finding.sentence


@pytest.mark.parametrize(
    ("height", "fields", "found"),
    [
        (30.0, {}, 1),
        (-9.0, {}, 1),
        (2.5, {}, 0),
        (30.0, {"classification": 18}, 0),
        (-9.0, {"classification": 7}, 0),
        (30.0, {"withheld": True}, 0),
    ],
)
def test_lone_points_are_flyers_unless_marked(
    height: float, fields: dict[str, Any], found: int
) -> None:
    """A bird or a low point is an observation; what is marked or near the rest is not."""
    flight = Flight()
    points = append(flight.make_points(), 30.0, 50.0, height, **fields)
    (finding,) = flight.deliver(points).drive(Flyers())
    assert list_grades([finding]) == [Grade.OBSERVATION] * found
    if found:
        below = int(height < 0)
        assert f"{below} below the ground, {1 - below} above" in finding.sentence
        assert finding.where.file == "tile_0_0.laz"


@pytest.mark.parametrize(("count", "found"), [(3, 1), (4, 0)])
def test_more_points_together_are_a_thing(count: int, found: int) -> None:
    """A lamp or a wire has several points at one height."""
    flight = Flight()
    spots = 30 + np.arange(count) * 0.3
    points = append(flight.make_points(), spots, np.full(count, 50.0), np.full(count, 25.0))
    (finding,) = flight.deliver(points).drive(Flyers())
    assert len(list_grades([finding])) == found


def test_a_flyer_at_a_tile_edge_is_judged_with_the_next_tile() -> None:
    """A tree of which one tile has three points is no flyer: the rest stands in the next tile."""
    flight = Flight(tile=40)
    spots = 40.5 + np.linspace(-0.9, 8, 40)
    points = append(flight.make_points(), spots, np.full(40, 50.0), np.full(40, 25.0))
    (finding,) = flight.deliver(points).drive(Flyers())
    assert list_grades([finding]) == []


@pytest.mark.parametrize(("share", "found"), [(0.24, 0), (0.36, 1)])
def test_the_overlap_is_a_share_of_cells(share: float, found: int) -> None:
    """Four swaths of 26 m, 20 m apart, see three strips of 6 m twice: some 30 % of the cells."""
    flight = Flight(passes=4, swath=26.0, tile=40)
    findings = judge(SwathOverlap(), flight, min_share=share)
    assert list_grades(findings) == [Grade.MINOR] * found
    assert findings[0].catalogue == ("DN-06",)


def test_ids_that_are_one_while_passes_are_two() -> None:
    """One id for everything hides that ground was flown over twice."""
    (finding,) = judge(PointSourceIds(), Flight(ids={1: 7, 2: 7}))
    assert finding.grade is Grade.OBSERVATION
    assert "is 7, though the GPS times show" in finding.sentence
    (finding,) = judge(PointSourceIds(), Flight(passes=1, ids={1: 7}))
    assert finding.outcome is Outcome.CONFORMS


def test_a_file_that_says_it_is_another_line() -> None:
    """A file source id of a flight line and points of other lines contradict each other."""
    delivery = Flight(ids={1: 3, 2: 4}).deliver()
    file = delivery.files["tile_0_0.laz"]
    assert file.header is not None
    header = dataclasses.replace(file.header, file_source_id=3)
    delivery.files["tile_0_0.laz"] = dataclasses.replace(file, header=header)
    (finding,) = delivery.drive(PointSourceIds())
    assert finding.sentence == "tile_0_0.laz says that it is flight line 3, and holds points of 4."


def test_a_file_of_another_line_hides_no_points_without_an_id() -> None:
    """Both are told, each of its own file."""
    delivery = Flight(ids={1: 0, 2: 4}).deliver()
    file = delivery.files["tile_0_0.laz"]
    assert file.header is not None
    header = dataclasses.replace(file.header, file_source_id=3)
    delivery.files["tile_0_0.laz"] = dataclasses.replace(file, header=header)
    told = [finding.sentence for finding in delivery.drive(PointSourceIds())]
    assert [("says that it is flight line" in each, "id 0" in each) for each in told] == [
        (True, False),
        (False, True),
    ]


def test_some_points_without_an_id() -> None:
    """Points of id 0 among others are told by file."""
    (finding,) = judge(PointSourceIds(), Flight(ids={1: 0, 2: 4}))
    assert "have point source id 0, while others" in finding.sentence


def test_feet_are_feet() -> None:
    """Coordinates in US survey feet give the step in metres."""
    flight = Flight(noise=0.0, raise_by={2: constant(0.1)}, unit=US_SURVEY_FOOT)
    (finding,) = judge(SwathStep(), flight)
    assert float(finding.observed) == pytest.approx(0.1, abs=0.001)


@pytest.mark.parametrize(("check", "criteria"), CHECKS, ids=lambda each: getattr(each, "id", ""))
def test_degrees_and_no_points_are_not_assessed(
    check: SwathCheck, criteria: dict[str, Any]
) -> None:
    """Files in degrees have no lengths; without points nothing is said."""
    delivery = Flight(width=20, height=20, tile=20).deliver()
    path, file = next(iter(delivery.files.items()))
    crs = make_crs(None, CrsKind.GEOGRAPHIC)
    delivery.files[path] = dataclasses.replace(file, crs=crs)
    (finding,) = delivery.drive(check, criteria)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("projected coordinates",)
    (finding,) = Delivery().drive(check, criteria)
    assert finding.outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize(("check", "criteria"), CHECKS, ids=lambda each: getattr(each, "id", ""))
def test_the_order_of_files_leaves_no_trace(check: SwathCheck, criteria: dict[str, Any]) -> None:
    """Files handed over in another order give the same findings."""
    delivery = Flight(tile=40, raise_by={2: constant(0.1)}).deliver()
    turned = Delivery(dict(reversed(delivery.chunks.items())), delivery.files)
    assert list(delivery.drive(check, criteria)) == list(turned.drive(check, criteria))


@pytest.mark.parametrize(
    "flight",
    [
        Flight(density=14),
        Flight(density=14, canopy=0.5),
        Flight(width=24, height=24, density=150, canopy=0.2),
    ],
    ids=["bare", "trees", "dense"],
)
def test_the_tally_keeps_the_laws(flight: Flight) -> None:
    """Cutting, order, merging and pickling leave every count and every plane as it is."""
    flight = dataclasses.replace(flight, raise_by={2: constant(0.1)})
    points = append(flight.make_points(), [10.0, 20.0], [5.0, 6.0], [900.0, -40.0])
    delivery = flight.deliver(points)
    path = "tile_0_0.laz"
    check_tally_laws(
        SwathStep(),
        [delivery.chunks[path]],
        evidence=delivery.make_evidence(),
        file=delivery.files[path],
    )


def test_the_differences_of_swaths_are_told_as_a_figure() -> None:
    """Each pair with its median step; it proves nothing of the ground, and says so."""
    rows = np.zeros(3, dtype=np.int64)
    pairs = [
        Pair(1, 2, rows, rows, np.array([0.01, 0.02, 0.09])),
        Pair(2, 3, rows, rows, np.full(3, -0.03)),
    ]
    told = require_figure("swath-step", tell_steps(pairs))
    assert told.listed == ("swaths 1 and 2", "swaths 2 and 3")
    assert told.values == ("0.0200", "-0.0300")
    assert "2 pairs of swaths: -0.030 to +0.020 m" in told.sentence
    assert told.is_inner
