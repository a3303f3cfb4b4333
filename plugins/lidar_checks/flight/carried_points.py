"""No points ride along with the aircraft: legs, bracket, propellers.

They show as points at a short, ever same range; on lines, high above the ground, nothing else is
as near.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_bins, add_up, find_percentile
from lidar_checks.flight.beside_tally import LOWEST_M, BesideSummary
from lidar_checks.flight.flight_check import PRACTICE
from lidar_checks.header.file_check import name_source, require_criteria

_LEAST_HEIGHT_M = 5.0


class CarriedPointsCriteria(Criteria):
    """How near is too near, and how many may be."""

    range_m: float = Field(
        default=1.5, gt=0, le=9.5, description=f"{PRACTICE}; in steps of half a metre"
    )
    max_share: float = Field(default=0.001, ge=0, lt=1, description=PRACTICE)


class CarriedPoints(BesideCheck):
    """Counts points within a short range of the path."""

    id = "carried-points"
    title = "No points ride along with the aircraft"
    catalogue = ("RC-11",)
    criteria = CarriedPointsCriteria

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,  # noqa: ARG002 - as the base has it
    ) -> Iterable[Finding]:
        """Judge all files together."""
        criteria = require_criteria(plan, CarriedPointsCriteria)
        on_line = add_up(counted.values(), "on_line")
        height = find_percentile(add_bins(counted.values(), "down"), 0.5, LOWEST_M)
        if not on_line or height is None or height < _LEAST_HEIGHT_M:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"The lines of {beside.names} do not lie high enough above the points to tell "
                "what rides along.",
            )
            return
        near = int(add_bins(counted.values(), "near")[: round(2 * criteria.range_m)].sum())
        share = near / on_line
        told = (
            f"{count_things(near, 'point')} ({share:.2%}) lie within {criteria.range_m:g} m of "
            f"the path by {beside.names}"
        )
        parts = {
            "observed": f"{share:.2%}",
            "required": f"{criteria.max_share:.2%}",
            "criterion_source": name_source(plan, "max_share"),
        }
        if share > criteria.max_share:
            yield self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{told}: they ride along with the aircraft.",
                remedy="Set the shortest range, or the sector of the aircraft's body, and process "
                "again",
                **parts,
            )
        else:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
