"""The error in plan at targets that were picked in the cloud, against what the job asks for.

Points of a cloud are no targets: without columns of where each target lies in the cloud there is no
error in plan, and none is guessed from heights here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import (
    CheckpointCheck,
    exceeds,
    show,
    tell_interval,
    tell_unproven,
)
from lidar_checks.ground.error_statistics import combine
from lidar_checks.ground.plan_errors import PlanErrors, compute_plan_errors
from lidar_checks.ground.published_rules import ALIKE_MIN
from lidar_checks.ground.sample import FEWEST, Sample
from lidar_checks.ground.survey_error import find_plan_error

_MEASURED = "targets picked in the cloud"


class HorizontalAccuracyCriteria(Criteria):
    """How well places have to fit; `rmse_max_m` is of both axes together."""

    rmse_max_m: float = Field(
        gt=0, description="what the customer asks for: RMSE of both axes together"
    )
    at_95_max_m: float | None = Field(
        default=None,
        gt=0,
        description="2.4477 x the mean RMSE of the axes at 95 %, FGDC-STD-007.3-1998, 3-A.1; no "
        "default",
    )


class HorizontalAccuracy(CheckpointCheck):
    """Places of targets."""

    id = "horizontal-accuracy"
    title = "Places fit the independent checkpoints as well as the job asks"
    catalogue = ("RH-07",)
    criteria = HorizontalAccuracyCriteria

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Judge RMSE and the radius at 95 %."""
        if not sample.picked:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No table of checkpoints says where its targets lie in the cloud, so there is no "
                "error in plan.",
                (_MEASURED,),
                remedy="Pick the targets in the cloud, add their coordinates to the table as "
                "columns of their own, and audit again",
            )
            return
        found = compute_plan_errors(sample.picked)
        survey = find_plan_error(sample.tables, sample.picked)
        total = found.radial if survey is None else combine(found.radial, survey)
        yield self._judge_rmse(plan, sample, found, total)
        asked = cast("HorizontalAccuracyCriteria", plan.criteria)
        if asked.at_95_max_m is not None:
            yield self._judge_95(plan, found, asked.at_95_max_m)

    def _judge_rmse(self, plan: Plan, sample: Sample, found: PlanErrors, total: float) -> Finding:
        limit = cast("HorizontalAccuracyCriteria", plan.criteria).rmse_max_m
        survey = f"; with the error of the survey {total:.3f} m" if total > found.radial else ""
        told = (
            f"Places of {count_things(found.count, 'independent target')} have an RMSE of "
            f"{found.radial:.3f} m ({tell_interval(found.interval)}{survey}), mean "
            f"{found.mean_x:+.3f} m east and {found.mean_y:+.3f} m north."
        )
        parts = {
            "observed": show(total, limit),
            "required": f"at most {limit:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "rmse_max_m"),
        }
        if found.count < FEWEST:
            more = f"{FEWEST} targets are needed before an accuracy is judged."
            return self.inconclusive(WHOLE_DELIVERY, f"{told} {more}", **parts)
        if exceeds(total, limit):
            return self.nonconforming(
                Grade.MAJOR,
                WHOLE_DELIVERY,
                f"{told} It may be {limit:g} m.",
                remedy="Find the cause before anything is shifted; then process again.",
                **parts,
            )
        if sample.unproven:
            return self.inconclusive(WHOLE_DELIVERY, told + tell_unproven(sample), **parts)
        return self.conforms(WHOLE_DELIVERY, told, **parts)

    def _judge_95(self, plan: Plan, found: PlanErrors, limit: float) -> Finding:
        subject = f"{WHOLE_DELIVERY}, at 95 %"
        radius = found.at_95
        if radius is None:
            return self.inconclusive(
                subject,
                f"The RMSE is {found.rmse_x:.3f} m east and {found.rmse_y:.3f} m north: one is "
                f"less than {ALIKE_MIN:g} of the other, and the standard gives no radius then.",
                criterion_source=name_sources(plan, "at_95_max_m"),
            )
        parts = {
            "observed": show(radius, limit),
            "required": f"at most {limit:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "at_95_max_m"),
        }
        told = f"At 95 % places lie within {radius:.3f} m"
        if found.count < FEWEST:
            return self.inconclusive(subject, f"{told}, of too few targets to judge.", **parts)
        if exceeds(radius, limit):
            return self.nonconforming(
                Grade.MAJOR,
                subject,
                f"{told}, and have to lie within {limit:g} m.",
                remedy="Find the cause before anything is shifted; then process again.",
                **parts,
            )
        return self.conforms(subject, f"{told}.", **parts)
