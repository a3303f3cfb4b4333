"""The trajectory moves as an aircraft can: no jump, no turn on the spot.

A scan that was matched with another place, or a solution that changed under way, moves a path by
decimetres from one moment to the next. What is held against it is where the path was heading just
before and just after: an aircraft that brakes or turns leaves that by what its acceleration makes
of the time, and no more.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.dataclass import dataclass
from ledger.model.artefact import Role
from ledger.model.fieldlogs import Series, Track
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    TrackCheck,
    list_times,
    name_file,
    name_subject,
    say_time,
)
from lidar_checks.header.file_check import name_source, require_criteria

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_WINDOW_S, _BESIDE_S = 0.1, 0.5
# Jumps nearer to each other are one.
_APART_S = 2.0
_LEAST_EPOCHS = 20
_SLOWEST_STEP_S = 1.0


class TrackJumpsCriteria(Criteria):
    """What an aircraft can do from one moment to the next."""

    max_jump_m: float = Field(default=0.3, gt=0, description=f"{PRACTICE}; within 0.1 s")
    max_acceleration: float = Field(default=20.0, gt=0, description=f"{PRACTICE}; m/s²")
    max_turn_deg_per_s: float = Field(default=200.0, gt=0, description=PRACTICE)


@dataclass(frozen=True)
class _Jump:
    """One place where a path leaves where it was heading.

    Args:
        time_s: GPS seconds.
        metres: how far; 0 for a turn.
        within_s: in so many seconds.
        turn: degrees a second; 0 for a jump.
    """

    time_s: float
    metres: float
    within_s: float
    turn: float = 0.0


class TrackJumps(TrackCheck):
    """Looks at each step of a trajectory against the steps before and after it."""

    id = "track-jumps"
    title = "The trajectory does not jump"
    catalogue = ("SL-03",)
    criteria = TrackJumpsCriteria
    role = Role.TRAJECTORY
    what = "trajectory"

    def judge_track(self, card: Card, track: Track, plan: Plan) -> Finding:
        """Judge one trajectory."""
        name, subject, series = name_file(track), name_subject(card, track), track.series
        step = None if series is None else _find_step(series)
        if series is None or step is None or step > _SLOWEST_STEP_S:
            return self.inconclusive(
                subject,
                f"{name} of {card.id} has too few positions, or too far apart, for a jump to show.",
            )
        criteria = require_criteria(plan, TrackJumpsCriteria)
        jumps = [*_find_jumps(series, step, criteria), *_find_turns(series, step, criteria)]
        if not jumps:
            return self.conforms(
                subject,
                f"{name} of {card.id} moves as an aircraft can: no step of more than "
                f"{criteria.max_jump_m:g} m beside where it was heading, one position each "
                f"{step:g} s.",
                criterion_source=name_source(plan, "max_jump_m"),
            )
        return self._tell(card, track, jumps, plan)

    def _tell(self, card: Card, track: Track, jumps: list[_Jump], plan: Plan) -> Finding:
        criteria = require_criteria(plan, TrackJumpsCriteria)
        worst = max(jumps, key=lambda each: (each.metres, each.turn))
        more = f", the largest of {count_things(len(jumps), 'jump')}" if len(jumps) > 1 else ""
        field = "max_jump_m" if worst.metres else "max_turn_deg_per_s"
        what = (
            f"jumps by {worst.metres:.2f} m within {worst.within_s:.2f} s"
            if worst.metres
            else f"turns at {worst.turn:.0f}° a second"
        )
        observed = worst.metres or worst.turn
        return self.nonconforming(
            Grade.MAJOR,
            name_subject(card, track),
            f"{name_file(track)} of {card.id} {what} at {say_time(worst.time_s)}{more} (limit "
            f"{getattr(criteria, field):g}): a scan was matched with another place, or the "
            "solution changed there, and surfaces before and after may stand double.",
            observed=f"{observed:.2f}",
            required=f"{getattr(criteria, field):g}",
            unit="m" if worst.metres else "deg/s",
            criterion_source=name_source(plan, field),
            remedy="Look at walls and poles that were seen before and after that moment, and "
            "process again without the match",
            where=Where(time_span=list_times(worst.time_s - 1, worst.time_s + 1)),
        )


def _find_step(series: Series) -> float | None:
    if len(series.time_s) < _LEAST_EPOCHS:
        return None
    return float(np.median(np.diff(series.time_s)))


def _find_jumps(series: Series, step: float, criteria: TrackJumpsCriteria) -> list[_Jump]:
    """Return the jumps of a path, in the plane and in height where that is known."""
    place = np.column_stack([series.east_m, series.north_m, series.height_m])
    place = place[:, np.isfinite(place).any(axis=0)]
    known = np.isfinite(place).all(axis=1)
    time, place = series.time_s[known], place[known]
    window = max(1, round(_WINDOW_S / step))
    beside = max(window, round(_BESIDE_S / step))
    if not place.size or len(time) < 2 * beside + window + 1:
        return []
    at = np.arange(beside, len(time) - beside - window)
    moved, seconds = place[at + window] - place[at], time[at + window] - time[at]
    off = np.full(len(at), np.inf)
    whole = seconds < 1.5 * window * step
    # A turn or a brake is heading for where it goes on one side; a jump on neither.
    for low, high in ((at - beside, at), (at + window, at + window + beside)):
        span = time[high] - time[low]
        whole &= span < 1.5 * beside * step
        heading = (place[high] - place[low]) / span[:, None] * seconds[:, None]
        off = np.minimum(off, np.sqrt(((moved - heading) ** 2).sum(axis=1)))
    allowed = np.maximum(criteria.max_jump_m, criteria.max_acceleration / 2 * seconds**2)
    return [
        _Jump(float(time[at[i]]), float(off[i]), float(seconds[i]))
        for i in _pick(time[at], np.where(whole, off - allowed, 0.0))
    ]


def _find_turns(series: Series, step: float, criteria: TrackJumpsCriteria) -> list[_Jump]:
    """Return where the nose turns faster than an aircraft can."""
    known = np.isfinite(series.heading_deg)
    time, heading = series.time_s[known], series.heading_deg[known]
    window = max(1, round(_WINDOW_S / step))
    if len(time) <= window:
        return []
    seconds = time[window:] - time[:-window]
    turned = np.abs((heading[window:] - heading[:-window] + 180) % 360 - 180)
    speed = turned / np.where(seconds > 0, seconds, np.inf)
    whole = seconds < 1.5 * window * step
    over = np.where(whole, speed - criteria.max_turn_deg_per_s, 0.0)
    return [
        _Jump(float(time[i]), 0.0, float(seconds[i]), float(speed[i]))
        for i in _pick(time[:-window], over)
    ]


def _pick(time: Floats, over: Floats) -> list[int]:
    """Return the worst moment of each jump: of moments near each other the one that is most."""
    found = np.flatnonzero(over > 0)
    groups = np.split(found, np.flatnonzero(np.diff(time[found]) > _APART_S) + 1)
    return [int(group[np.argmax(over[group])]) for group in groups if len(group)]
