"""Spatial distribution: the points of one swath lie evenly, and not in clumps.

The USGS Lidar Base Specification 2025 rev. A ("Collection Requirements") counts first returns of
one file source in cells of twice the ANPS, and asks for at least one in 90 % of them; voids that
are allowed are taken out first. Here gaps wider than four cells are, as the check of voids
judges them. In tiles a swath goes by its point source id.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.block_grid import BLOCK
from lidar_checks.cloud.cell_cover import PackedCells, join_cells
from lidar_checks.cloud.cover_family import (
    CoverCheck,
    CoverPlan,
    compute_steps,
    exact,
    floor_percent,
)
from lidar_checks.cloud.cover_tally import CoverSummary, Wanted
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale
from lidar_checks.cloud.footprint import CoverBits, compute_interior

_RADIUS = 2
_FEW = 100


class DistributionCriteria(Criteria):
    """In what cells, and how many of them may be empty."""

    cell_m: float = Field(
        gt=0.01,
        le=100,
        description="only the customer can say; USGS Lidar Base Specification 2025 rev. A, "
        "Collection Requirements: 2 · ANPS",
    )
    min_share_of_cells: float = Field(
        default=0.9,
        gt=0,
        le=1,
        description="USGS Lidar Base Specification 2025 rev. A, Collection Requirements",
    )


class DistributionPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        cell: side of a cell, lattice steps.
    """

    criteria: DistributionCriteria
    cell: int


@dataclass(frozen=True)
class Swath:
    """One point source.

    Args:
        source: its id.
        cells: cells inside its footprint.
        filled: those that hold a point.
        centre: column and row of the middle of its emptiest block.
    """

    source: int
    cells: int
    filled: int
    centre: tuple[int, int]

    @property
    def share(self) -> Fraction:
        """Return the share of cells that hold a point."""
        return Fraction(self.filled, self.cells)


class SpatialDistribution(CoverCheck):
    """Nearly every cell of a swath holds a point."""

    id = "spatial-distribution"
    title = "The first returns of each swath lie evenly"
    catalogue = ("DN-01",)
    criteria = DistributionCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for the cells that hold a first return, by point source."""
        laid = cast("DistributionPlan", plan)
        laid.cell = compute_steps(laid.criteria.cell_m, scale, plan.lattice)
        laid.wanted = (Wanted("sources", "first-returns", laid.cell),)

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Judge each swath over all tiles."""
        laid = cast("DistributionPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = [s for p, s in sorted(summaries.items()) if p not in faults and s.points]
        if judged:
            yield self._judge(laid, judged)
        elif not faults:
            yield self.tell_nothing_read()

    def _judge(self, plan: DistributionPlan, judged: Iterable[CoverSummary]) -> Finding:
        parts = [each.sources[plan.wanted[0]] for each in judged]
        if any(each.crowded for each in parts):
            return self.inconclusive(
                WHOLE_DELIVERY,
                "There are more point source ids than swaths can be, so none is one.",
            )
        sources: defaultdict[int, list[PackedCells]] = defaultdict(list)
        for each in parts:
            for source, cells in each.cells.items():
                sources[source].append(cells)
        swaths = [_measure(source, cells) for source, cells in sorted(sources.items())]
        swaths = [swath for swath in swaths if swath.cells >= _FEW]
        if not swaths:
            extent = f"{count_things(_FEW, 'cell')} of {plan.criteria.cell_m:g} m"
            sentence = f"No swath covers {extent} off its rim."
            return self.inconclusive(WHOLE_DELIVERY, sentence)
        return self._tell(plan, swaths, untold=set(sources) == {0})

    def _tell(self, plan: DistributionPlan, swaths: list[Swath], *, untold: bool) -> Finding:
        asked = plan.criteria
        worst = min(swaths, key=lambda swath: (swath.share, swath.source))
        name = "all swaths together" if untold else f"point source {worst.source}"
        parts: dict[str, Any] = {
            "observed": floor_percent(worst.share),
            "required": f"{asked.min_share_of_cells * 100:g}",
            "unit": "% of cells",
            "criterion_source": name_sources(plan, "cell_m", "min_share_of_cells"),
        }
        sentence = (
            f"{floor_percent(worst.share)} % of {count_things(worst.cells, 'cell')} of "
            f"{asked.cell_m:g} m in {name} hold a first return"
        )
        if len(swaths) > 1:
            sentence += f", the least of {count_things(len(swaths), 'swath')}"
        if worst.share < exact(asked.min_share_of_cells):
            x, y = ((float(along) * plan.cell / plan.lattice.steps_xy) for along in worst.centre)
            return self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"{sentence}.",
                remedy="Fly this swath again slower or lower, or let somebody accept it with a "
                "reason: the specification lets strong relief pass.",
                where=Where(xy=(x, y), cell=f"{x:.1f} {y:.1f}"),
                **parts,
            )
        if untold:
            told = f"{sentence}; every point source id is 0, so no swath can be judged alone."
            return self.inconclusive(WHOLE_DELIVERY, told, **parts)
        return self.conforms(WHOLE_DELIVERY, f"{sentence}.", **parts)


def unpack_blocks(cells: Iterable[PackedCells]) -> CoverBits:
    """Return the cells of several files by block."""
    cover = join_cells(cells)
    keys = ((across, up) for across, up in cover.keys.tolist())
    return CoverBits({key: cover.bits[row] for key, row in zip(keys, cover.rows, strict=True)})


def _measure(source: int, cells: Iterable[PackedCells]) -> Swath:
    blocks = unpack_blocks(cells)
    total = filled = 0
    worst, place = -1, (0, 0)
    for key, inside in compute_interior(blocks, _RADIUS):
        held = int(np.count_nonzero(inside & blocks[key]))
        here = int(np.count_nonzero(inside))
        total, filled = total + here, filled + held
        if here - held > worst:
            worst = here - held
            place = (key[0] * BLOCK + BLOCK // 2, key[1] * BLOCK + BLOCK // 2)
    return Swath(source, total, filled, place)
