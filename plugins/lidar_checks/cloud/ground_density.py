"""Ground density: where ground points are too few, heights between them are interpolated.

Gaps of ground under trees are the matter; over water and under roofs there is none to be had, so
that cells with water (class 9) or a building (class 6) are left out. Where roofs have no class of
their own they count as gaps, so that this is an observation with a map, and no obstacle.

Many small gaps harm less than one that is wide: cells in which a square without ground fits are
counted by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Raster
from ledger.contract.evidence import Evidence
from ledger.contract.rasters import Sheet
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.block_grid import BLOCK, BlockKey
from lidar_checks.cloud.cell_cover import Cover, join_cells
from lidar_checks.cloud.cover_family import (
    CoverCheck,
    CoverPlan,
    compute_steps,
    exact,
    floor_percent,
)
from lidar_checks.cloud.cover_tally import CountedCells, Wanted
from lidar_checks.cloud.coverage import Interior
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale
from lidar_checks.cloud.footprint import MAX_RADIUS, CoverBits, count_wide

_RADIUS = 2


class GroundCriteria(Criteria):
    """In what cells, how much of the area may be without ground, and how much in wide gaps."""

    cell_m: float = Field(default=2.0, ge=0.1, le=100, description="common practice, no source")
    max_share_without: float = Field(
        default=0.25, ge=0, le=1, description="common practice, no source"
    )
    gap_m: float = Field(
        default=5.0,
        gt=0,
        le=100,
        description="common practice, no source: how wide a gap is told as one, rounded up to an "
        "odd number of cells",
    )
    max_share_in_gaps: float = Field(
        default=0.1, ge=0, le=1, description="common practice, no source"
    )


class GroundPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        cell: side of a cell, lattice steps.
        area_m2: its area.
    """

    criteria: GroundCriteria
    cell: int
    area_m2: float


class GroundDensity(CoverCheck):
    """Ground points in most of the area."""

    id = "ground-density"
    title = "Enough ground points, also under trees"
    catalogue = ("DN-05",)
    revision = 4
    criteria = GroundCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for ground points by cell."""
        laid = cast("GroundPlan", plan)
        laid.cell = compute_steps(laid.criteria.cell_m, scale, plan.lattice)
        laid.area_m2 = float((laid.cell * scale.metres / plan.lattice.steps_xy) ** 2)
        laid.wanted = (
            Wanted("counts", "ground", laid.cell),
            Wanted("cells", "water", laid.cell),
            Wanted("cells", "building", laid.cell),
        )

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding | Raster]:
        """Count the cells without ground over all tiles."""
        laid = cast("GroundPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = {
            path: each.counts[laid.wanted[0]]
            for path, each in sorted(summaries.items())
            if path not in faults and each.points
        }
        if judged and not any(each.counted for each in judged.values()):
            sentence = "No point is classified as ground (class 2)."
            yield self.not_assessed(WHOLE_DELIVERY, sentence, ("points of class 2",))
        elif judged:
            without = [
                join_cells(summaries[path].cells[wanted] for path in judged)
                for wanted in laid.wanted[1:]
            ]
            yield from self._judge(laid, judged, without)
        elif not faults:
            yield self.tell_nothing_read()

    def _judge(
        self, plan: GroundPlan, judged: Mapping[str, CountedCells], groundless: list[Cover]
    ) -> Iterable[Finding | Raster]:
        interior = Interior({p: each.blocks for p, each in judged.items()}, _RADIUS)
        if not interior:
            sentence = "The points cover no cell off the rim."
            yield self.inconclusive(WHOLE_DELIVERY, sentence)
            return
        sheet = Sheet(plan.cell, plan.lattice, interior.compute_extent())
        # How many cells hold so many points, by that number.
        held = np.zeros(1, dtype=np.int64)
        gaps: dict[BlockKey, NDArray[np.uint8]] = {}
        for key, inside, counts in interior:
            rows, columns = np.nonzero(inside)
            # Where there is water or a roof there is no ground to be had.
            for cover in groundless:
                open_air = ~cover.holds(columns + key[0] * BLOCK, rows + key[1] * BLOCK)
                rows, columns = rows[open_air], columns[open_air]
            here = counts[rows, columns]
            sheet.add(columns + key[0] * BLOCK, rows + key[1] * BLOCK, 100 * here)
            if not here.all():
                bare = np.zeros((BLOCK, BLOCK), dtype=np.bool_)
                bare[rows[here == 0], columns[here == 0]] = True
                gaps[key] = np.packbits(bare)
            more = np.bincount(here, minlength=len(held))
            more[: len(held)] += held
            held = more
        cells, without = int(held.sum()), int(held[0])
        if not cells:
            yield self.inconclusive(WHOLE_DELIVERY, "Every cell off the rim holds water or a roof.")
            return
        yield sheet.draw(
            "ground-density", "Density of ground points", step=0.01 / plan.area_m2, unit="per m²"
        )
        tenth = int(np.searchsorted(np.cumsum(held), cells // 10, side="right")) / plan.area_m2
        in_gaps = Fraction(count_wide(CoverBits(gaps), _find_radius(plan.criteria)), cells)
        yield self._tell(plan, (Fraction(without, cells), in_gaps), cells, tenth)

    def _tell(
        self, plan: GroundPlan, shares: tuple[Fraction, Fraction], cells: int, tenth: float
    ) -> Finding:
        asked, (share, in_gaps) = plan.criteria, shares
        sentence = (
            f"{floor_percent(share)} % of {count_things(cells, 'cell')} of {asked.cell_m:g} m hold "
            f"no ground point; nine of ten hold at least {tenth:.2f} per m²"
        )
        if in_gaps:
            width = (2 * _find_radius(asked) + 1) * asked.cell_m
            sentence += f"; {floor_percent(in_gaps)} % lie in gaps of {width:g} m and more"
        parts: dict[str, Any] = {
            "observed": floor_percent(share),
            "required": f"{asked.max_share_without * 100:g}",
            "unit": "% of cells",
            "criterion_source": name_sources(plan, "max_share_without"),
        }
        too_wide = in_gaps > exact(asked.max_share_in_gaps)
        if too_wide and share <= exact(asked.max_share_without):
            parts |= {
                "observed": floor_percent(in_gaps),
                "required": f"{asked.max_share_in_gaps * 100:g}",
                "unit": "% of cells in gaps",
                "criterion_source": name_sources(plan, "gap_m", "max_share_in_gaps"),
            }
        elif share <= exact(asked.max_share_without):
            return self.conforms(WHOLE_DELIVERY, f"{sentence}.", **parts)
        return self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"{sentence}; heights there are interpolated.",
            remedy="Tell the client where, with the map of ground points, or fly wooded parts "
            "again with leaves off or a second pass.",
            **parts,
        )


def _find_radius(asked: GroundCriteria) -> int:
    """Return cells beside the middle one of the square that has to fit into a gap."""
    cells = exact(asked.gap_m) / exact(asked.cell_m)
    return min(MAX_RADIUS, max(0, math.ceil((cells - 1) / 2)))
