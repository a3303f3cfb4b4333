"""The step between two swaths: its criterion, and how passes are told apart."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from judged_flights import constant, judge_flight, list_grades
from made_cloud import Delivery
from made_flight import Flight, append

from ledger.contract.check import Grade, Outcome
from ledger.contract.figures import require_figure
from ledger.testing import check_tally_laws
from ledger.units import US_SURVEY_FOOT
from lidar_checks.swath.joined_rows import Pair
from lidar_checks.swath.point_source_ids import PointSourceIds
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep, tell_steps


@pytest.mark.parametrize(("rise", "found"), [(0.0795, 0), (0.0805, 1), (-0.0805, 1), (31.9, 1)])
def test_the_step_between_two_swaths_is_the_criterion(rise: float, found: int) -> None:
    """A step just inside of 0.08 m conforms, one just outside is a minor of the pair."""
    flight = Flight(noise=0.0, raise_by={2: constant(rise)})
    findings = judge_flight(SwathStep(), flight)
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
    assert len(list_grades(judge_flight(SwathStep(), flight, rmsd_max_m=limit))) == found


@pytest.mark.parametrize(("edge", "found"), [(6.0, 0), (20.0, 1)])
def test_a_step_in_one_corner_counts_when_it_is_prevalent(edge: float, found: int) -> None:
    """A step of 0.12 m along a strip is told by patches, not by the RMSD over everything."""
    flight = Flight(noise=0.005, raise_by={2: lambda x, _: np.where(x < edge, 0.12, 0.0)}, tile=40)
    findings = judge_flight(SwathStep(), flight)
    assert len(list_grades(findings)) == found
    if found:
        assert "patches step by more than 0.08 m" in findings[0].sentence
        assert findings[0].unit == "share of patches"


def test_passes_of_one_id_are_told_apart_by_time() -> None:
    """Where every id is 0, a pause over the same ground parts two passes."""
    flight = Flight(raise_by={2: constant(0.1)}, ids={1: 0, 2: 0})
    (finding,) = judge_flight(SwathStep(), flight)
    assert finding.subject == "passes of swath 0"
    assert finding.grade is Grade.MINOR
    (told,) = judge_flight(PointSourceIds(), flight)
    assert told.grade is Grade.OBSERVATION
    assert "is 0, so swaths can only be told apart by time" in told.sentence


def test_without_ids_and_times_swaths_are_not_assessed() -> None:
    """Nothing tells the passes apart, and that is no pass."""
    flight = Flight(raise_by={2: constant(0.1)}, ids={1: 7, 2: 7}, time_step=0.0)
    for check, criteria in ((SwathStep(), {}), (SwathOverlap(), {"min_share": 0.1})):
        (finding,) = judge_flight(check, flight, **criteria)
        assert finding.outcome is Outcome.NOT_ASSESSED
        assert finding.needs == ("point_source_id", "gps_time")


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


def test_feet_are_feet() -> None:
    """Coordinates in US survey feet give the step in metres."""
    flight = Flight(noise=0.0, raise_by={2: constant(0.1)}, unit=US_SURVEY_FOOT)
    (finding,) = judge_flight(SwathStep(), flight)
    assert float(finding.observed) == pytest.approx(0.1, abs=0.001)


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
