"""Density spread: a mean that a few dense places make hides how thin the rest is.

A drone that hovers over its take-off, and lines that overlap, lift the mean and leave the thin
places thin. The median of the cells and the density of a swath by itself show it. The USGS Lidar
Base Specification (2025 rev. A, glossary) judges pulse density on single swaths, too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.cell_cover import join_cells
from lidar_checks.cloud.cover_family import CoverCheck, CoverPlan, compute_steps, exact
from lidar_checks.cloud.cover_tally import CoverSummary, Wanted
from lidar_checks.cloud.coverage import Interior
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale

_RADIUS = 2
_FEW = 100


class SpreadCriteria(Criteria):
    """How far the median may lie below the mean."""

    cell_m: float = Field(default=1.0, ge=0.1, le=100, description="common practice, no source")
    min_median_to_mean: float = Field(
        default=0.6, gt=0, le=1, description="common practice, no source"
    )


class SpreadPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        area_m2: area of a cell.
    """

    criteria: SpreadCriteria
    area_m2: float


class DensitySpread(CoverCheck):
    """The mean density is that of most places."""

    id = "density-spread"
    title = "The mean density is not made by a few dense places"
    catalogue = ("DN-02",)
    criteria = SpreadCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for first returns by cell, and for the cells of each swath."""
        laid = cast("SpreadPlan", plan)
        cell = compute_steps(laid.criteria.cell_m, scale, plan.lattice)
        laid.area_m2 = float((cell * scale.metres / plan.lattice.steps_xy) ** 2)
        laid.wanted = (
            Wanted("counts", "first-returns", cell),
            Wanted("sources", "first-returns", cell),
        )

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Compare the median of all cells with their mean."""
        laid = cast("SpreadPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = {p: s for p, s in sorted(summaries.items()) if p not in faults and s.points}
        if judged:
            yield self._judge(laid, judged)
        elif not faults:
            yield self.tell_nothing_read()

    def _judge(self, plan: SpreadPlan, judged: Mapping[str, CoverSummary]) -> Finding:
        files = {path: each.counts[plan.wanted[0]].blocks for path, each in judged.items()}
        # How many cells hold so many points, by that number.
        counts = np.zeros(1, dtype=np.int64)
        for _, inside, held in Interior(files, _RADIUS):
            more = np.bincount(held[inside], minlength=len(counts))
            more[: len(counts)] += counts
            counts = more
        cells = int(counts.sum())
        if cells < _FEW:
            sentence = f"The points cover fewer than {count_things(_FEW, 'cell')} off the rim."
            return self.inconclusive(WHOLE_DELIVERY, sentence)
        total = int((counts * np.arange(len(counts))).sum())
        median = int(np.searchsorted(np.cumsum(counts), (cells + 1) // 2))
        share = Fraction(median * cells, max(1, total))
        single = self._measure_swaths(plan, judged.values())
        sentence = (
            f"Half of {count_things(cells, 'cell')} hold no more than "
            f"{median / plan.area_m2:.2f} first returns per m², the mean is "
            f"{total / cells / plan.area_m2:.2f}{single}."
        )
        parts: dict[str, Any] = {
            "observed": f"{float(share):.3f}",
            "required": f"{plan.criteria.min_median_to_mean:g}",
            "unit": "of the mean",
            "criterion_source": name_sources(plan, "min_median_to_mean"),
        }
        if share >= exact(plan.criteria.min_median_to_mean):
            return self.conforms(WHOLE_DELIVERY, sentence, **parts)
        return self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            sentence,
            remedy="Judge the density by the share of cells that meet it, and leave out what was "
            "recorded while the drone hovered.",
            **parts,
        )

    def _measure_swaths(self, plan: SpreadPlan, judged: Iterable[CoverSummary]) -> str:
        """Return a clause on the density of swaths by themselves; empty where none is known."""
        parts = [each.sources[plan.wanted[1]] for each in judged]
        sources = {source for each in parts for source in each.counted}
        if len(sources) < 2 or any(each.crowded for each in parts):
            return ""
        counted = sum(sum(each.counted.values()) for each in parts)
        cells = sum(
            join_cells(each.cells[s] for each in parts if s in each.cells).count() for s in sources
        )
        single = counted / cells / plan.area_m2
        return f", and a swath alone has {single:.2f} in the cells that it reaches"
