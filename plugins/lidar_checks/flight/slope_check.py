"""What the checks of slopes between opposite swaths say alike."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping

from ledger.contract.check import Finding, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import NO_TRAJECTORY, Beside, find_beside
from lidar_checks.flight.swath_slopes import Slopes, find_slopes, find_surfaces
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import SwathCheck


class SlopeCheck(SwathCheck):
    """A check of slopes between swaths; a subclass says what it makes of them."""

    def judge(
        self, plan: Plan, summaries: Mapping[str, PassSummary], evidence: Evidence
    ) -> Iterable[Finding]:
        """Find the slopes of the whole delivery beside its trajectory, and judge them."""
        beside = find_beside(evidence, with_heights=False)
        if beside is None:
            yield self.not_assessed(WHOLE_DELIVERY, NO_TRAJECTORY, needs=("trajectory",))
            return
        rows = find_surfaces(summaries, plan)
        slopes = None if rows is None else find_slopes(rows, plan, beside, evidence)
        yield self.judge_slopes(plan, beside, slopes)

    @abstractmethod
    def judge_slopes(self, plan: Plan, beside: Beside, slopes: Slopes | None) -> Finding:
        """Return what the slopes show; None where no two swaths have a surface in common."""
