"""Strips and minutes of a delivery, and what checkpoints cover of them in real clouds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import (
    TABLE_SPECIFICATION,
    Layout,
    Scene,
    SurveyBuilder,
    make_chunk,
    make_point,
    make_table,
    run_check,
    spread_points,
)
from lidar_checks.ground.blind_areas import BlindAreas
from lidar_checks.ground.checkpoint_check import CheckpointCheck
from lidar_checks.ground.checkpoint_outliers import CheckpointOutliers
from lidar_checks.ground.flown import Flown, FlownTally, find_minutes, join_flown
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy

SCENE = Scene(columns=3, rows=1, density=30.0, noise=0.01)
ASKED = TABLE_SPECIFICATION + "\n[criteria.vertical-accuracy]\nrmse_max_m = 0.05\n"


def test_minutes_are_whole_and_counted_from_the_origin() -> None:
    """Seconds as stored, negative ones too; what is no number lies in no minute."""
    times = np.array([0.0, 59.9, 60.0, -0.1, np.nan, np.inf, 3599.0])
    assert find_minutes(times) == frozenset({0, 1, -1, 59})
    assert find_minutes(np.array([np.nan])) == frozenset()


def test_times_that_are_no_clock_tell_no_minutes() -> None:
    """A field full of noise spans more minutes than a week has; its order leaves no trace."""
    noise = np.random.default_rng(2).uniform(0.0, 1e12, 30_000)
    assert find_minutes(noise) is None
    whole, parts = FlownTally(), FlownTally()
    whole.chunk(_chunk(noise))
    for start in range(0, 30_000, 7_000):
        part = FlownTally()
        part.chunk(_chunk(noise[start : start + 7_000]))
        parts.merge(part)
    assert whole.close() == parts.close()
    assert whole.close().minutes is None
    flight = Flown(frozenset({1}), frozenset({7}))
    assert join_flown([flight, whole.close()]).minutes is None


def _chunk(times):
    """Return points with these times and two strips in turn."""
    fields = {name: np.zeros(len(times)) for name in "xyz"}
    sources = np.arange(len(times), dtype=np.uint16) % 2 + 3
    return make_chunk({**fields, "gps_time": times, "point_source_id": sources})


def look(folder: Path, check: CheckpointCheck, *points) -> tuple[Finding, ...]:
    """Return what a check finds with these checkpoints in a real cloud of three tiles."""
    survey = SurveyBuilder(folder / "out", Layout(), SCENE)
    wishes = ASKED if check.id == "vertical-accuracy" else TABLE_SPECIFICATION
    return run_check(check, survey, wishes, tables=(make_table(points),))


def test_tiles_of_a_cloud_without_a_checkpoint(tmp_path: Path) -> None:
    """Checkpoints in the first of three tiles leave the two others untold."""
    points = [each for each in spread_points(SCENE, 24) if each.east < 500_019]
    (found,) = look(tmp_path, BlindAreas(), *points)
    assert found.grade is Grade.OBSERVATION
    assert "2 of 3 tiles hold no checkpoint" in found.sentence


@pytest.mark.parametrize(("error", "is_bad"), [(0.045, False), (0.055, True)])
def test_a_cloud_that_lies_off(tmp_path: Path, error: float, is_bad: bool) -> None:
    """Checkpoints of the true ground, and a cloud that lies above it as a whole."""
    found = look(tmp_path, VerticalAccuracy(), *spread_points(SCENE, 24, error=error))
    assert any(each.grade is Grade.MAJOR for each in found) is is_bad
    # Where the RMSE is broken the mean is told with it, and not once more by itself.
    assert any("above the checkpoints" in each.sentence for each in found) is not is_bad
    assert any(f"mean {error:+.2f}"[:-1] in each.sentence for each in found)


def test_a_blunder_in_a_real_cloud(tmp_path: Path) -> None:
    """One height typed 20 cm too low is named, from the points of the cloud."""
    points = list(spread_points(SCENE, 24))
    wrong = points[5]
    assert wrong.height is not None
    east, north = float(wrong.east), float(wrong.north)
    points[5] = make_point(wrong.id, east, north, float(wrong.height) - 0.2)
    (found,) = look(tmp_path, CheckpointOutliers(), *points)
    assert (found.outcome, found.subject) == (Outcome.NONCONFORMING, wrong.id)
    assert float(found.observed) == pytest.approx(0.2, abs=0.01)
