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

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Raster, Where
from ledger.contract.evidence import Evidence
from ledger.contract.rasters import Sheet
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from lidar_checks.cloud.cover_family import (
    CoverCheck,
    CoverPlan,
    compute_steps,
    exact,
    floor_percent,
)
from lidar_checks.cloud.cover_tally import Counted, CountedCells, Wanted
from lidar_checks.cloud.coverage import Coverage, WeakSquare, compute_coverage
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale
from lidar_checks.cloud.footprint import MAX_RADIUS

# Where one file holds less than this share of what the thinnest of so many others holds, it was
# thinned and not flown thin; common practice, no source.
_THIN_SHARE, _FEWEST_OTHERS = 0.6, 2


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


class DensityPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        cell: side of a cell, lattice steps.
    """

    criteria: DensityCriteria
    cell: int


class PointDensity(CoverCheck):
    """Enough returns in nearly every cell."""

    id = "point-density"
    title = "Enough points in every cell, on the returns that were asked for"
    catalogue = ("DN-01",)
    criteria = DensityCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for counts in cells of the wanted size."""
        laid = cast("DensityPlan", plan)
        laid.cell = compute_steps(laid.criteria.cell_m, scale, plan.lattice)
        laid.wanted = (Wanted("counts", laid.criteria.counted, laid.cell),)

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding | Raster]:
        """Say which files could not be counted, then judge the others as one surface."""
        laid = cast("DensityPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = {
            path: each.counts[laid.wanted[0]]
            for path, each in sorted(summaries.items())
            if path not in faults and each.points
        }
        if judged:
            yield from self._judge(laid, judged, evidence)
        elif not faults:
            yield self.tell_nothing_read()

    def _judge(
        self, plan: DensityPlan, judged: Mapping[str, CountedCells], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        asked = plan.criteria
        area = exact(asked.cell_m) ** 2
        need = math.ceil(exact(asked.min_pts_per_m2) * area)
        radius = min(MAX_RADIUS, math.ceil(exact(asked.gap_closed_m) / exact(asked.cell_m) / 2))
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
            "observed": floor_percent(share),
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
        if weakest is None or share >= exact(asked.min_share_of_cells):
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        yield self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            remedy=_find_remedy(weakest.path, judged, evidence),
            where=_locate(plan, weakest),
            **parts,
        )


def _find_remedy(path: str, judged: Mapping[str, CountedCells], evidence: Evidence) -> str:
    """Return what to do about too few points: one file far below all others was thinned."""
    means = {name: _compute_mean(each) for name, each in judged.items()}
    others = [mean for name, mean in means.items() if name != path]
    if len(others) >= _FEWEST_OTHERS and means.get(path, 0.0) < _THIN_SHARE * min(others):
        typed = quote_path(f"{evidence.folder}/{path}")
        return (
            f"No other file is as thin as {path}: look whether it was thinned or cut down "
            f"(swathbook trace {typed}), and export it again; only if it was not, fly the weak "
            "area again."
        )
    return "Fly the weak area again, or let somebody accept it with a reason."


def _compute_mean(counted: CountedCells) -> float:
    """Return points of a file in a cell that holds any."""
    occupied = sum(int(np.bitwise_count(each.occupied).sum()) for each in counted.blocks.values())
    return counted.counted / occupied if occupied else 0.0


def _describe(plan: DensityPlan, found: Coverage, area: float) -> str:
    asked = plan.criteria
    share = floor_percent(Fraction(found.meeting, found.cells))
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
