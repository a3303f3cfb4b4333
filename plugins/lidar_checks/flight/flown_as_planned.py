"""Lines were flown as fast and as far apart as the card says they were meant to be.

Density falls with speed and with the distance between lines; how high it was flown above the ground
is for the check that has points beside the trajectory.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    list_position_logs,
    list_trajectories,
    name_file,
    read_number,
)
from lidar_checks.flight.paths import find_lines, find_spacing, make_path
from lidar_checks.header.file_check import name_source, require_criteria

_SPEED, _SPACING = "flight.speed", "flight.line_spacing"


class FlownAsPlannedCriteria(Criteria):
    """By which share flown and planned may differ."""

    max_change: float = Field(default=0.15, gt=0, lt=1, description=PRACTICE)


class FlownAsPlanned(FlightCheck):
    """Holds speed and spacing of the lines in a log against the card."""

    id = "flown-as-planned"
    title = "Lines were flown as fast and as far apart as planned"
    catalogue = ("RC-06",)
    criteria = FlownAsPlannedCriteria
    fields = (_SPEED, _SPACING)

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge one log of a flight: a trajectory, or else a position log."""
        tracks = (*list_trajectories(card, evidence), *list_position_logs(card, evidence))
        flown = next(
            (
                (track, lines)
                for track in tracks
                if (path := make_path(track)) is not None and (lines := find_lines(path))
            ),
            None,
        )
        if flown is None:
            yield self.tell_absent(card, "trajectory", "log with a line that was flown")
            return
        track, lines = flown
        speed = float(np.median([line.speed for line in lines]))
        told = f"{count_things(len(lines), 'line')} of {card.id} ({name_file(track)})"
        yield self._judge(card, plan, (_SPEED, speed, "m/s"), f"{told} flown at")
        spacing = find_spacing(lines)
        if spacing is not None:
            yield self._judge(card, plan, (_SPACING, spacing, "m"), f"{told} flown side by side at")

    def _judge(
        self, card: Card, plan: Plan, measured: tuple[str, float, str], told: str
    ) -> Finding:
        key, flown, unit = measured
        what = "speed" if key == _SPEED else "spacing"
        subject = f"{card.id} {what}"
        planned = read_number(card, key)
        if planned is None or planned[0] <= 0:
            return self.not_assessed(
                subject, f"{told} {flown:.1f} {unit}; what was planned is not on the card.", (key,)
            )
        number, known = planned
        change = abs(flown / number - 1)
        limit = require_criteria(plan, FlownAsPlannedCriteria).max_change
        sentence = f"{told} {flown:.1f} {unit}, planned were {number:g} {unit}"
        parts = {
            "observed": f"{flown:.1f}",
            "required": f"{number:g}",
            "unit": unit,
            "criterion_source": name_source(plan, "max_change"),
        }
        if change > limit:
            worse = flown > number
            after = "points lie thinner than planned" if worse else "it was flown by another plan"
            return self.nonconforming(
                Grade.MINOR if worse else Grade.OBSERVATION,
                subject,
                f"{sentence} (limit {limit:.0%}): {after}.",
                remedy="Look at the density of the points, and put the card right if that is wrong",
                **parts,
            )
        if not known.can_prove:
            return self.inconclusive(
                subject, f"{sentence}, but nobody confirmed the {what} on the card.", **parts
            )
        return self.conforms(subject, f"{sentence}.", **parts)
