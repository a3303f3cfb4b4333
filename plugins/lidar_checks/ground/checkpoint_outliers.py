"""Checkpoints that are off by themselves, exchanged, or off as a block.

They are named and stay in every statistic: whoever takes one out has to say why. Only where one
spot is listed with several heights none of them counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import fmean
from typing import cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.blunders import (
    EXPLAINED_MIN,
    FEWEST_POINTS,
    Exchange,
)
from lidar_checks.ground.checkpoint_check import PRACTICE, CheckpointCheck
from lidar_checks.ground.error_statistics import compute_rmse
from lidar_checks.ground.named_blunders import SurveyedBlock, name_blunders
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.reuse import SAME_HEIGHT_M, measure_conflict
from lidar_checks.ground.sample import Sample, list_heights, name_points

_MOST_TOLD = 5
_EXPLAINED = f"takes away {EXPLAINED_MIN:.0%} of the sum of squares; {PRACTICE}"


class CheckpointOutliersCriteria(Criteria):
    """What counts as a blunder."""

    off_min_m: float = Field(
        default=0.05,
        gt=0,
        description=f"least distance from the median, beside a robust score of 3.5; {PRACTICE}",
    )
    block_step_min_m: float = Field(
        default=0.08, gt=0, description=f"least step of a block of points; {PRACTICE}"
    )


class CheckpointOutliers(CheckpointCheck):
    """Blunders among checkpoints."""

    id = "checkpoint-outliers"
    revision = 3
    title = "No checkpoint is off by itself, exchanged with another, or off with its neighbours"
    catalogue = ("CP-05", "CP-11")
    criteria = CheckpointOutliersCriteria

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Look for exchanges, then for a block, then for single ones."""
        if sample.conflicts:
            yield self._tell_conflicts(sample)
        points = sample.judged
        if len(points) < FEWEST_POINTS:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{count_things(len(points), 'independent checkpoint')} "
                f"{'has' if len(points) == 1 else 'have'} a height of the cloud; {FEWEST_POINTS} "
                "are needed to see which one is off." + sample.tell_left_out(),
            )
            return
        asked = cast("CheckpointOutliersCriteria", plan.criteria)
        found = name_blunders(points, asked.off_min_m, asked.block_step_min_m)
        exchanges, block, single = found.exchanges, found.block, found.single
        for each in exchanges:
            yield self._tell_exchange(points, each)
        if block is not None:
            yield self._tell_block(plan, points, block)
        for place in single[:_MOST_TOLD]:
            yield self._tell_outlier(plan, points, place)
        if len(single) > _MOST_TOLD:
            yield self._tell_more(plan, points, single[_MOST_TOLD:])
        if not exchanges and not single and block is None:
            yield self.conforms(
                WHOLE_DELIVERY,
                f"None of {count_things(len(points), 'checkpoint')} is off by itself, and none "
                "were exchanged.",
                criterion_source=name_sources(plan, "off_min_m", "block_step_min_m"),
            )

    def _tell_conflicts(self, sample: Sample) -> Finding:
        conflicts = sample.conflicts
        apart = [measure_conflict(place) for place in conflicts]
        first = conflicts[0]
        tables = sorted({each.table for each in sample.contradicted})
        names = name_points([place[0] for place in conflicts])
        return self.nonconforming(
            Grade.MINOR,
            "one spot with several heights",
            f"{count_things(len(conflicts), 'spot is', 'spots are')} listed with several heights "
            f"in {' and '.join(tables)}: {names}. At {first[0].id} the other height "
            f"({first[-1].id}) is {apart[0]:+.3f} m from the first, in the mean of all "
            f"{fmean(apart):+.3f} m. Which is right nobody can tell here, so none counts.",
            observed=f"{max(map(abs, apart)):.3f}",
            required=f"at most {SAME_HEIGHT_M:g}",
            unit="m",
            criterion_source=PRACTICE,
            remedy="Look both up in the logs of the surveys; record the table that is wrong with "
            "what its heights are (swathbook record points), or leave it out.",
            where=_find_place(first[0]),
            catalogue=("CP-05",),
        )

    def _tell_more(self, plan: Plan, points: Sequence[Residual], places: Sequence[int]) -> Finding:
        names = ", ".join(points[place].id for place in places)
        return self.nonconforming(
            Grade.OBSERVATION,
            f"{len(places)} more",
            f"{count_things(len(places), 'more checkpoint')} off by less: {names}.",
            observed=str(len(places)),
            required="0",
            unit="points",
            criterion_source=name_sources(plan, "off_min_m"),
            remedy="Look at them after those that are named above.",
            catalogue=("CP-05",),
        )

    def _tell_outlier(self, plan: Plan, points: Sequence[Residual], place: int) -> Finding:
        point = points[place]
        heights = list_heights(points)
        others = [height for number, height in enumerate(heights) if number != place]
        off = heights[place] - sorted(others)[len(others) // 2]
        return self.nonconforming(
            Grade.OBSERVATION,
            point.id,
            f"The cloud lies {heights[place]:+.3f} m off at {point.id}, {abs(off):.3f} m from what "
            f"most checkpoints show. It is counted: RMSE {compute_rmse(heights):.3f} m with it, "
            f"{compute_rmse(others):.3f} m without.",
            observed=f"{abs(off):.3f}",
            required=f"at most {cast('CheckpointOutliersCriteria', plan.criteria).off_min_m:g}",
            unit="m",
            criterion_source="robust score above 3.5, NIST/SEMATECH e-Handbook 1.3.5.17; "
            + name_sources(plan, "off_min_m"),
            remedy=f"Look at {point.id} in the cloud and in the survey's log; leave it out only "
            "with a reason in the report.",
            where=_find_place(point),
            catalogue=("CP-05",),
        )

    def _tell_exchange(self, points: Sequence[Residual], found: Exchange) -> Finding:
        one, other = points[found.one].id, points[found.other].id
        return self.nonconforming(
            Grade.MINOR,
            f"{one} and {other}",
            f"Exchanging the heights of {one} and {other} takes their errors from "
            f"{found.before:.3f} m to {found.after:.3f} m: the two look exchanged in the table.",
            observed=f"{found.before:.3f}",
            required=f"with the two exchanged {found.after:.3f}",
            unit="m",
            criterion_source=_EXPLAINED,
            remedy="Look both up in the survey's own log, correct the table there, register it "
            "anew, and audit again.",
            where=_find_place(points[found.one]),
            catalogue=("CP-05",),
        )

    def _tell_block(self, plan: Plan, points: Sequence[Residual], found: SurveyedBlock) -> Finding:
        first, last = points[found.places[0]].id, points[found.places[-1]].id
        number = len(found.places)
        # The cloud lies too low at points whose rod was taken for too short.
        limit = cast("CheckpointOutliersCriteria", plan.criteria).block_step_min_m
        return self.nonconforming(
            Grade.MINOR,
            f"{first} to {last}",
            f"{count_things(number, 'checkpoint')} that follow each other, {first} to {last}, are "
            f"off together: the cloud lies {found.step_m:+.3f} m from where it lies at the others, "
            "as after a wrong height of the rod.",
            observed=f"{abs(found.step_m):.3f}",
            required=f"at most {limit:g}",
            unit="m",
            criterion_source=f"{_EXPLAINED}; {name_sources(plan, 'block_step_min_m')}",
            remedy="Compare the heights of the rod in the survey's log; correct the table there "
            "and audit again.",
            where=_find_place(points[found.places[0]]),
            catalogue=("CP-11",),
        )


def _find_place(point: Residual) -> Where:
    return Where(file=point.files[0] if point.files else "")
