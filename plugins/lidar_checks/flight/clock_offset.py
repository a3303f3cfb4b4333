"""The clocks of a flight's logs agree, as the paths themselves show.

Two logs of one flight are laid over each other in time. Where they fit at another lag than none,
the lag tells which time scales were mixed: seconds between GPS time and UTC, between GPS and BeiDou
time, whole hours of local time.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.dataclass import dataclass
from ledger.model.fieldlogs import Track
from ledger.model.process import Card
from ledger.model.timescale import GPS_ORIGIN, TimeScale, find_ahead_s, from_gps_s
from lidar_checks.flight.clockmatch import Match, match_paths
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    list_position_logs,
    list_trajectories,
    name_file,
)
from lidar_checks.flight.lagnames import name_lag
from lidar_checks.flight.paths import Path, find_lines, make_path
from lidar_checks.header.file_check import name_source, require_criteria

_SCALES = "IERS Bulletin C for GPS time and UTC, BDS-SIS-ICD for BeiDou time"


class ClockOffsetCriteria(Criteria):
    """When two clocks agree, and when two paths are like enough to tell."""

    max_lag_s: float = Field(default=0.2, gt=0, description=PRACTICE)
    min_peak: float = Field(default=0.8, gt=0, le=1, description=PRACTICE)
    max_second_peak: float = Field(default=0.9, gt=0, le=1, description=PRACTICE)


@dataclass(frozen=True, eq=False)
class _Pair:
    """Two logs of one flight that are laid over each other."""

    card: Card
    log: Track
    other: Track
    log_path: Path
    other_path: Path

    @property
    def subject(self) -> str:
        return f"{self.log.file.path} | {self.other.file.path}"

    @property
    def undeclared(self) -> tuple[Track, ...]:
        return tuple(track for track in (self.log, self.other) if track.scale is None)


class ClockOffset(FlightCheck):
    """Finds the lag at which position log and trajectory move alike."""

    id = "clock-offset"
    title = "The clocks of position log and trajectory agree"
    catalogue = ("GN-04", "RC-10")
    criteria = ClockOffsetCriteria
    fields = ("flight.scanner_time_scale", "flight.log_time_scale")

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every trajectory of a flight against its first position log."""
        logs = list_position_logs(card, evidence)
        tracks = list_trajectories(card, evidence)
        for track in (*logs, *tracks):
            if track.fault:
                yield self.tell_unread(card, track)
        paths = [(track, path) for track in logs if (path := make_path(track)) is not None]
        others = [(track, path) for track in tracks if (path := make_path(track)) is not None]
        if len(paths) + len(others) < 2 and not any(t.fault for t in (*logs, *tracks)):
            yield self.tell_absent(card, "trajectory", "two logs that could be held together")
        first, *rest = (*paths, *others) or (None,)
        for other in rest:
            if first is not None:
                yield self._judge_pair(_Pair(card, first[0], other[0], first[1], other[1]), plan)

    def _judge_pair(self, pair: _Pair, plan: Plan) -> Finding:
        criteria = require_criteria(plan, ClockOffsetCriteria)
        match = match_paths(
            pair.log_path,
            pair.other_path,
            same_place=pair.log.place == pair.other.place == "job" or _lie_together(pair),
            peak_min=criteria.min_peak,
            second_max=criteria.max_second_peak,
        )
        names = f"{name_file(pair.log)} and {name_file(pair.other)} of {pair.card.id}"
        if match is None or match.score < criteria.min_peak:
            score = 0.0 if match is None else match.score
            return self.inconclusive(
                pair.subject,
                f"{names} do not move alike at any lag (likeness {score:.2f}, "
                f"{criteria.min_peak:g} needed): they are not of one flight, or hold too little "
                "of it.",
                observed=f"{score:.2f}",
                required=f"{criteria.min_peak:g}",
                criterion_source=name_source(plan, "min_peak"),
            )
        if not match.is_sure:
            return self.inconclusive(
                pair.subject,
                f"{names} fit at several lags nearly alike (likeness {match.score:.2f} and "
                f"{match.second:.2f}): too regular a flight to tell their clocks apart.",
            )
        return self._tell_lag(pair, match, plan)

    def _tell_lag(self, pair: _Pair, match: Match, plan: Plan) -> Finding:
        limit = require_criteria(plan, ClockOffsetCriteria).max_lag_s
        told = pair.undeclared
        # What a reader of the files meets who takes their numbers as they stand.
        lag = match.lag_s + (_find_added(pair.log) - _find_added(pair.other) if told else 0.0)
        sure = max(3 * match.sigma_s, 0.05)
        speed = _find_speed(pair)
        parts = {
            "observed": f"{lag:.1f}",
            "required": f"{limit:g}",
            "unit": "s",
            "criterion_source": name_source(plan, "max_lag_s"),
        }
        names = f"{name_file(pair.log)} and {name_file(pair.other)} of {pair.card.id}"
        if abs(lag) <= limit:
            return self._tell_agreed(pair, lag, parts)
        named = name_lag(lag, from_gps_s(float(pair.log_path.time_s[0])))
        why = f": {named.words}" if named is not None else ", which no mix of time scales explains"
        declared = (
            f", and nothing says which scale {name_file(told[0])} runs in"
            if told
            else f", although {_say_scale(pair.log)} and {_say_scale(pair.other)} were taken into "
            "account"
        )
        is_major = not told and abs(lag) * speed > 1.0
        return self.nonconforming(
            Grade.MAJOR if is_major else Grade.MINOR,
            pair.subject,
            f"{names} are {abs(lag):.1f} s ± {sure:.1f} s apart{why}{declared}. Joined as they "
            f"stand, points lie {abs(lag) * speed:,.0f} m along the track at {speed:.1f} m/s.",
            **parts | {"criterion_source": f"{parts['criterion_source']}; {_SCALES}"},
            remedy=_advise(pair),
        )

    def _tell_agreed(self, pair: _Pair, lag: float, parts: dict[str, str]) -> Finding:
        told = pair.undeclared
        names = f"{name_file(pair.log)} and {name_file(pair.other)} of {pair.card.id}"
        by = "as they stand" if told else f"by {_say_scale(pair.log)} and {_say_scale(pair.other)}"
        return self.conforms(
            pair.subject, f"{names} fit in time {by}: {abs(lag):.2f} s between them.", **parts
        )


def _lie_together(pair: _Pair) -> bool:
    """Say whether two paths lie in one system, whatever it is: their boxes overlap."""
    if "local" in (pair.log.place, pair.other.place):
        return False
    boxes = [
        (path.east_m.min(), path.east_m.max(), path.north_m.min(), path.north_m.max())
        for path in (pair.log_path, pair.other_path)
    ]
    (w1, e1, s1, n1), (w2, e2, s2, n2) = boxes
    return bool(w1 <= e2 and w2 <= e1 and s1 <= n2 and s2 <= n1)


def _find_added(track: Track) -> float:
    """Return what was added to a track's times for its time scale, seconds."""
    if track.scale is None or track.span_s is None:
        return 0.0
    scale = TimeScale(track.scale.value)
    shown = (from_gps_s(track.span_s[0]) - GPS_ORIGIN).total_seconds()
    return find_ahead_s(scale, shown) or 0.0


def _find_speed(pair: _Pair) -> float:
    """Return how fast the lines were flown, m/s; of a path without lines its median speed."""
    for path in (pair.log_path, pair.other_path):
        lines = find_lines(path)
        if lines:
            return float(np.median([line.speed for line in lines]))
    steps = np.hypot(np.diff(pair.log_path.east_m), np.diff(pair.log_path.north_m))
    return float(np.median(steps / np.diff(pair.log_path.time_s)))


def _say_scale(track: Track) -> str:
    scale = "no scale" if track.scale is None else f"{track.scale.value} time"
    return f"{scale} in {name_file(track)}"


def _advise(pair: _Pair) -> str:
    if pair.undeclared:
        field = (
            "log_time_scale"
            if pair.undeclared[0].file.role == "flight-log"
            else "scanner_time_scale"
        )
        return (
            f"Record the time scale (swathbook amend {pair.card.id} --set {field}=… --reason …), "
            "and see by how many seconds the processing joined the two"
        )
    return (
        f"See by how many seconds the processing joined the two, put the time scales of "
        f"{pair.card.id} right, and process again where they were wrong"
    )
