"""Thinning that shows in the points: clouds thinned in several ways, and honest ones."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery
from made_flight import Flight
from scipy.spatial import cKDTree

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import check_tally_laws
from ledger.units import US_SURVEY_FOOT
from lidar_checks.swath.thinned_points import ThinnedPoints

DENSE = Flight(
    width=16.0,
    height=16.0,
    tile=16.0,
    density=100.0,
    noise=0.005,
    ground=lambda x, y: 0.05 * x + 0.02 * y,
)
Points = dict[str, Any]


def judge(flight: Flight, points: Points | None = None) -> Finding:
    """Return what the check finds in one tile."""
    (finding,) = flight.deliver(points).drive(ThinnedPoints())
    return finding


def pick(points: Points, chosen: Any) -> Points:
    """Return some of the points."""
    return {name: each[chosen] for name, each in points.items()}


def thin_to_grid(points: Points, cell: float, axes: str = "xyz") -> Points:
    """Keep one point, whichever comes first, in each cell of a grid."""
    order = np.random.default_rng(4).permutation(len(points["x"]))
    places = np.column_stack([np.floor(points[axis][order] / cell) for axis in axes])
    return pick(points, np.sort(order[np.unique(places, axis=0, return_index=True)[1]]))


def thin_to_distance(points: Points, least: float) -> Points:
    """Keep a point unless one that is kept lies nearer."""
    places = np.column_stack([points[axis] for axis in "xyz"])
    near = cKDTree(places).query_ball_point(places, least)
    kept = np.zeros(len(places), dtype=bool)
    for point in np.random.default_rng(4).permutation(len(places)):
        kept[point] = not kept[near[point]].any()
    return pick(points, kept)


def lay_in_rows(turn: float, along: float, across: float, passes: int = 2) -> Points:
    """Return passes in straight rows, each turned a little and begun anywhere."""
    flight = replace(DENSE, passes=passes)
    points = flight.make_points()
    for number in range(1, passes + 1):
        random = np.random.default_rng(number)
        chosen = np.flatnonzero(points["point_source_id"] == number)
        spread = np.arange(-4.0, 20.0, along), np.arange(-4.0, 20.0, across)
        x, y = (each.ravel() + random.uniform(0, 1) for each in np.meshgrid(*spread))
        angle = np.radians(turn * random.normal())
        x, y = x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)
        x, y = (each + random.normal(0, 0.003, len(each)) for each in (x, y))
        inside = (x >= 0) & (x < 16) & (y >= 0) & (y < 16)
        x, y = x[inside][: len(chosen)], y[inside][: len(chosen)]
        points["x"][chosen[: len(x)]], points["y"][chosen[: len(x)]] = x, y
        points["classification"][chosen[len(x) :]] = 7  # what is left over is no part of it
    return points


@pytest.mark.parametrize(
    ("how", "size"),
    [("grid", 0.1), ("plan", 0.12), ("distance", 0.05), ("distance", 0.1)],
)
def test_thinning_keeps_points_of_two_passes_apart(how: str, size: float) -> None:
    """However it is done, it is an observation that says how far neighbours lie apart."""
    points = DENSE.make_points()
    if how == "distance":
        thinned = thin_to_distance(points, size)
    else:
        thinned = thin_to_grid(points, size, "xy" if how == "plan" else "xyz")
    finding = judge(DENSE, thinned)
    assert finding.grade is Grade.OBSERVATION, finding.sentence
    assert finding.catalogue == ("PS-04",)
    assert finding.where.file == "tile_0_0.laz"
    assert "So points were thinned." in finding.sentence
    if how == "distance":  # all of them keep the distance, most of them little more
        assert size <= float(finding.sentence.rsplit("them ", 1)[1].split(" m")[0]) < 1.1 * size


@pytest.mark.parametrize("share", [1.0, 0.3])
def test_independent_passes_do_not_keep_apart(share: float) -> None:
    """Nor do those of which points were left out at random: that leaves no trace."""
    points = DENSE.make_points()
    chosen = np.random.default_rng(3).random(len(points["x"])) < share
    finding = judge(DENSE, pick(points, chosen))
    assert finding.outcome is Outcome.CONFORMS
    assert 80 < float(finding.observed) < 140  # [derived] 100 % for passes that are independent


@pytest.mark.parametrize(
    "flight",
    [
        replace(DENSE, canopy=0.8, density=60.0),
        replace(DENSE, ground=lambda x, y: 0.7 * x + 0 * y),
        replace(DENSE, noise=0.05),
        replace(DENSE, unit=US_SURVEY_FOOT),
        replace(DENSE, ids={1: 0, 2: 0}),
        replace(DENSE, passes=5, density=40.0),
    ],
    ids=["canopy", "steep", "rough", "feet", "one id", "five passes"],
)
def test_honest_ground_is_left_alone(flight: Flight) -> None:
    """Leaves, slopes, noise and units take no close pairs away."""
    assert judge(flight).outcome is Outcome.CONFORMS


@pytest.mark.parametrize("turn", [0.0, 0.3])
@pytest.mark.parametrize(("along", "across"), [(0.1, 0.1), (0.05, 0.2), (0.2, 0.05)])
@pytest.mark.parametrize("passes", [1, 2, 3])
def test_rows_of_a_scanner_are_never_thinning(
    turn: float, along: float, across: float, passes: int
) -> None:
    """Points that one pass lays in rows keep apart, and rows of two passes may do so as well."""
    assert judge(DENSE, lay_in_rows(turn, along, across, passes)).grade is None


def test_passes_side_by_side_are_not_over_each_other() -> None:
    """Where overlap was cut away passes meet along a line only, and that is no thinning."""
    points = DENSE.make_points()
    own = np.floor((points["x"] + 0.3 * np.sin(points["y"])) / 0.7) % 2 + 1
    finding = judge(DENSE, pick(points, own == points["point_source_id"]))
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_channels_of_one_scanner_are_one_pass() -> None:
    """Two ids with the same times are two channels, whose points are laid between each other."""
    flight = replace(DENSE, passes=1)
    points = thin_to_distance(flight.make_points(), 0.05)
    points["point_source_id"] = np.arange(len(points["x"])).astype(np.uint16) % 2 + 1
    finding = judge(flight, points)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("two passes over the same ground in one file",)


def test_without_times_passes_are_not_told_apart() -> None:
    """No time, or one in coarse steps, and nothing is said."""
    for flight in (replace(DENSE, time_step=0.0), replace(DENSE, time_step=0.0, ids={1: 7, 2: 7})):
        finding = judge(flight, thin_to_grid(flight.make_points(), 0.2))
        assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("gps_time",))
    assert next(iter(Delivery().drive(ThinnedPoints()))).needs == ("points",)


def test_coarse_steps_are_no_thinning() -> None:
    """Coordinates in whole centimetres or more lie on a lattice; that is told elsewhere."""
    for step in (0.01, 0.02, 0.05):
        points = DENSE.make_points()
        for axis in "xy":
            points[axis] = np.round(points[axis] / step) * step
        points = pick(
            points,
            np.unique(np.column_stack([points["x"], points["y"]]), axis=0, return_index=True)[1],
        )
        assert judge(DENSE, points).grade is None, step


def test_few_points_say_nothing() -> None:
    """A dozen square metres of a thin cloud are no ground for a word."""
    flight = Flight(width=8.0, height=8.0, tile=8.0, density=10.0)
    assert judge(flight).outcome is Outcome.INCONCLUSIVE


def test_one_thinned_tile_among_others_is_named() -> None:
    """The other tiles conform together."""
    flight = replace(DENSE, width=32.0)
    points = flight.make_points()
    east = points["x"] >= 16
    parts = [pick(points, ~east), thin_to_grid(pick(points, east), 0.1)]
    joined = {name: np.concatenate([part[name] for part in parts]) for name in points}
    findings = {each.subject: each for each in flight.deliver(joined).drive(ThinnedPoints())}
    assert findings["tile_1_0.laz"].grade is Grade.OBSERVATION
    assert [each.outcome for each in findings.values() if each.grade is None] == [Outcome.CONFORMS]


@pytest.mark.parametrize("least", [0.0, 0.08])
def test_the_tally_keeps_the_laws(least: float) -> None:
    """Cutting, order, merging and pickling leave every count as it is, with more than it keeps."""
    flight = replace(DENSE, density=120.0)
    points = thin_to_grid(flight.make_points(), least) if least else flight.make_points()
    delivery = flight.deliver(points)
    path = "tile_0_0.laz"
    check_tally_laws(
        ThinnedPoints(),
        [delivery.chunks[path]],
        evidence=delivery.make_evidence(),
        file=delivery.files[path],
    )
