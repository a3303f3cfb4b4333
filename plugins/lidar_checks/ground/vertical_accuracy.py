"""The error in height at checkpoints against what the job asks for.

RMSE with the bias in it, never the spread about the mean (FGDC-STD-007.3-1998, 3-A.2). Checkpoints
in vegetation are judged by themselves, by the 95th percentile of their absolute errors, where an
edition asks for that, and reported where it does not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Literal, cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import (
    PRACTICE,
    CheckpointCheck,
    exceeds,
    is_default,
    show,
    tell_interval,
    tell_unproven,
)
from lidar_checks.ground.error_statistics import ErrorStatistics, combine, compute_statistics
from lidar_checks.ground.published_rules import compute_vertical_95
from lidar_checks.ground.sample import FEWEST, Sample, list_heights
from lidar_checks.ground.survey_error import find_height_error

_SURE = 3.0
"""Standard errors that a difference of two means has to exceed (common practice, no source)."""

_FEWEST = count_things(FEWEST, "point")
_REMEDY = (
    "Find the cause before anything is shifted: what the residuals have in common is told under "
    "named-cause, single points under checkpoint-outliers; then process again."
)


class VerticalAccuracyCriteria(Criteria):
    """How well heights have to fit.

    `survey_error` says what becomes of the error of the checkpoints themselves: `added` to the
    RMSE where the table states it, `required` as well, so that nothing passes without it, or
    `left out`.
    """

    rmse_max_m: float = Field(
        gt=0, description="what the customer asks for, or the class of a profile"
    )
    at_95_max_m: float | None = Field(
        default=None,
        gt=0,
        description="1.9600 x RMSE at 95 % confidence, FGDC-STD-007.3-1998, 3-A.2; no default",
    )
    vegetated_p95_max_m: float | None = Field(
        default=None,
        gt=0,
        description="95th percentile in vegetation; editions since 2023 report it only",
    )
    vegetation_rise_max_m: float = Field(
        default=0.05,
        gt=0,
        description=f"mean in vegetation above that of the open ground; {PRACTICE}",
    )
    mean_share_max: float = Field(
        default=0.25,
        gt=0,
        le=1,
        description="ASPRS Positional Accuracy Standards, Edition 2, 7.2: a mean of a quarter of "
        "the RMSE asked for or more is investigated and reported",
    )
    survey_error: Literal["added", "required", "left out"] = Field(
        default="added",
        description="ASPRS Positional Accuracy Standards, Edition 2, considers it in the result",
    )


class VerticalAccuracy(CheckpointCheck):
    """Heights at checkpoints."""

    id = "vertical-accuracy"
    revision = 2
    title = "Heights fit the independent checkpoints as well as the job asks"
    catalogue = ("RH-07", "CL-01")
    criteria = VerticalAccuracyCriteria

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Judge the points of open ground, then those in vegetation."""
        if not sample.judged:
            yield self._tell_none(sample)
            return
        if sample.open_ground:
            yield from self._judge_open(plan, sample)
        if sample.vegetated:
            yield self._judge_vegetated(plan, sample)
            yield from self._judge_rise(plan, sample)

    def _tell_none(self, sample: Sample) -> Finding:
        reasons = sorted({each.reason for each in sample.independent if each.reason})
        why = f": {reasons[0]}" if reasons else ""
        told = f"No independent checkpoint gives a height of the cloud{why}."
        return self.not_assessed(
            WHOLE_DELIVERY, told + sample.tell_left_out(), ("independent checkpoints",)
        )

    def _judge_open(self, plan: Plan, sample: Sample) -> Iterator[Finding]:
        asked = cast("VerticalAccuracyCriteria", plan.criteria)
        found = compute_statistics(list_heights(sample.open_ground))
        survey = find_height_error(sample.open_ground)
        added = survey is not None and asked.survey_error != "left out"
        total = combine(found.rmse, survey) if added and survey is not None else found.rmse
        told = self._tell(found, sample, total if added else None)
        limits = [("rmse_max_m", total, asked.rmse_max_m, "RMSE")]
        if asked.at_95_max_m is not None:
            at_95 = compute_vertical_95(total)
            limits.append(("at_95_max_m", at_95, asked.at_95_max_m, "at 95 %"))
        broken = [each for each in limits if exceeds(each[1], each[2])]
        field, value, limit, name = (broken or limits)[0]
        parts = {
            "observed": show(value, limit),
            "required": f"at most {limit:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, field, "survey_error"),
            "catalogue": ("RH-07",),
        }
        if found.count < FEWEST:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told} {count_things(FEWEST, 'point')} are needed before an accuracy is judged.",
                **parts,
            )
        elif broken:
            is_told = field == "rmse_max_m" and not added  # said once is enough
            value_is = "" if is_told else f"The {name} is {show(value, limit)} m; "
            what = f"{value_is}at most {limit:g} m is allowed."
            yield self.nonconforming(
                Grade.MAJOR,
                WHOLE_DELIVERY,
                f"{told} {what[0].upper()}{what[1:]}",
                remedy=_REMEDY,
                **parts,
            )
        elif asked.survey_error == "required" and survey is None:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told} The error of the survey belongs to it, and the table does not state one "
                "for every point.",
                remedy="Add the standard deviation of each height to the table, and audit again.",
                **parts,
            )
        elif sample.unproven:
            yield self.inconclusive(WHOLE_DELIVERY, told + tell_unproven(sample), **parts)
        else:
            yield self.conforms(WHOLE_DELIVERY, told, **parts)
        if not broken:  # else the mean is told with what is broken
            yield from self._judge_mean(plan, found)

    def _tell(self, found: ErrorStatistics, sample: Sample, total: float | None) -> str:
        """Return the result in words: RMSE, number, interval, bias and spread."""
        spread = "" if found.deviation is None else f", standard deviation {found.deviation:.3f} m"
        with_survey = f"; with the error of the survey {total:.3f} m" if total is not None else ""
        return (
            f"Heights at {count_things(found.count, 'independent checkpoint')} have an RMSE of "
            f"{found.rmse:.3f} m ({tell_interval(found.interval)}{with_survey}), "
            f"mean {found.mean:+.3f} m{spread}." + sample.tell_left_out()
        )

    def _judge_mean(self, plan: Plan, found: ErrorStatistics) -> Iterator[Finding]:
        """Yield that all heights lie to one side, where that is more than a share of the limit."""
        asked = cast("VerticalAccuracyCriteria", plan.criteria)
        limit = asked.mean_share_max * asked.rmse_max_m
        if found.deviation is None or not exceeds(abs(found.mean), limit):
            return
        # Where nobody asked, only what chance does not explain is worth a person's time.
        by_chance = 2 * found.deviation / math.sqrt(found.count)
        if is_default(plan, "mean_share_max") and abs(found.mean) <= by_chance:
            return
        side = "above" if found.mean > 0 else "below"
        yield self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"The cloud lies {abs(found.mean):.3f} m {side} the checkpoints in the mean, more than "
            f"{asked.mean_share_max:.0%} of the RMSE of {asked.rmse_max_m:g} m asked for.",
            observed=show(abs(found.mean), limit),
            required=f"at most {limit:.4g}",
            unit="m",
            criterion_source=name_sources(plan, "mean_share_max", "rmse_max_m"),
            remedy="Look for a cause that moves all heights alike, and say in the report what was "
            "found.",
        )

    def _judge_vegetated(self, plan: Plan, sample: Sample) -> Finding:
        asked = cast("VerticalAccuracyCriteria", plan.criteria)
        found = compute_statistics(list_heights(sample.vegetated))
        told = (
            f"Heights at {count_things(found.count, 'checkpoint')} in vegetation: 95th percentile "
            f"of the absolute errors {found.percentile_95:.3f} m, RMSE {found.rmse:.3f} m, mean "
            f"{found.mean:+.3f} m."
        )
        limit = asked.vegetated_p95_max_m
        if limit is None:
            return self.conforms(
                f"{WHOLE_DELIVERY}, in vegetation",
                f"{told} Nothing is asked of them; they are reported.",
            )
        parts = {
            "observed": show(found.percentile_95, limit),
            "required": f"at most {limit:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "vegetated_p95_max_m"),
            "catalogue": ("RH-07",),
        }
        subject = f"{WHOLE_DELIVERY}, in vegetation"
        if found.count < FEWEST:
            return self.inconclusive(
                subject, f"{told} {count_things(FEWEST, 'point')} are needed.", **parts
            )
        if exceeds(found.percentile_95, limit):
            return self.nonconforming(
                Grade.MAJOR, subject, f"{told} It may be {limit:g} m.", remedy=_REMEDY, **parts
            )
        if sample.unproven:
            return self.inconclusive(subject, told + tell_unproven(sample), **parts)
        return self.conforms(subject, told, **parts)

    def _judge_rise(self, plan: Plan, sample: Sample) -> Iterator[Finding]:
        """Yield that the cloud lies higher in vegetation than beside it, beyond chance (Welch)."""
        if min(len(sample.open_ground), len(sample.vegetated)) < FEWEST:
            return
        asked = cast("VerticalAccuracyCriteria", plan.criteria)
        beside = compute_statistics(list_heights(sample.open_ground))
        grown = compute_statistics(list_heights(sample.vegetated))
        rise = grown.mean - beside.mean
        error = math.sqrt(
            sum((each.deviation or 0.0) ** 2 / each.count for each in (beside, grown))
        )
        if not exceeds(rise, asked.vegetation_rise_max_m) or rise <= _SURE * error:
            return
        yield self.nonconforming(
            Grade.OBSERVATION,
            f"{WHOLE_DELIVERY}, in vegetation",
            f"At {count_things(grown.count, 'checkpoint')} in vegetation the cloud lies "
            f"{rise:.3f} m higher than at {beside.count} on open ground: low plants may stand in "
            "the ground class.",
            observed=show(rise, asked.vegetation_rise_max_m),
            required=f"at most {asked.vegetation_rise_max_m:g}",
            unit="m",
            criterion_source=name_sources(plan, "vegetation_rise_max_m"),
            remedy="Look at sections through the ground class there, and classify again more "
            "strictly; or say in the report how the ground was found under plants.",
            catalogue=("CL-01",),
        )
