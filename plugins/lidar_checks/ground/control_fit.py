"""A cloud that was pulled to its control: it fits there, and nowhere between.

An adjustment that may bend the cloud makes the errors at its own points as small as it likes. What
it did to the ground between them shows at checkpoints alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.loading import load_part
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import PRACTICE, CheckpointCheck
from lidar_checks.ground.control_use import CONTROL_USED
from lidar_checks.ground.error_statistics import ErrorStatistics, compute_statistics
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample, list_heights

FEWEST = 5
CHANCE = 0.01
"""How often two samples of one spread may be told apart: one-sided F test (Snedecor)."""


class ControlFitCriteria(Criteria):
    """When control fits too well for the rest."""

    ratio_min: float = Field(
        default=0.3,
        gt=0,
        le=1,
        description=f"spread at the control over that at the checkpoints; {PRACTICE}",
    )
    spread_min_m: float = Field(
        default=0.03,
        gt=0,
        description=f"spread at the checkpoints below which nothing is bent; {PRACTICE}",
    )


class ControlFit(CheckpointCheck):
    """The spread of errors at control against that at checkpoints."""

    id = "control-fit"
    title = "The cloud fits the checkpoints about as well as the control that it was fitted to"
    catalogue = ("CP-07",)
    criteria = ControlFitCriteria
    fields = (CONTROL_USED,)

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Compare the two spreads, each about its own mean."""
        control = list_used(sample)
        if not control:
            yield self._tell_none(sample)
            return
        if min(len(control), len(sample.judged)) < FEWEST:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{count_things(len(control), 'control point')} and "
                f"{count_things(len(sample.judged), 'independent checkpoint')} show a height of "
                f"the cloud; {FEWEST} of each are needed to compare them.",
            )
            return
        here = compute_statistics(list_heights(control))
        there = compute_statistics(list_heights(sample.judged))
        yield self._compare(plan, here, there)

    def _tell_none(self, sample: Sample) -> Finding:
        if not sample.use.is_known:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"Whether the cloud was fitted to control is not known: {sample.use.question}.",
                remedy=sample.use.remedy,
            )
        if sample.use.users or sample.use.unnamed:
            return self.not_assessed(
                WHOLE_DELIVERY,
                "The cloud was fitted to control, and no declared table of it gives a height to "
                "hold the cloud against.",
                ("control points",),
                remedy="Declare the table of the control (swathbook record points), and audit "
                "again",
            )
        return self.conforms(WHOLE_DELIVERY, "The cloud was fitted to no control.")

    def _compare(self, plan: Plan, here: ErrorStatistics, there: ErrorStatistics) -> Finding:
        asked = cast("ControlFitCriteria", plan.criteria)
        near, far = here.deviation or 0.0, there.deviation or 0.0
        ratio = near / far if far else 1.0
        told = (
            f"Errors scatter by {near:.3f} m at {count_things(here.count, 'control point')} and by "
            f"{far:.3f} m at {count_things(there.count, 'checkpoint')}"
        )
        parts: dict[str, Any] = {
            "observed": f"{ratio:.2f}",
            "required": f"at least {asked.ratio_min:g}",
            "unit": "of the spread at the checkpoints",
            "criterion_source": name_sources(plan, "ratio_min", "spread_min_m"),
        }
        limit = float(
            load_part("scipy.special", "fdtri")(there.count - 1, here.count - 1, 1 - CHANCE)
        )
        is_chance = far**2 <= limit * near**2
        if ratio >= asked.ratio_min or far <= asked.spread_min_m or is_chance:
            return self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            f"{told}: the cloud was pulled to its control, and what lies between followed.",
            remedy="Process again with control that moves the cloud as a whole or with less "
            "weight, and compare the heights before and after.",
            **parts,
        )


def list_used(sample: Sample) -> Sequence[Residual]:
    """Return the control points with a height of the cloud that a run was fitted to."""
    digests = {table.path: table.sha256 for table in sample.evidence.tables}
    return [
        each
        for each in sample.control
        if each.dz is not None and sample.use.find_users(digests.get(each.table, ""))
    ]
