"""A trajectory has a position for every moment: no holes, none twice, often enough."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.model.artefact import Role
from ledger.model.fieldlogs import Track
from ledger.model.phrases import agree, count_things
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


class TrackTimesCriteria(Criteria):
    """How a trajectory has to follow in time."""

    max_gap_s: float = Field(
        default=0.5,
        gt=0,
        description=f"{PRACTICE}; of a trajectory with longer steps, five of them",
    )
    max_damaged: float = Field(default=0.001, ge=0, lt=1, description=PRACTICE)


class TrackTimes(TrackCheck):
    """Looks at the steps from epoch to epoch of every trajectory."""

    id = "track-times"
    title = "The trajectory runs without holes"
    catalogue = ("SL-06",)
    criteria = TrackTimesCriteria
    role = Role.TRAJECTORY
    what = "trajectory"

    def judge_track(self, card: Card, track: Track, plan: Plan) -> Finding:
        """Judge one log."""
        name, subject = name_file(track), name_subject(card, track)
        if track.step_s is None:
            return self.inconclusive(subject, f"{name} has fewer than two positions.")
        criteria = require_criteria(plan, TrackTimesCriteria)
        limit = max(criteria.max_gap_s, 5 * track.step_s)
        source = name_source(plan, "max_gap_s")
        remedy = "Export the trajectory again, whole and at its full rate"
        if track.longest_gap_s > limit:
            gap = max(track.gaps, key=lambda each: each.seconds)
            holes = sum(each.seconds > limit for each in track.gaps)
            more = f", the longest of {count_things(holes, 'hole')}" if holes > 1 else ""
            return self.nonconforming(
                Grade.MINOR,
                subject,
                f"{name} of {card.id} has no position for {gap.seconds:.1f} s after "
                f"{say_time(gap.begin_s)}{more} (limit {limit:g} s): points of that time were laid "
                "out on a path that nobody measured.",
                observed=f"{gap.seconds:.1f}",
                required=f"{limit:g}",
                unit="s",
                criterion_source=source,
                remedy=remedy,
                where=Where(time_span=list_times(gap.begin_s, gap.begin_s + gap.seconds)),
            )
        wrong = track.repeated + track.backward
        parts: dict[str, Any] = {"observed": f"{wrong:,}", "required": "0"}
        if wrong:
            return self.nonconforming(
                Grade.MINOR,
                subject,
                f"{name} of {card.id}: {count_things(track.repeated, 'position')} repeat the time "
                f"before, and {count_things(track.backward, 'position')} go back in time.",
                criterion_source=PRACTICE,
                remedy=remedy,
                **parts,
            )
        if track.bad > criteria.max_damaged * (track.bad + track.epochs):
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{name} of {card.id}: {count_things(track.bad, 'line')} of "
                f"{track.bad + track.epochs:,} could not be read and "
                f"{agree(track.bad, 'was', 'were')} left out.",
                observed=f"{track.bad / (track.bad + track.epochs):.2%}",
                required=f"{criteria.max_damaged:.2%}",
                criterion_source=name_source(plan, "max_damaged"),
                remedy=remedy,
            )
        return self.conforms(
            subject,
            f"{name} of {card.id} has {track.epochs:,} positions, one each {track.step_s:g} s, "
            f"without a hole of more than {limit:g} s.",
            criterion_source=source,
        )
