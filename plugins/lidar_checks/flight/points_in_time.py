"""Every point is of a time that the trajectory has.

Points outside it were laid out on another path: the trajectory is of another run or flight, was
cut, or its clock runs in another time scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_up
from lidar_checks.flight.beside_tally import BesideSummary
from lidar_checks.flight.flight_check import PRACTICE, say_span
from lidar_checks.header.file_check import name_source, require_criteria


class PointsInTimeCriteria(Criteria):
    """How many points may lie outside."""

    max_share: float = Field(default=0.01, ge=0, lt=1, description=PRACTICE)


class PointsInTime(BesideCheck):
    """Counts points whose time the trajectory does not have."""

    id = "points-in-time"
    title = "Every point is of a time that the trajectory has"
    catalogue = ("SL-07", "RC-10", "PS-06")
    criteria = PointsInTimeCriteria

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,  # noqa: ARG002 - as the base has it
    ) -> Iterable[Finding]:
        """Judge all files together."""
        limit = require_criteria(plan, PointsInTimeCriteria).max_share
        share = add_up(counted.values(), "outside") / add_up(counted.values(), "looked")
        span = say_span(float(beside.index.time_s[0]), float(beside.index.time_s[-1]))
        told = f"{share:.1%} of the points are of a time that {beside.names} has not ({span})"
        parts = {
            "observed": f"{share:.1%}",
            "required": f"{limit:.1%}",
            "criterion_source": name_source(plan, "max_share"),
        }
        if share <= limit and beside.can_prove:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
        elif share <= limit:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}, if its clock runs in GPS time, which nobody says.",
                **parts,
            )
        elif beside.without:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}; {', '.join(beside.without)} has no trajectory, and they may be from "
                "there.",
                **parts,
            )
        else:
            yield self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"{told}: it is the path of another run or flight, was cut, or runs in another "
                "time scale.",
                remedy="Find the trajectory that these points were made with",
                **parts,
            )
