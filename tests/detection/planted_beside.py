"""Errors that show in points beside the path that they were measured from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from made_beside import (
    ABOVE,
    FLOWN,
    GROUND,
    change,
    look_beside,
    make_beside_track,
    make_points,
)
from made_logs import SOUTH, TAKEOFF
from planted import Look, Planted

from ledger.contract.check import Check
from ledger.demo.geoids import write_geoids
from lidar_checks.flight.carried_points import CarriedPoints
from lidar_checks.flight.path_height import PathHeight
from lidar_checks.flight.points_below import PointsBelow
from lidar_checks.flight.points_in_time import PointsInTime
from lidar_checks.flight.points_on_lines import PointsOnLines
from lidar_checks.flight.range_kept import RangeKept

_POINTS = make_points()
_COUNT = len(_POINTS["x"])
# The first turn: after the first line, for some seconds.
_TURN = TAKEOFF + FLOWN.still + FLOWN.length / FLOWN.speed + 5.5 - 1e9


def _look(check: Check, make: Callable[[], dict[str, Any]], **parts: Any) -> Look:
    return lambda _: look_beside(check, make(), **parts)


def _turned(share: float) -> Callable[[], dict[str, Any]]:
    """Return points of which a share is of the time of a turn."""
    count = round(share * _COUNT)
    return lambda: change(_POINTS, count, gps_time=np.full(count, _TURN))


def _late(share: float) -> Callable[[], dict[str, Any]]:
    """Return points of which a share is of the next day."""
    return lambda: change(_POINTS, round(share * _COUNT), gps_time=86_400.0)


def _riding(share: float) -> Callable[[], dict[str, Any]]:
    """Return points of which a share rides a metre below the path."""
    count = round(share * _COUNT)
    north = SOUTH + _find_line(count) * FLOWN.spacing
    return lambda: change(_POINTS, count, z=np.full(count, GROUND + ABOVE - 1.0), y=north)


def _find_line(count: int) -> Any:
    seconds = _POINTS["gps_time"][:count] - (TAKEOFF - 1e9) - FLOWN.still
    return np.floor(seconds / (FLOWN.length / FLOWN.speed + np.pi * 17.5 / FLOWN.speed))


def _raised(share: float) -> Callable[[], dict[str, Any]]:
    """Return points of which a share lies above the path."""
    return lambda: change(_POINTS, round(share * _COUNT), z=2 * ABOVE)


def _cut(range_m: float) -> Callable[[], dict[str, Any]]:
    """Return points on scattered heights, of which those further than a range are left out."""

    def make() -> dict[str, Any]:
        points = make_points()
        random = np.random.default_rng(8)
        points["z"] = points["z"] + random.uniform(0, 40, _COUNT)
        across = points["y"] - SOUTH - _find_line(_COUNT) * FLOWN.spacing
        kept = np.hypot(across, GROUND + ABOVE - points["z"]) <= range_m
        return {name: values[kept] for name, values in points.items()}

    return make


def _float_path(height: float) -> Look:
    """Return a look at a path with its heights, in a job with a geoid grid of -31.9 m."""

    def look(folder: Path) -> Any:
        write_geoids(folder)
        grid = str(folder / "demo-geoid-A.tif")
        track = make_beside_track(height_m=height)
        return look_beside(PathHeight(), _POINTS, track, geoid_grid=grid)

    return look


CASES: tuple[Planted, ...] = (
    Planted(
        "points-on-lines",
        "turns that were left in",
        _look(PointsOnLines(), _turned(0.006)),
        _look(PointsOnLines(), _turned(0.004)),
        gate="0.6 % of the points against 0.4 %",
    ),
    Planted(
        "points-in-time",
        "points that the trajectory knows nothing of",
        _look(PointsInTime(), _late(0.011)),
        _look(PointsInTime(), _late(0.009)),
        gate="1.1 % of the points against 0.9 %",
    ),
    Planted(
        "path-height",
        "an ellipsoidal path beside orthometric points",
        _float_path(GROUND + ABOVE - 31.9),
        _float_path(GROUND + ABOVE),
        ids=("SL-09", "RC-06"),
    ),
    Planted(
        "path-height",
        "a flight higher than planned",
        _look(PathHeight(), make_points, card={"height_above_ground": "37"}),
        _look(PathHeight(), make_points, card={"height_above_ground": "38"}),
        gate="45 m against 37 m, and against 38 m",
        ids=("RC-06", "SL-09"),
    ),
    Planted(
        "path-height",
        "a path in another zone",
        _look(PathHeight(), make_points, track=make_beside_track(shift=(525_000.0, 19_000.0))),
        _look(PathHeight(), make_points),
    ),
    Planted(
        "carried-points",
        "legs in the cloud",
        _look(CarriedPoints(), _riding(0.0012)),
        _look(CarriedPoints(), _riding(0.0008)),
        gate="0.12 % of the points against 0.08 %",
    ),
    Planted(
        "range-kept",
        "ranges cut above the ground",
        _look(RangeKept(), _cut(30.0)),
        _look(RangeKept(), _cut(90.0)),
        gate="30 m against 90 m, at 45 m above ground",
    ),
    Planted(
        "points-below",
        "points above the aircraft",
        _look(PointsBelow(), _raised(0.06)),
        _look(PointsBelow(), _raised(0.04)),
        gate="6 % of the points against 4 %",
        ids=("MB-01", "RC-08"),
    ),
    Planted(
        "points-below",
        "a flight in hand-held mode",
        _look(PointsBelow(), make_points, card={"mount_mode": "hand"}),
        _look(PointsBelow(), make_points, card={"mount_mode": "drone"}),
        ids=("RC-08", "MB-01"),
    ),
)
