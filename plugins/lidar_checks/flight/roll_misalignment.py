"""The scanner sits as its calibration says: opposite swaths do not tilt against each other.

A roll that is off by a small angle lifts one side of every swath and lowers the other: a point at
`a` metres to the right of the path lies `a tan(angle)` too high. Two swaths flown in opposite
directions then differ by a slope across their overlap, and one flown in the same direction by a
step, which a receiver may make as well. So only slopes are used: of every pair of swaths its mean
step is taken off first.
"""

from __future__ import annotations

from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.flight.beside_family import Beside
from lidar_checks.flight.flight_check import PRACTICE
from lidar_checks.flight.slope_check import SlopeCheck
from lidar_checks.flight.swath_slopes import SlopeFit, Slopes, fit_slope
from lidar_checks.header.file_check import name_source, require_criteria
from lidar_checks.swath.swath_family import CELL_M


class RollMisalignmentCriteria(Criteria):
    """How large an angle may be."""

    tell_deg: float = Field(default=0.02, gt=0, description=PRACTICE)
    max_deg: float = Field(default=0.05, gt=0, description=PRACTICE)
    fewest_cells: int = Field(default=500, ge=50, description=PRACTICE)


class RollMisalignment(SlopeCheck):
    """Fits one angle to the slopes between overlapping swaths."""

    id = "roll-misalignment"
    title = "Opposite swaths do not tilt against each other"
    catalogue = ("MB-05",)
    revision = 3
    criteria = RollMisalignmentCriteria

    def judge_slopes(self, plan: Plan, beside: Beside, slopes: Slopes | None) -> Finding:
        """Fit all pairs together."""
        fewest = require_criteria(plan, RollMisalignmentCriteria).fewest_cells
        fit = None if slopes is None else fit_slope(slopes.apart_m, slopes.step_m)
        if fit is None or fit.cells < fewest:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"Fewer than {fewest} smooth cells of {CELL_M:g} m were seen by two swaths "
                f"that {beside.names} has as flown in opposite directions.",
            )
        return self._tell(plan, beside, fit)

    def _tell(self, plan: Plan, beside: Beside, fit: SlopeFit) -> Finding:
        criteria = require_criteria(plan, RollMisalignmentCriteria)
        angle, sure = fit.angle_deg, fit.sure_deg
        told = (
            f"Opposite swaths tilt against each other by {2 * abs(fit.slope):.5f} m a metre in "
            f"{count_things(fit.cells, 'smooth cell')}, as a roll that is off by {angle:+.3f}° ± "
            f"{sure:.3f}° would make them ({beside.names})"
        )
        field = "max_deg" if abs(angle) > criteria.max_deg else "tell_deg"
        limit = getattr(criteria, field)
        parts: dict[str, Any] = {
            "observed": f"{abs(angle):.3f}",
            "required": f"{limit:g}",
            "unit": "deg",
            "criterion_source": name_source(plan, field),
        }
        if abs(angle) > criteria.tell_deg and abs(angle) > sure:
            return self.nonconforming(
                Grade.MINOR if field == "max_deg" else Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{told} (limit {limit:g}°).",
                remedy="Have the scanner calibrated on its bracket again, and process again with "
                "the new angles",
                **parts,
            )
        if sure > criteria.max_deg:
            return self.inconclusive(
                WHOLE_DELIVERY, f"{told}: too rough or too little ground to tell.", **parts
            )
        return self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
