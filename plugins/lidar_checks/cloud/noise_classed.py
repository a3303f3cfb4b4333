"""Noise: points far below or above everything around them are classed as noise or withheld.

Points that stand alone are looked for in the heights of coarse cells, all tiles as one surface; a
bird close to a tree is not found that way, a reflection ten metres below the ground is.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Figure,
    Finding,
    Grade,
    Plan,
    PointCheck,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.chunk import Lattice
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import (
    HEIGHT_KEYS,
    PLAN_KEYS,
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
    find_vertical_scale,
)
from lidar_checks.cloud.height_bins import (
    Cell,
    Cuts,
    HeightBins,
    HeightTally,
    Limits,
    Place,
    find_cuts,
    lay_frame,
)
from lidar_checks.cloud.height_figure import tell_heights
from lidar_checks.cloud.idle_tally import IdleTally

_CELL_M = 100.0
_STEP_M = 1.0


class NoiseCriteria(Criteria):
    """How far apart, and how few, points are that stand alone."""

    low_gap_m: float = Field(
        default=10.0, ge=2, le=1000, description="common practice, no source: empty height above"
    )
    high_gap_m: float = Field(
        default=50.0, ge=2, le=10_000, description="common practice, no source: empty height below"
    )
    max_share: float = Field(
        default=0.001,
        gt=0,
        le=0.1,
        description="common practice, no source: more points than this share are a place",
    )
    fewest_points: int = Field(
        default=1000, ge=10, description="common practice, no source: fewer points show no surface"
    )


Box = tuple[tuple[float, float], tuple[float, float]]


class NoisePlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        units: unit of the plan and of heights, or why there is none, by path.
        common: the units that most files have; None when there are none.
        bits: sizes of cells and of steps of height, as powers of two of the lattice.
    """

    criteria: NoiseCriteria
    units: dict[str, tuple[Scale, Scale] | NoScale]
    common: tuple[Scale, Scale] | None
    bits: tuple[int, int]

    @property
    def step_m(self) -> float:
        """Return the height of a step, metres."""
        if self.common is None:
            return math.nan
        return float((1 << self.bits[1]) * self.common[1].metres / self.lattice.steps_z)


@dataclass(frozen=True)
class _Alone:
    """Points of one file that stand alone, by cell."""

    low: Mapping[Cell, int]
    high: Mapping[Cell, int]


class NoiseClassed(PointCheck):
    """Noise that is told apart from the survey."""

    id = "noise-classed"
    title = "Points that stand alone far below or above are classed as noise or withheld"
    catalogue = ("CL-02",)
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, *HEIGHT_KEYS)
    dimensions = frozenset({"classification", "withheld"})
    criteria = NoiseCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the units of each file and the size of cells and steps in them."""
        units = {file.path: _find_units(file, evidence) for file in evidence.point_files}
        common = _find_common(units.values())
        bits = (0, 0)
        if common is not None:
            lattice = evidence.lattice
            bits = (
                _find_bits(_CELL_M, common[0], lattice.steps_xy),
                _find_bits(_STEP_M, common[1], lattice.steps_z),
            )
        asked = cast("NoiseCriteria", criteria)
        return NoisePlan(asked, evidence.lattice, units=units, common=common, bits=bits)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty count, or one that passes over a file in other units."""
        laid = cast("NoisePlan", plan)
        if laid.common is None or laid.units.get(file.path) != laid.common:
            return IdleTally()
        return HeightTally(lay_frame(_find_corners(file, laid.lattice), *laid.bits))

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding | Figure]:
        """Judge all files as one surface, and name those that have points alone."""
        laid = cast("NoisePlan", plan)
        yield from self._report_unusable(laid, summaries)
        yield from _list_heights(laid, summaries.values())
        judged: dict[str, HeightBins] = {
            path: summaries[path]
            for path in sorted(summaries)
            if summaries[path] is not None and summaries[path].points
        }
        whole = {path: each for path, each in judged.items() if not each.scattered}
        points = sum(each.points for each in judged.values())
        if not points:
            if not any(isinstance(units, NoScale) for units in laid.units.values()):
                yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        elif points < laid.criteria.fewest_points:
            sentence = f"{count_things(points, 'point')} are too few to tell a surface from noise."
            yield self.inconclusive(WHOLE_DELIVERY, sentence)
        elif whole:
            boxes = {each.path: _find_box(each) for each in evidence.files}
            yield from self._judge(laid, whole, boxes)

    def _report_unusable(
        self, plan: NoisePlan, summaries: Mapping[str, HeightBins | None]
    ) -> Iterable[Finding]:
        for path in sorted(summaries):
            where, units, summary = Where(file=path), plan.units[path], summaries[path]
            if isinstance(units, NoScale):
                yield self.not_assessed(path, f"{path} {units.reason}.", units.needs, where=where)
            elif summary is None:
                sentence = f"{path} has other units than most files."
                yield self.not_assessed(path, sentence, ("one unit of length",), where=where)
            elif summary.scattered:
                sentence = f"The points in {path} lie in too many places to be counted."
                yield self.inconclusive(path, sentence, where=where)

    def _judge(
        self, plan: NoisePlan, files: Mapping[str, HeightBins], boxes: Mapping[str, Box | None]
    ) -> Iterable[Finding]:
        asked, step = plan.criteria, plan.step_m
        limits = Limits(
            math.ceil(asked.low_gap_m / step),
            math.ceil(asked.high_gap_m / step),
            asked.max_share,
            asked.fewest_points,
        )
        cuts = find_cuts(files.values(), limits)
        found = {path: _find_alone(bins, cuts) for path, bins in files.items()}
        for path, alone in found.items():
            if alone.low or alone.high:
                yield self._report(plan, path, alone, boxes[path])
        if not any(alone.low or alone.high for alone in found.values()):
            points = count_things(sum(each.points for each in files.values()), "point")
            yield self.conforms(
                WHOLE_DELIVERY,
                f"None of {points} stands alone {asked.low_gap_m:g} m below or "
                f"{asked.high_gap_m:g} m above what is round it, but for noise and what is "
                "withheld.",
            )

    def _report(self, plan: NoisePlan, path: str, alone: _Alone, box: Box | None) -> Finding:
        asked = plan.criteria
        parts = [
            f"{count_things(sum(cells.values()), 'point')} at least {gap:g} m {way}"
            for cells, gap, way in (
                (alone.low, asked.low_gap_m, "below"),
                (alone.high, asked.high_gap_m, "above"),
            )
            if cells
        ]
        cells = Counter(alone.low) + Counter(alone.high)
        count = sum(cells.values())
        told = " and ".join(parts)
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{path} has {told} everything around, neither classed as noise nor withheld.",
            observed=f"{count_things(count, 'point')} in use",
            required="class 7 or 18, or withheld",
            criterion_source=name_sources(plan, "low_gap_m", "high_gap_m", "max_share"),
            remedy=f"Look at {agree(count, 'it', 'them')}: class as low noise (7) or high noise "
            "(18), or say in the report what is there.",
            where=_locate(plan, path, min(cells, key=lambda cell: (-cells[cell], cell)), box),
        )


def _list_heights(plan: NoisePlan, summaries: Iterable[HeightBins | None]) -> Iterable[Figure]:
    if plan.common is None:
        return
    step = (1 << plan.bits[1]) / plan.lattice.steps_z
    kept = (each for each in summaries if each is not None and not each.scattered)
    figure = tell_heights(kept, step, float(plan.common[1].metres))
    if figure is not None:
        yield figure


def _find_units(file: DeliveredFile, evidence: Evidence) -> tuple[Scale, Scale] | NoScale:
    scale = find_horizontal_scale(file, evidence)
    if isinstance(scale, NoScale):
        return scale
    return scale, find_vertical_scale(file, evidence, scale)


def _find_common(units: Iterable[tuple[Scale, Scale] | NoScale]) -> tuple[Scale, Scale] | None:
    """Return the units that most files have, heights among those with the plan's unit."""
    pairs = [each for each in units if not isinstance(each, NoScale)]
    plan = find_common_scale(each[0] for each in pairs)
    heights = find_common_scale(each[1] for each in pairs if each[0] == plan)
    return (plan, heights) if plan is not None and heights is not None else None


def _find_bits(metres: float, scale: Scale, steps: int) -> int:
    """Return the power of two of lattice steps that is nearest to a length."""
    return max(0, round(math.log2(metres / float(scale.metres) * steps)))


def _find_corners(file: DeliveredFile, lattice: Lattice) -> tuple[Place, Place] | None:
    """Return both corners of the box that a header states, lattice steps."""
    header = file.header
    if header is None:
        return None
    steps = (lattice.steps_xy, lattice.steps_xy, lattice.steps_z)
    low = [value * step for value, step in zip(header.minimum, steps, strict=True)]
    high = [value * step for value, step in zip(header.maximum, steps, strict=True)]
    # A stated box may be anything: what leaves the range of numbers is no box.
    if not all(map(math.isfinite, (*low, *high))):
        return None
    return (round(low[0]), round(low[1]), round(low[2])), (
        round(high[0]),
        round(high[1]),
        round(high[2]),
    )


def _find_alone(bins: HeightBins, cuts: Mapping[Cell, Cuts]) -> _Alone:
    low: Counter[Cell] = Counter()
    high: Counter[Cell] = Counter()
    for (east, north, up), count in bins.counts.items():
        cut = cuts.get((east, north))
        if cut is not None and up < cut.low:
            low[east, north] += count
        elif cut is not None and up > cut.high:
            high[east, north] += count
    return _Alone(low, high)


def _find_box(file: DeliveredFile) -> Box | None:
    """Return the least and greatest X, then Y, that a header states; None for no such box."""
    header = file.header
    if header is None or not all(map(math.isfinite, (*header.minimum, *header.maximum))):
        return None
    spans = zip(header.minimum[:2], header.maximum[:2], strict=True)
    east, north = spans
    return east, north


def _locate(plan: NoisePlan, path: str, cell: Cell, box: Box | None) -> Where:
    """Return the middle of the part of a cell that a file covers, in the unit of the files.

    A cell is as wide as several tiles may be; its own middle may lie in another file.
    """
    side = (1 << plan.bits[0]) / plan.lattice.steps_xy
    spans = [(at * side, (at + 1) * side) for at in cell]
    if box is not None:
        cut = [(max(a, c), min(b, d)) for (a, b), (c, d) in zip(spans, box, strict=True)]
        spans = cut if all(low <= high for low, high in cut) else spans
    x, y = ((low + high) / 2 for low, high in spans)
    wide, deep = (high - low for low, high in spans)
    return Where(file=path, xy=(x, y), cell=f"{wide:.0f} by {deep:.0f} round {x:.0f} {y:.0f}")
