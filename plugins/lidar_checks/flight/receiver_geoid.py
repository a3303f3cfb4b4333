"""The geoid that the receiver has built in is not the one of the job.

Receivers carry a coarse model and write heights above it beside their separation. Whoever takes
such a height for that of the job is off by the difference.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.crs import sample_geoid
from ledger.errors import SwathbookError
from ledger.model.fieldlogs import Track
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    list_position_logs,
    list_runs,
    name_file,
    name_subject,
)
from lidar_checks.header.file_check import name_source, require_criteria
from lidar_checks.header.middle import find_site


class ReceiverGeoidCriteria(Criteria):
    """How far the two models may be apart."""

    apart_max_m: float = Field(default=0.05, gt=0, description=PRACTICE)


class ReceiverGeoid(FlightCheck):
    """Holds the separation in a position log against the geoid grid of the job."""

    id = "receiver-geoid"
    title = "Heights above the receiver's own geoid model were not taken for heights of the job"
    catalogue = ("VD-09",)
    needs = ("geoid-grid",)
    criteria = ReceiverGeoidCriteria
    fields = ("run.input_height_type",)

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every position log of a flight that states a separation."""
        tracks = list_position_logs(card, evidence)
        stated = [track for track in tracks if track.separation_m is not None]
        for track in tracks:
            if track.fault:
                yield self.tell_unread(card, track)
        if not stated and not any(track.fault for track in tracks):
            yield self.tell_absent(card, "flight-log", "position log that states a separation")
        for track in stated:
            yield self._judge_track(card, track, plan, evidence)

    def _judge_track(self, card: Card, track: Track, plan: Plan, evidence: Evidence) -> Finding:
        name, subject = name_file(track), name_subject(card, track)
        geoid, why = _sample(evidence)
        if geoid is None:
            return self.not_assessed(
                subject,
                f"The geoid height of the job at the site is not known: {why}.",
                needs=(f"geoid-grid: {why}",),
            )
        limit = require_criteria(plan, ReceiverGeoidCriteria).apart_max_m
        separation = float((track.separation_m or (0,))[0])
        apart = separation - geoid
        told = (
            f"The receiver of {name} works with a separation of {separation:.3f} m, the geoid of "
            f"the job has {geoid:.3f} m at the site: {abs(apart):.3f} m between them"
        )
        parts = {
            "observed": f"{abs(apart):.3f}",
            "required": f"{limit:g}",
            "unit": "m",
            "criterion_source": name_source(plan, "apart_max_m"),
        }
        if abs(apart) <= limit:
            return self.conforms(subject, f"{told}.", **parts)
        runs = list_runs(card, evidence)
        taken = {run.id: run.find_value("input_height_type") for run in runs}
        used = [name for name, known in taken.items() if known and known.value == "orthometric"]
        if used:
            return self.nonconforming(
                Grade.MAJOR,
                subject,
                f"{told}, and {', '.join(used)} took heights in that were orthometric already, so "
                "above the receiver's model.",
                remedy="Process again with ellipsoidal heights and the geoid of the job",
                **parts,
            )
        proven = bool(taken) and all(
            known is not None and known.value == "ellipsoidal" and known.can_prove
            for known in taken.values()
        )
        if proven:
            return self.conforms(
                subject,
                f"{told}, but it was not used: {', '.join(taken)} took ellipsoidal heights in.",
                **parts,
            )
        return self.inconclusive(
            subject, f"{told}; whether such heights went into a run is not on record.", **parts
        )


def _sample(evidence: Evidence) -> tuple[float | None, str]:
    """Return the geoid height of the job at the site, metres, or why there is none."""
    site = find_site(evidence)
    if site is None:
        return None, "where the delivered points lie is not known"
    try:
        return sample_geoid(Path(evidence.geoid_grid), *site), ""
    except SwathbookError as error:
        return None, error.faults[0].what
