"""Class method: neighbouring tiles were classed in the same way.

Where two people or two sets of parameters classed two tiles, the share of ground jumps along the
whole border while the returns stay of one kind. A forest that ends at the border changes the
returns as well, and hardly ever ends along a straight line; what is left of doubt makes it an
observation at most.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, PointCheck, Tally, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.class_mix import (
    BANDS,
    Jump,
    MixLimits,
    MixSummary,
    MixTally,
    Strip,
    list_strips,
    measure_jump,
)
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import PLAN_KEYS, NoScale
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.cloud.seam_plan import Box, Seam, Sizes, plan_seams
from lidar_checks.cloud.tile_boxes import find_boxes

_BAND_M = 5.0
_PART_M = 4.0
_GAP_M = 1.0


class ClassMethodCriteria(Criteria):
    """How far the share of ground may jump where two tiles meet, and how regularly."""

    share_step_max: float = Field(
        default=0.15, gt=0, lt=1, description="common practice, no source"
    )
    min_share_of_parts: float = Field(
        default=0.8, gt=0.5, le=1, description="common practice, no source"
    )
    fewest_parts: int = Field(
        default=5, ge=2, description="common practice, no source: shorter borders show no rule"
    )
    fewest_points: int = Field(
        default=100, ge=10, description="common practice, no source: of a part of 5 m by 4 m"
    )


class MixPlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        reasons: why a file cannot be compared, by path.
        boxes: boxes of the headers of the others.
        seams: all seams between them.
        strips: what is counted of each tile.
    """

    criteria: ClassMethodCriteria
    reasons: dict[str, NoScale]
    boxes: dict[str, Box]
    seams: tuple[Seam, ...]
    strips: dict[str, tuple[Strip, ...]]


@dataclass(frozen=True)
class _Judged:
    seam: Seam
    jump: Jump


class ClassMethod(PointCheck):
    """Tiles that were classed alike."""

    id = "class-method"
    title = "Neighbouring tiles were classed in the same way"
    catalogue = ("CL-07",)
    needs = ("points",)
    specification_keys = PLAN_KEYS
    dimensions = frozenset({"classification", "number_of_returns", "withheld"})
    criteria = ClassMethodCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the seams between tiles of one unit, and what has to be counted there."""
        tiles = find_boxes(evidence)
        seams: tuple[Seam, ...] = ()
        strips: dict[str, tuple[Strip, ...]] = {}
        if tiles.common is not None:
            steps = evidence.lattice.steps_xy / float(tiles.common.metres)
            band, part = round(_BAND_M * steps), round(_PART_M * steps)
            asked = cast("ClassMethodCriteria", criteria)
            sizes = Sizes(
                band, BANDS * band, round(_GAP_M * steps), (asked.fewest_parts - 1) * part
            )
            seams = plan_seams(tiles.boxes, sizes)
            for seam in seams:
                for path, strip in zip(
                    (seam.low, seam.high), list_strips(seam, band, part), strict=True
                ):
                    strips[path] = (*strips.get(path, ()), strip)
        return MixPlan(
            criteria,
            evidence.lattice,
            reasons={
                path: each for path, each in tiles.scales.items() if isinstance(each, NoScale)
            },
            boxes=tiles.boxes,
            seams=seams,
            strips=strips,
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return empty counts for the seams of one file."""
        laid = cast("MixPlan", plan)
        if file.path not in laid.strips:
            return IdleTally()
        return MixTally(laid.boxes[file.path], laid.strips[file.path])

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge every seam, then say which show another way of classing."""
        laid = cast("MixPlan", plan)
        if not summaries:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
            return
        for path in sorted(laid.reasons):
            if path in summaries:
                why = laid.reasons[path]
                where = Where(file=path)
                yield self.not_assessed(path, f"{path} {why.reason}.", why.needs, where=where)
        if len(laid.reasons) == len(summaries):
            return
        if len(evidence.point_files) == 1:
            yield self.conforms(
                WHOLE_DELIVERY, "There is one tile only, so there is nothing to compare."
            )
            return
        judged = [*_judge(laid, summaries)]
        usable = [each for each in judged if each.jump.judged >= laid.criteria.fewest_parts]
        faults = [each for each in usable if _is_jump(each.jump, laid.criteria)]
        for each in faults:
            yield self._report(laid, each)
        if not usable:
            yield self.inconclusive(
                WHOLE_DELIVERY, "No two tiles have enough points on both sides of a common border."
            )
        elif not faults:
            seams = count_things(len(usable), "border")
            yield self.conforms(
                WHOLE_DELIVERY,
                f"Along {seams} between tiles the share of ground goes on, or changes with the "
                "terrain.",
            )

    def _report(self, plan: MixPlan, judged: _Judged) -> Finding:
        seam, jump, asked = judged.seam, judged.jump, plan.criteria
        low, high = f"{jump.low * 100:.0f} %", f"{jump.high * 100:.0f} %"
        jumped = max(jump.up, jump.down)
        parts = count_things(jump.judged, "part")
        across = seam.line / plan.lattice.steps_xy
        along = (seam.start + seam.stop) / 2 / plan.lattice.steps_xy
        xy = (across, along) if seam.axis == "x" else (along, across)
        return self.nonconforming(
            Grade.OBSERVATION,
            f"{seam.low} | {seam.high}",
            f"The share of ground goes from {low} in {seam.low} to {high} in {seam.high} where "
            f"they meet, on {jumped} of {parts} of the border, with the same returns on both "
            f"sides: they were classed in different ways.",
            observed=f"{low} against {high}",
            required=f"at most {asked.share_step_max * 100:g} points apart",
            criterion_source=name_sources(plan, "share_step_max", "min_share_of_parts"),
            remedy="Class both tiles again with one set of parameters, or say why they differ.",
            where=Where(file=seam.high, xy=xy),
        )


def _judge(plan: MixPlan, summaries: Mapping[str, MixSummary | None]) -> Iterable[_Judged]:
    limits = MixLimits(plan.criteria.share_step_max, plan.criteria.fewest_points)
    for seam in plan.seams:
        low, high = summaries.get(seam.low), summaries.get(seam.high)
        if low is not None and high is not None:
            jump = measure_jump(low.strips[seam.number], high.strips[seam.number], limits)
            yield _Judged(seam, jump)


def _is_jump(jump: Jump, asked: ClassMethodCriteria) -> bool:
    return max(jump.up, jump.down) >= asked.min_share_of_parts * jump.judged
