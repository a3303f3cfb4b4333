"""Point density: the share of cells that hold as many returns a square metre as were asked for.

The mean over the area never passes by itself: it hides stripes. Which returns count is a matter of
the specification; the USGS Lidar Base Specification 2025 rev. A (glossary) lets first or last
returns stand for pulses. Withheld points never count.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Finding,
    Grade,
    Plan,
    PointCheck,
    Raster,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.rasters import Sheet
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.chunk import Lattice
from ledger.model.phrases import count_things
from lidar_checks.cloud.coverage import Coverage, WeakSquare, compute_coverage
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.density_tally import Counted, DensitySummary, DensityTally
from lidar_checks.cloud.file_units import (
    PLAN_KEYS,
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
)
from lidar_checks.cloud.footprint import MAX_RADIUS
from lidar_checks.cloud.idle_tally import IdleTally


class DensityCriteria(Criteria):
    """How many returns, of which kind, in which cells.

    A gap wider than `gap_closed_m` is a void and not thin cover: its cells are not counted.
    """

    min_pts_per_m2: float = Field(
        gt=0, description="only the customer can say how dense a cloud has to be"
    )
    counted: Counted = Field(
        default="first-returns",
        description="USGS Lidar Base Specification 2025 rev. A, glossary: first (or last) returns "
        "stand for pulses",
    )
    cell_m: float = Field(default=1.0, ge=0.1, le=100, description="common practice, no source")
    min_share_of_cells: float = Field(
        default=0.95, gt=0, le=1, description="common practice, no source"
    )
    gap_closed_m: float = Field(
        default=4.0,
        ge=0,
        le=100,
        description="common practice, no source",
    )


class DensityPlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        scales: unit of X and Y, or why there is none, by path.
        common: the unit that the judged files have; None when there is none.
        cell: side of a cell, lattice steps.
    """

    criteria: DensityCriteria
    scales: dict[str, Scale | NoScale]
    common: Scale | None
    cell: int


class PointDensity(PointCheck):
    """Enough returns in nearly every cell."""

    id = "point-density"
    title = "Enough points in every cell, on the returns that were asked for"
    catalogue = ("DN-01",)
    needs = ("points",)
    specification_keys = PLAN_KEYS
    dimensions = frozenset({"return_number", "number_of_returns", "withheld"})
    criteria = DensityCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the unit of each file and the size of a cell in it."""
        asked = cast("DensityCriteria", criteria)
        scales = {f.path: find_horizontal_scale(f, evidence) for f in evidence.point_files}
        common = find_common_scale(scales.values())
        cell = _compute_steps(asked.cell_m, common, evidence.lattice) if common else 0
        return DensityPlan(asked, evidence.lattice, scales=scales, common=common, cell=cell)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty count, or one that passes over a file without a usable unit."""
        laid = cast("DensityPlan", plan)
        if laid.common is None or laid.scales.get(file.path) != laid.common:
            return IdleTally()
        return DensityTally(laid.criteria.counted, laid.cell)

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding | Raster]:
        """Say which files could not be counted, then judge the others as one surface."""
        laid = cast("DensityPlan", plan)
        judged: dict[str, DensitySummary] = {}
        left_out = 0
        for path in sorted(summaries):
            fault = self._find_fault(laid, path, summaries[path])
            if fault is not None:
                left_out += 1
                yield fault
            elif summaries[path].points:
                judged[path] = summaries[path]
        if judged:
            yield from self._judge(laid, judged)
        elif not left_out:
            yield self.not_assessed(
                WHOLE_DELIVERY, "No point was read, so density is undefined.", ("points",)
            )

    def _find_fault(
        self, plan: DensityPlan, path: str, summary: DensitySummary | None
    ) -> Finding | None:
        """Return why a file cannot be counted, or None."""
        where = Where(file=path)
        scale = plan.scales[path]
        if isinstance(scale, NoScale):
            return self.not_assessed(path, f"{path} {scale.reason}.", scale.needs, where=where)
        if summary is None:
            sentence = f"{path} has another unit of length than most files, so its cells differ."
            return self.not_assessed(path, sentence, ("one unit of length",), where=where)
        if summary.scattered:
            sentence = f"The points in {path} are scattered over an area too large to be counted."
            return self.inconclusive(path, sentence, where=where)
        if not summary.points or summary.counted:
            return None
        kind = plan.criteria.counted
        if summary.unnumbered == summary.points:
            sentence = f"Every return number in {path} is 0, so {kind} cannot be counted."
            return self.not_assessed(path, sentence, ("return_number",), where=where)
        points = count_things(summary.points, "point")
        sentence = f"None of the {points} in {path} is one of the {kind} asked for."
        return self.inconclusive(path, sentence, where=where)

    def _judge(
        self, plan: DensityPlan, judged: Mapping[str, DensitySummary]
    ) -> Iterable[Finding | Raster]:
        asked = plan.criteria
        area = _exact(asked.cell_m) ** 2
        need = math.ceil(_exact(asked.min_pts_per_m2) * area)
        radius = min(MAX_RADIUS, math.ceil(_exact(asked.gap_closed_m) / _exact(asked.cell_m) / 2))
        found = compute_coverage(
            {p: s.blocks for p, s in judged.items()},
            need,
            radius,
            lambda extent: Sheet(plan.cell, plan.lattice, extent),
        )
        if not found.cells:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"The points cover no cell of {asked.cell_m:g} m that lies off the rim, "
                "so there is nothing to count.",
            )
            return
        share = Fraction(found.meeting, found.cells)
        parts = {
            "observed": _floor_percent(share),
            "required": f"{asked.min_share_of_cells * 100:g}",
            "unit": "% of cells",
            "criterion_source": name_sources(plan, "min_pts_per_m2", "min_share_of_cells"),
        }
        sentence = _describe(plan, found, float(area))
        if found.sheet is not None:
            kind = asked.counted.replace("-", " ")
            step = 0.01 / float(area)
            yield found.sheet.draw("density", f"Density of {kind}", step=step, unit="per m²")
        weakest = found.weakest
        if weakest is None or share >= _exact(asked.min_share_of_cells):
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        yield self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            remedy="Fly the weak area again, or let somebody accept it with a reason.",
            where=_locate(plan, weakest),
            **parts,
        )


def _exact(number: float) -> Fraction:
    """Return the decimal that a person typed, not its binary neighbour."""
    return Fraction(repr(number))


def _compute_steps(cell_m: float, scale: Scale, lattice: Lattice) -> int:
    """Return the side of a cell in lattice steps of the file's own unit."""
    return max(1, round(_exact(cell_m) / scale.metres * lattice.steps_xy))


def _floor_percent(share: Fraction) -> str:
    """Return percent with two decimals, never rounded up to a criterion that is not met."""
    hundredths = math.floor(share * 10_000)
    return f"{hundredths // 100}.{hundredths % 100:02d}"


def _describe(plan: DensityPlan, found: Coverage, area: float) -> str:
    asked = plan.criteria
    share = _floor_percent(Fraction(found.meeting, found.cells))
    kind = "returns of any kind" if asked.counted == "all" else asked.counted.replace("-", " ")
    sentence = (
        f"{share} % of {count_things(found.cells, 'cell')} of {asked.cell_m:g} m hold at least "
        f"{asked.min_pts_per_m2:g} {kind} per m² (mean {found.counted / found.cells / area:.2f})"
    )
    weak = found.weakest
    if weak is None:
        return sentence + "."
    x, y = _compute_place(plan, weak)
    return (
        f"{sentence}; the weakest area, {weak.counted / weak.cells / area:.2f} per m² on "
        f"{weak.cells * area:g} m², lies round {x:.1f} {y:.1f}."
    )


def _compute_place(plan: DensityPlan, weak: WeakSquare) -> tuple[float, float]:
    """Return the middle of the weakest square, file units."""
    x, y = (along * plan.cell / plan.lattice.steps_xy for along in weak.centre)
    return x, y


def _locate(plan: DensityPlan, weak: WeakSquare) -> Where:
    x, y = _compute_place(plan, weak)
    return Where(file=weak.path, xy=(x, y), cell=f"{x:.1f} {y:.1f}")
