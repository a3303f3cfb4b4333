"""What turns with the aircraft: from points and a trajectory to a name.

Body axes are forward, right and down; an arm (f, r) lies on the map at f·(sin h, cos h) +
r·(cos h, -sin h) under the heading h, clockwise from north (derived). Everything is planted pass
by pass, see tests/made/cause_flights.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cause_flights import arm, lag, pitch, roll, yaw
from cause_jobs import make_job
from cause_mistakes import BY_NAME, NO_MISTAKE
from cause_scores import ask
from made_cloud import ORIGIN
from made_flight import Flight
from made_logs import judge_logs
from planted_roll import make_path

from ledger.contract.check import Finding
from ledger.contract.figures import require_figure
from ledger.crs import describe
from ledger.model.fieldlogs import FieldLogs
from ledger.model.specification import Specification
from ledger.testing import drive_check, make_point, make_table
from lidar_checks.ground.causes.arms import lay_on_map
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.predict_turning import predict_turning
from lidar_checks.ground.causes.site_facts import Overflown
from lidar_checks.ground.causes.telling_turned import (
    make_turning_figure,
    tell_separation,
    tell_turned,
)
from lidar_checks.ground.named_cause import NamedCause
from lidar_checks.ground.passes import find_passes

_SITE = Flight(height=240.0, density=3.0, swath=44.0)
_MIDDLES = (20.0, 60.0)


@pytest.mark.parametrize(
    ("heading", "east", "north"),
    [(0.0, -0.05, 0.10), (90.0, 0.10, 0.05), (180.0, 0.05, -0.10), (270.0, -0.10, -0.05)],
)
def test_an_arm_on_the_map(heading: float, east: float, north: float) -> None:
    """An arm of 0.10 m ahead and 0.05 m to the left, under four headings."""
    turn = np.radians(heading)
    nothing = np.zeros((1, 2))
    flown = Overflown(
        "track.csv",
        forward=np.array([[np.sin(turn), np.cos(turn)]]),
        velocity=nothing,
        height_forward=nothing,
        across_forward=nothing,
        ahead_right=nothing,
        across=np.zeros(1),
        ahead=np.zeros(1),
    )
    assert lay_on_map(flown, 0.10, -0.05)[0] == pytest.approx((east, north, 0.0), abs=1e-12)


def test_passes_are_told_apart_by_strip_and_time() -> None:
    """Two strips, one of which comes by twice: three passes, each with its points."""
    source = np.array([2, 1, 1, 1, 2, 1], dtype=np.uint16)
    time = np.array([400.0, 101.0, 100.0, 300.0, 401.0, 102.0])
    found = list(find_passes("a.laz", source, time))
    assert [(each.source, each.time_s, each.count) for each in found] == [
        (1, 101.0, 3),
        (1, 300.0, 1),
        (2, 400.5, 2),
    ]
    assert list(find_passes("a.laz", source[:0], time[:0])) == []


@pytest.mark.parametrize(
    ("name", "turn", "amount"),
    [
        ("roll", roll, 0.002),
        ("pitch", pitch, 0.002),
        ("yaw", yaw, 0.002),
        ("lag", lag, 0.03),
        ("arm-forward", lambda size: arm(size, 0.0, 0.0), 0.2),
        ("arm-right", lambda size: arm(0.0, size, 0.0), 0.2),
    ],
)
def test_shapes_are_what_is_planted(name: str, turn: Any, amount: float, tmp_path: Path) -> None:
    """Shapes times the amount are what turning each pass by itself leaves, to a millimetre.

    By the squares of the angles, 100 m off, less than 1 mm; paths are a sample each half second.
    """
    mistake = replace(NO_MISTAKE, turn=lambda _: turn(amount))
    for seed in range(4):
        job = make_job(mistake, seed, tmp_path)
        predictions = predict_turning(gather(job.observed, job.evidence))
        (own,) = [each for each in predictions.turning if each.id == name]
        assert np.abs(own.shape * amount - job.shift).max() < 0.001


def test_a_trajectory_in_no_known_system_is_told(tmp_path: Path) -> None:
    """Without the system of the trajectory, and without one at all, nothing is predicted."""
    job = make_job(NO_MISTAKE, 1, tmp_path)
    tracks = job.evidence.logs.tracks
    for chosen, said in (
        (tuple(replace(each, place="written") for each in tracks), "in which system"),
        ((), "no trajectory or position log"),
    ):
        logs = FieldLogs(tracks=chosen)
        facts = gather(job.observed, replace(job.evidence, logs=logs))
        (left,) = predict_turning(facts).left_out
        assert said in left.why
        assert facts.overflown is None


def test_one_direction_has_no_power(tmp_path: Path) -> None:
    """Where the nose never turns, an arm moves all points alike: nothing turns, nothing is told."""
    for seed in range(40):
        job = make_job(BY_NAME["pitch off"], seed, tmp_path)
        noses = [track.series.heading_deg for track in job.evidence.logs.tracks if track.series]
        if np.isfinite(noses[0]).any():
            found = ask(job)
            assert "arm-forward" not in [each.turning.id for each in found.turning]
            return
    raise AssertionError("no job keeps its nose")


def _drive(angle: float) -> tuple[Finding, ...]:
    """Return what the check finds in two swaths there and back with a roll, degrees."""
    points = _SITE.make_points()
    second = points["point_source_id"] == 2
    points["gps_time"] = np.where(second, 3e8 + 400 + (240 - points["y"]) / 5, points["gps_time"])
    right = np.where(second, _MIDDLES[1] - points["x"], points["x"] - _MIDDLES[0])
    points["z"] = points["z"] + right * np.tan(np.radians(angle))
    delivery = _SITE.deliver(points)
    random = np.random.default_rng(3)
    places = zip(random.uniform(4, 76, 24), random.uniform(10, 230, 24), strict=True)
    table = make_table(
        make_point(f"C{n}", ORIGIN[0] + x, ORIGIN[1] + y, 100.0 + random.normal(0, 0.01))
        for n, (x, y) in enumerate(places)
    )
    asked: Mapping[str, Any] = {"coordinates": {"horizontal": "EPSG:6346"}}
    evidence = replace(
        judge_logs(make_path(), card={"height_above_ground": "45"}),
        files=delivery.make_evidence().files,
        tables=(table,),
        specification=Specification.model_validate(asked),
        specified_crs=describe("EPSG:6346"),
    )
    chunks = {path: [chunk] for path, chunk in delivery.chunks.items()}
    return drive_check(NamedCause(), evidence, chunks)


def test_a_roll_in_points_is_named() -> None:
    """A roll of 0.2 degrees lifts one side of each swath by 7 cm: through the whole check."""
    told = [each for each in _drive(0.2) if "turn with the heading" in each.sentence]
    (found,) = told
    assert found.catalogue == ("MB-05",)
    assert float(found.observed) == pytest.approx(0.2, abs=0.02)
    assert found.sentence.endswith("would make them: the roll of the scanner is off.")


def test_no_roll_in_points() -> None:
    """The same survey without a roll has nothing that turns."""
    assert not [each for each in _drive(0.0) if each.grade is not None]


def test_what_would_show_is_told(tmp_path: Path) -> None:
    """The figure names the numbers that would show from some size on, and those that never do."""
    job = make_job(NO_MISTAKE, 3, tmp_path)
    found = ask(job)
    figure = make_turning_figure(found.turning, len(found.ids))
    require_figure(NamedCause.id, figure)
    assert [each.split(" of ")[0] for each in figure.listed] == ["a roll", "a lag"]
    assert figure.sentence.endswith("not at all.")
    none = make_turning_figure((), 0)
    assert none.sentence == "What turns with the aircraft would not be told here."


def test_an_arm_is_told_with_both_numbers(tmp_path: Path) -> None:
    """A horizontal arm that was left out has the size that the rig states, and one remedy."""
    found = ask(make_job(BY_NAME["lever arm left out"], 4, tmp_path))
    sentence = tell_turned(found.turned)
    assert sentence.startswith(
        "The residuals turn with the heading of the aircraft (the horizontal"
    )
    assert sentence.endswith("the lever arm was left out.")
    assert tell_separation(found.turned).startswith("Process again with the measured lever arm")
