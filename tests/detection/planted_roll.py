"""A roll of the scanner that is off, in swaths flown there and back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from made_cloud import ORIGIN
from made_flight import Flight
from made_logs import judge_logs, make_track
from planted import Look, Planted

from ledger.model.fieldlogs import Series, Track
from ledger.testing import drive_check
from lidar_checks.flight.mount_steady import MountSteady
from lidar_checks.flight.roll_misalignment import RollMisalignment

_FLIGHT = Flight(height=240.0, density=4.0)
_MIDDLES = (20.0, 60.0)


def make_path(*, is_back: bool = True, middles: tuple[float, ...] = _MIDDLES) -> Track:
    """Return a path north, south or north again, and north, 40 m apart, at 5 m/s."""
    times, east, north = [], [], []
    for number, middle in enumerate(middles, start=1):
        along = np.arange(-60.0, 300.1, 1.0)
        times.append(1e9 + 3e8 + 200.0 * number + along / 5.0)
        east.append(np.full(len(along), ORIGIN[0] + middle))
        north.append(ORIGIN[1] + (240.0 - along if number == 2 and is_back else along))
    time = np.concatenate(times)
    blank = np.full(len(time), np.nan)
    whole = np.full(len(time), -1)
    series = Series(
        time,
        np.concatenate(east),
        np.concatenate(north),
        np.full(len(time), 145.0),
        whole.astype(np.int8),
        whole.astype(np.int16),
        *[blank] * 7,
    )
    return replace(make_track(), series=series, span_s=(float(time[0]), float(time[-1])))


def look(angle: float, *, is_back: bool = True) -> Look:
    """Return a look at both swaths with a roll that is off by some degrees."""

    def run(_: Path) -> Any:
        points = _FLIGHT.make_points()
        second = points["point_source_id"] == 2
        along = 240.0 - points["y"] if is_back else points["y"]
        back = 3e8 + 400.0 + along / 5.0
        points["gps_time"] = np.where(second, back, points["gps_time"])
        away = (points["x"] - _MIDDLES[1]) * (-1 if is_back else 1)
        right = np.where(second, away, points["x"] - _MIDDLES[0])
        points["z"] = points["z"] + right * np.tan(np.radians(angle))
        delivery = _FLIGHT.deliver(points)
        evidence = replace(
            judge_logs(make_path(is_back=is_back)), files=delivery.make_evidence().files
        )
        chunks = {path: [chunk] for path, chunk in delivery.chunks.items()}
        return drive_check(RollMisalignment(), evidence, chunks)

    return run


_THREE = Flight(width=120.0, height=240.0, density=4.0, passes=3)
_THREE_MIDDLES = (20.0, 60.0, 100.0)


def look_at_mount(angle: float) -> Look:
    """Return a look at three swaths, in the last of which the mount tilted by some degrees."""

    def run(_: Path) -> Any:
        points = _THREE.make_points()
        source = points["point_source_id"]
        is_back = source == 2
        back = 3e8 + 400.0 + (240.0 - points["y"]) / 5.0
        points["gps_time"] = np.where(is_back, back, points["gps_time"])
        right = points["x"] - _THREE_MIDDLES[2]
        points["z"] = points["z"] + np.where(source == 3, right * np.tan(np.radians(angle)), 0.0)
        delivery = _THREE.deliver(points)
        evidence = replace(
            judge_logs(make_path(middles=_THREE_MIDDLES)), files=delivery.make_evidence().files
        )
        chunks = {path: [chunk] for path, chunk in delivery.chunks.items()}
        return drive_check(MountSteady(), evidence, chunks)

    return run


CASES: tuple[Planted, ...] = (
    Planted(
        "mount-steady",
        "a mount that tilts under way",
        look_at_mount(0.14),
        look_at_mount(0.06),
        gate="0.07° from pair to pair against 0.03°",
    ),
    Planted(
        "roll-misalignment",
        "a roll that is off",
        look(0.03),
        look(0.01),
        gate="0.03° against 0.01°",
    ),
)
