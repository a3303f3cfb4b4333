"""Trajectory and position log are of one and the same flight, as the shape of the paths shows.

Repeated flights by one plan have one shape; there the time decides, which `clock-offset` and
`flight-times` look at.
"""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.fieldlogs import Track
from ledger.model.process import Card
from lidar_checks.flight.clockmatch import Match, match_paths
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    list_position_logs,
    list_trajectories,
    name_file,
    name_subject,
)
from lidar_checks.flight.paths import make_path
from lidar_checks.header.file_check import name_source, require_criteria


class PathPairsCriteria(Criteria):
    """When two paths are of one flight."""

    min_peak: float = Field(default=0.8, gt=0, le=1, description=PRACTICE)
    max_rms_m: float = Field(default=1.0, gt=0, description=PRACTICE)


class PathPairs(FlightCheck):
    """Fits every trajectory onto the position logs of its own flight and of the others."""

    id = "path-pairs"
    title = "Trajectory and position log are of one flight"
    catalogue = ("RC-10",)
    criteria = PathPairsCriteria

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every trajectory of a flight."""
        tracks = [t for t in list_trajectories(card, evidence) if t.series is not None]
        logs = [t for t in list_position_logs(card, evidence) if t.series is not None]
        if not tracks:
            yield self.tell_absent(card, "trajectory", "trajectory that could be read")
        elif not logs:
            yield self.tell_absent(card, "flight-log", "position log that could be read")
        else:
            for track in tracks:
                yield self._judge_track(card, track, logs[0], plan, evidence)

    def _judge_track(
        self, card: Card, track: Track, log: Track, plan: Plan, evidence: Evidence
    ) -> Finding:
        criteria = require_criteria(plan, PathPairsCriteria)
        subject = name_subject(card, track)
        match = _match(log, track, criteria)
        if match is not None and match.score >= criteria.min_peak:
            return self._tell_shape(card, (track, log), match, plan)
        for other in evidence.flights:
            if other.id == card.id:
                continue
            for stranger in list_position_logs(other, evidence):
                found = _match(stranger, track, criteria)
                if found is not None and found.score >= criteria.min_peak:
                    return self.nonconforming(
                        Grade.MAJOR,
                        subject,
                        f"{name_file(track)} moves as {name_file(stranger)} of {other.id} does "
                        f"(likeness {found.score:.2f}), and not as {name_file(log)} of {card.id}: "
                        "it is the trajectory of another flight.",
                        observed=f"{0.0 if match is None else match.score:.2f}",
                        required=f"{criteria.min_peak:g}",
                        criterion_source=name_source(plan, "min_peak"),
                        remedy=f"Find the trajectory of {card.id}, and register each with its "
                        "own flight",
                    )
        score = 0.0 if match is None else match.score
        return self.inconclusive(
            subject,
            f"{name_file(track)} does not move as {name_file(log)} of {card.id} does (likeness "
            f"{score:.2f}), nor as the log of any other flight.",
            observed=f"{score:.2f}",
            required=f"{criteria.min_peak:g}",
            criterion_source=name_source(plan, "min_peak"),
        )

    def _tell_shape(
        self, card: Card, pair: tuple[Track, Track], match: Match, plan: Plan
    ) -> Finding:
        limit = require_criteria(plan, PathPairsCriteria).max_rms_m
        track, log = pair
        told = (
            f"{name_file(track)} and {name_file(log)} of {card.id} have one shape but for "
            f"{match.rms_m:.2f} m (RMS after a shift and a turn"
        )
        parts = {
            "observed": f"{match.rms_m:.2f}",
            "required": f"{limit:g}",
            "unit": "m",
            "criterion_source": name_source(plan, "max_rms_m"),
        }
        subject = name_subject(card, track)
        if match.rms_m > limit:
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{told}; limit {limit:g} m): the trajectory bends away from what the receiver "
                "measured, or the receiver had no fix.",
                remedy="Look at where the two part, and at the fix of the receiver there",
                **parts,
            )
        return self.conforms(subject, f"{told}).", **parts)


def _match(log: Track, track: Track, criteria: PathPairsCriteria) -> Match | None:
    first, second = make_path(log), make_path(track)
    if first is None or second is None:
        return None
    return match_paths(first, second, same_place=False, peak_min=criteria.min_peak, second_max=1.0)
