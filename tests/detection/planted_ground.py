"""Errors of surveyed points, and of the ground round them."""

from __future__ import annotations

import numpy as np
from planted import METRES, Flown, plant

from ledger.model.surveypoints import PointTable
from ledger.testing import Scene, SurveyBuilder, make_point, make_table
from lidar_checks.ground.checkpoint_patch import CheckpointPatch

_PLANE = Scene(columns=1, relief=0.0, vegetation=0.0, density=60.0)
_THIN = Scene(columns=1, relief=0.0, vegetation=0.0, density=3.0, passes=1)
_EAST, _NORTH = 500_010.0, 3_100_010.0


def _make_table(east: float = _EAST) -> PointTable:
    return make_table([make_point("C1", east, _NORTH, 20.0)])


def _tilt(survey: SurveyBuilder, slope: float) -> None:
    """Let the ground rise to the east."""
    points = survey.tile(0).points
    x, z = (points[name].astype(np.float64) for name in "xz")
    survey.set_field(0, "z", z + slope * (x - _EAST))


def _roughen(survey: SurveyBuilder, scatter: float) -> None:
    """Scatter the heights about the ground, by as much everywhere."""
    z = survey.tile(0).points["z"].astype(np.float64)
    signs = np.where(np.arange(len(z)) % 2, 1.0, -1.0)
    np.random.default_rng(4).shuffle(signs)
    survey.set_field(0, "z", z + scatter * signs)


def _reclassify(survey: SurveyBuilder, share: float) -> None:
    """Take part of the ground out of its class."""
    count = len(survey.tile(0).points["z"])
    order = np.random.default_rng(6).permutation(count)
    survey.set_field(0, "classification", np.where(order < share * count, 1, 2).astype(np.uint8))


def _keep_near(survey: SurveyBuilder, count: int) -> None:
    """Leave so many points within two metres of the checkpoint."""
    points = survey.tile(0).points
    x, y = (points[name].astype(np.float64) for name in "xy")
    near = np.hypot(x - _EAST, y - _NORTH) <= 2.0
    chosen = np.random.default_rng(8).permutation(np.flatnonzero(near))[:count]
    survey.keep_points(0, ~near | np.isin(np.arange(len(x)), chosen))


def _cut_west(survey: SurveyBuilder, beyond: float) -> None:
    """Leave nothing of the cloud west of a line so far east of the checkpoint."""
    x = survey.tile(0).points["x"].astype(np.float64)
    survey.keep_points(0, x > _EAST + beyond)


def _fly(spoil: object, scene: Scene = _PLANE) -> Flown:
    return Flown(
        CheckpointPatch(),
        spoil,  # type: ignore[arg-type]
        scene=scene,
        specification=METRES,
        options=(("tables", (_make_table(),)),),
    )


CASES = (
    plant("a checkpoint on a slope", _fly(_tilt), 0.105, 0.095, "10.5 % against 9.5 %"),
    plant("a rough place", _fly(_roughen), 0.032, 0.028, "0.032 m against 0.028 m"),
    plant(
        "ground of another class",
        _fly(_reclassify),
        0.6,
        0.4,
        "60 % of the points against 40 %",
    ),
    plant("a thin place", _fly(_keep_near, _THIN), 9, 14, "9 points against 14"),
    plant(
        "a checkpoint beside the cloud",
        _fly(_cut_west),
        0.3,
        -0.2,
        "0.3 m outside against 0.2 m inside",
    ),
    plant(
        "a checkpoint off the cloud",
        _fly(_cut_west),
        2.1,
        -0.5,
        "2.1 m outside against 0.5 m inside",
    ),
)
