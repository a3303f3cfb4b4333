"""Errors of the heights and places at checkpoints: scatter, bias, vegetation, blunders."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from checkpoint_cases import ASKED, GOOD, Case, case, heights
from ground_bench import draw, make_residuals

from lidar_checks.ground.checkpoint_outliers import CheckpointOutliers
from lidar_checks.ground.horizontal_accuracy import HorizontalAccuracy
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy


def in_forest(error: float) -> Case:
    """Return good points, and twenty in a forest of which one is off by this much or more."""
    grown = make_residuals([0.01] * 18 + [error] * 2)
    forest = (
        replace(each, id=f"V{each.id}", stratum="forest", north_m=each.north_m + 5.0)
        for each in grown
    )
    return Case((*GOOD, *forest))


def overgrown(rise: float) -> Case:
    """Return good points, and twelve in a forest above which the cloud lies."""
    grown = make_residuals(draw(12, float(np.hypot(rise, 0.01)), rise))
    forest = (
        replace(each, id=f"V{each.id}", stratum="forest", north_m=each.north_m + 5.0)
        for each in grown
    )
    return Case((*GOOD, *forest))


def targets(off: float) -> Case:
    """Return targets picked so far east of where they should be."""
    return Case(tuple(replace(each, dx=off, dy=0.0) for each in GOOD))


def one_off(error: float) -> Case:
    """Return good points of which one is off."""
    return Case((*GOOD[:6], replace(GOOD[6], dz=error), *GOOD[7:]))


def exchanged(rise: float) -> Case:
    """Return good points of which two, that differ in height by so much, are exchanged."""
    level = [replace(each, height_m=25.0, dz=(each.dz or 0.0) / 4) for each in GOOD]
    level[2] = replace(level[2], height_m=20.0 + rise, dz=(level[2].dz or 0.0) - rise)
    level[9] = replace(level[9], height_m=20.0, dz=(level[9].dz or 0.0) + rise)
    return Case(level)


def rod(step: float) -> Case:
    """Return points of which five in a row had the wrong rod."""
    return Case(
        [
            replace(each, dz=(each.dz or 0.0) / 10 + (step if 4 <= n < 9 else 0.0))
            for n, each in enumerate(GOOD)
        ]
    )


CASES = (
    case(
        VerticalAccuracy(),
        "heights that scatter",
        heights(0.0501),
        heights(0.0499),
        "RMSE 0.0501 m against 0.0499 m",
        ASKED,
    ),
    case(
        VerticalAccuracy(),
        "a bias",
        heights(0.056, 0.055),
        heights(0.0104, 0.0100),
        "0.055 m against 0.010 m",
        ASKED,
    ),
    case(
        VerticalAccuracy(),
        "heights off in vegetation",
        in_forest(0.31),
        in_forest(0.29),
        "0.31 m against 0.29 m",
        {**ASKED, "vegetated_p95_max_m": 0.3},
    ),
    case(
        VerticalAccuracy(),
        "low plants in the ground class",
        overgrown(0.055),
        overgrown(0.045),
        "0.055 m above the open ground against 0.045 m",
        ASKED,
        ids=("CL-01",),
    ),
    case(
        HorizontalAccuracy(),
        "targets off in plan",
        targets(0.0502),
        targets(0.0498),
        "0.0502 m against 0.0498 m",
        ASKED,
    ),
    case(
        CheckpointOutliers(),
        "a single blunder",
        one_off(0.20),
        one_off(0.045),
        "0.20 m against 0.045 m",
        ids=("CP-05",),
    ),
    case(
        CheckpointOutliers(),
        "two heights exchanged",
        exchanged(0.50),
        exchanged(0.03),
        "0.50 m between them against 0.03 m",
        ids=("CP-05",),
    ),
    case(
        CheckpointOutliers(),
        "a wrong rod",
        rod(0.09),
        rod(0.07),
        "0.09 m against 0.07 m",
        ids=("CP-11",),
    ),
)
