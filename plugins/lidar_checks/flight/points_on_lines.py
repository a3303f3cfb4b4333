"""Points were measured on the mapping lines, and not at take-off, in turns or at landing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_up
from lidar_checks.flight.beside_tally import BesideSummary
from lidar_checks.flight.flight_check import PRACTICE
from lidar_checks.header.file_check import name_source, require_criteria

_NAMED = 4


class PointsOnLinesCriteria(Criteria):
    """How many points may be from elsewhere."""

    max_share: float = Field(default=0.005, ge=0, lt=1, description=PRACTICE)


class PointsOnLines(BesideCheck):
    """Counts points whose time belongs to no line."""

    id = "points-on-lines"
    title = "Take-off, turns and landing were left out"
    catalogue = ("SL-05",)
    criteria = PointsOnLinesCriteria

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,  # noqa: ARG002 - as the base has it
    ) -> Iterable[Finding]:
        """Judge all files together."""
        limit = require_criteria(plan, PointsOnLinesCriteria).max_share
        inside = add_up(counted.values(), "looked") - add_up(counted.values(), "outside")
        if not inside:
            yield self.inconclusive(
                WHOLE_DELIVERY, f"No point is of a time that {beside.names} has."
            )
            return
        off = add_up(counted.values(), "off_line")
        share = off / inside
        told = f"{share:.1%} of the points are from take-off, turns or landing by {beside.names}"
        parts = {
            "observed": f"{share:.1%}",
            "required": f"{limit:.1%}",
            "criterion_source": name_source(plan, "max_share"),
        }
        if share > limit:
            worst = sorted(counted, key=lambda path: -counted[path].off_line * counted[path].weight)
            named = ", ".join(path for path in worst[:_NAMED] if counted[path].off_line)
            yield self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{told} (limit {limit:.1%}), most of them in {named}.",
                remedy="Export the mapping lines alone",
                **parts,
            )
        elif beside.can_prove:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
        else:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}, if its clock runs in GPS time, which nobody says.",
                **parts,
            )
