"""The scanner stood still before it took off, so that its attitude could settle."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.artefact import Role
from ledger.model.fieldlogs import Track
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    TrackCheck,
    name_file,
    name_subject,
    say_time,
)
from lidar_checks.flight.paths import Floats, Path, compute_velocity, find_lines, make_path
from lidar_checks.header.file_check import name_source, require_criteria

# Positions of a receiver wander by a centimetre: over this span that is no speed.
_LOOK_S = 4.0
_STEP_S = 0.5
# A log that begins in full flight was cut, and says nothing about what came before.
_FLYING = 1.0


class StartUpCriteria(Criteria):
    """How long it has to stand still, and what counts as that."""

    min_still_s: float = Field(default=30.0, gt=0, description=PRACTICE)
    max_speed: float = Field(default=0.05, gt=0, description=f"{PRACTICE}, in m/s")


class StartUp(TrackCheck):
    """Measures how long a trajectory stands still at its beginning."""

    id = "start-up"
    title = "The scanner stood still before take-off"
    catalogue = ("RC-03",)
    criteria = StartUpCriteria
    role = Role.TRAJECTORY
    what = "trajectory"

    def judge_track(self, card: Card, track: Track, plan: Plan) -> Finding:
        """Judge one log."""
        name, subject = name_file(track), name_subject(card, track)
        criteria = require_criteria(plan, StartUpCriteria)
        path = make_path(track)
        if path is None or not find_lines(path):
            return self.inconclusive(subject, f"{name} of {card.id} holds no flight.")
        still = measure_still(path, criteria.max_speed)
        if still is None:
            return self.inconclusive(
                subject,
                f"{name} begins in flight, at {say_time(float(path.time_s[0]))}: what came before "
                "is not in it.",
            )
        parts = {
            "observed": f"{still:.1f}",
            "required": f"{criteria.min_still_s:g}",
            "unit": "s",
            "criterion_source": name_source(plan, "min_still_s"),
        }
        if still < criteria.min_still_s:
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"By {name}, {card.id} stood still for {still:.1f} s before it moved "
                f"(limit {criteria.min_still_s:g} s): the first lines may be tilted.",
                remedy="Look at the overlap of the first line with those beside it",
                **parts,
            )
        return self.conforms(
            subject, f"By {name}, {card.id} stood still for {still:.1f} s before it moved.", **parts
        )


def measure_still(path: Path, max_speed: float) -> float | None:
    """Return how long a path stands still at its beginning, seconds; None where it begins flying.

    Args:
        path: the path.
        max_speed: what still counts as standing, m/s.
    """
    times = np.arange(path.time_s[0] + _LOOK_S / 2, path.time_s[-1], _STEP_S)
    speed = np.hypot(np.abs(compute_velocity(path, times, _LOOK_S)), _compute_climb(path, times))
    if not len(speed) or (np.isfinite(speed[0]) and speed[0] >= _FLYING):
        return None
    moving = np.flatnonzero(~(speed <= max_speed))
    if not len(moving):
        return float(path.time_s[-1] - path.time_s[0])
    if moving[0] == 0:
        return 0.0
    # The first span that moves ends just after the moment at which it began to.
    return float(times[moving[0]] + _LOOK_S / 2 - path.time_s[0])


def _compute_climb(path: Path, times: Floats) -> Floats:
    """Return vertical speeds, m/s; 0 where the path has no heights."""
    known = np.isfinite(path.height_m)
    if np.count_nonzero(known) < 2:
        return np.zeros(len(times))
    ends = (
        np.interp(times + side * _LOOK_S / 2, path.time_s[known], path.height_m[known])
        for side in (-1, 1)
    )
    low, high = ends
    return np.asarray((high - low) / _LOOK_S, dtype=np.float64)
