"""Boundary coverage: the site holds points up to its boundary.

All tiles are judged together, in the cells whose centre lies within the boundary. A line that was
missed at the rim shows here and nowhere else: `voids` sees only what points enclose.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Raster, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.rasters import Sheet
from ledger.crs import compare
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.georeferencing import CrsKind
from ledger.model.phrases import count_things, tell_carried
from lidar_checks.cloud.boundary_cells import Rows, fill_rows
from lidar_checks.cloud.boundary_gaps import find_gaps
from lidar_checks.cloud.cell_cover import join_cells
from lidar_checks.cloud.cell_runs import Runs, cut_runs
from lidar_checks.cloud.cover_family import (
    CoverCheck,
    CoverPlan,
    compute_steps,
    exact,
    floor_percent,
)
from lidar_checks.cloud.cover_tally import CoverSummary, Wanted
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import PLAN_KEYS, Scale
from lidar_checks.cloud.void_holes import Hole, measure_runs

_KEYS = ("delivery.boundary", "delivery.boundary_crs", "coordinates.horizontal")
_AS_LARGE = 2


class BoundaryCriteria(Criteria):
    """How much of the site has to hold points."""

    min_share: float = Field(
        default=0.995, gt=0, le=1, description="common practice, no source: share of the cells"
    )
    cell_m: float = Field(default=2.0, ge=0.1, le=100, description="common practice, no source")
    buffer_m: float = Field(
        default=0.0,
        ge=0,
        le=1000,
        description="common practice, no source: 0, the boundary itself; how far round it points "
        "have to reach",
    )
    water_is_gap: bool = Field(
        default=False,
        description="common practice, no source: a gap with water (class 9) round it is none",
    )
    by_design_m2: float = Field(
        default=0.0,
        ge=0,
        description="common practice, no source: 0; area agreed to be left without points",
    )


class BoundaryPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        cell: side of a cell, lattice steps.
        reach: cells round the boundary that have to hold points too.
        area_m2: area of a cell.
    """

    criteria: BoundaryCriteria
    cell: int
    reach: int
    area_m2: float


@dataclass(frozen=True)
class _Cover:
    """What of the area holds points.

    Args:
        cells: cells within the boundary.
        gaps: largest first.
        missing: cells that count as missing.
        wet: cells of gaps over water, which do not.
        told: of the missing cells those of the gap that `voids` tells of as a hole.
    """

    cells: int
    gaps: list[Hole]
    missing: int
    wet: int
    told: int


class BoundaryCoverage(CoverCheck):
    """Points up to the boundary."""

    id = "boundary-coverage"
    title = "The whole site within its boundary holds points"
    catalogue = ("DN-04",)
    revision = 3
    needs = ("points", "boundary")
    after = ("voids",)
    specification_keys = (*PLAN_KEYS, *_KEYS)
    criteria = BoundaryCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for the cells that hold a point, and those that hold water."""
        laid = cast("BoundaryPlan", plan)
        laid.cell = compute_steps(laid.criteria.cell_m, scale, plan.lattice)
        laid.reach = math.ceil(exact(laid.criteria.buffer_m) / exact(laid.criteria.cell_m))
        laid.area_m2 = float((laid.cell * scale.metres / plan.lattice.steps_xy) ** 2)
        laid.wanted = (Wanted("cells", "all", laid.cell), Wanted("cells", "water", laid.cell))

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        """Compare the cells of all files together with the boundary."""
        laid = cast("BoundaryPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        faults |= dict(self._list_elsewhere(evidence, set(summaries) - set(faults)))
        yield from faults.values()
        judged = [s for p, s in sorted(summaries.items()) if p not in faults]
        if any(each.points for each in judged):
            left_out = len(evidence.point_files) - len(judged)
            yield from self._judge(laid, judged, evidence, left_out)
        elif not faults:
            yield self.tell_nothing_read()

    def _list_elsewhere(self, evidence: Evidence, paths: set[str]) -> Iterator[tuple[str, Finding]]:
        """Yield the files in another system than the boundary was placed in."""
        for file in evidence.point_files:
            if file.path in paths and _is_elsewhere(file, evidence):
                sentence = (
                    f"{file.path} states another coordinate system than the job asks for, so it "
                    "was not compared with the boundary."
                )
                yield (
                    file.path,
                    self.not_assessed(
                        file.path,
                        sentence,
                        ("points in the specified system",),
                        where=Where(file=file.path),
                    ),
                )

    def _judge(
        self, plan: BoundaryPlan, judged: list[CoverSummary], evidence: Evidence, left_out: int
    ) -> Iterable[Finding | Raster]:
        boundary = evidence.boundary
        side = plan.cell / plan.lattice.steps_xy
        inside = fill_rows(boundary.polygons, side, plan.reach) if boundary is not None else None
        asked = plan.criteria
        if inside is None:
            told = f"The boundary is too large for cells of {asked.cell_m:g} m."
            yield self.inconclusive(WHOLE_DELIVERY, told, remedy="Set a larger cell_m.")
            return
        if not len(inside.row):
            yield self._tell_narrow(asked)
            return
        counted, water = (join_cells(each.cells[w] for each in judged) for w in plan.wanted)
        runs, core = find_gaps(inside, counted)
        if not core:
            yield self._tell_narrow(asked)
            return
        gaps = measure_runs(runs, counted, water)
        wet = 0 if asked.water_is_gap else sum(gap.cells for gap in gaps if gap.is_water)
        design = math.floor(exact(asked.by_design_m2) / exact(plan.area_m2))
        missing = max(0, sum(gap.cells for gap in gaps) - wet - design)
        shown = [gap for gap in gaps if asked.water_is_gap or not gap.is_water]
        elsewhere = _count_told(plan, runs, evidence)
        found = _Cover(inside.count(), shown, missing, wet, elsewhere)
        yield self._tell(plan, found, evidence, left_out)
        yield _draw(plan, inside, runs)

    def _tell_narrow(self, asked: BoundaryCriteria) -> Finding:
        told = f"The boundary is too narrow for cells of {asked.cell_m:g} m: none lies off its rim."
        return self.inconclusive(WHOLE_DELIVERY, told, remedy="Set a smaller cell_m.")

    def _tell(
        self, plan: BoundaryPlan, found: _Cover, evidence: Evidence, left_out: int
    ) -> Finding:
        asked = plan.criteria
        share = Fraction(found.cells - found.missing, found.cells)
        round_it = f" and {asked.buffer_m:g} m round it" if asked.buffer_m else ""
        over = f"; {found.wet * plan.area_m2:,.0f} m² over water not counted" if found.wet else ""
        sentence = (
            f"{floor_percent(share)} % of the area within the boundary{round_it} hold points{over}"
        )
        parts: dict[str, Any] = {
            "observed": floor_percent(share),
            "required": f"{asked.min_share * 100:g}",
            "unit": "% of the area",
            "criterion_source": _name_sources(plan, evidence),
        }
        if share >= exact(asked.min_share):
            carried = [key for key in _KEYS if not evidence.specification.is_confirmed(key)]
            if carried:
                told, remedy = tell_carried(carried)
                told = f"{sentence}. {told}"
                return self.inconclusive(WHOLE_DELIVERY, told, remedy=remedy, **parts)
            return self.conforms(WHOLE_DELIVERY, f"{sentence}.", **parts)
        largest = found.gaps[0]
        x, y = _locate(plan, largest)
        parts["where"] = Where(xy=(x, y), cell=f"{x:.1f} {y:.1f}")
        several = ", the largest" if len(found.gaps) > 1 else ""
        sentence = (
            f"{sentence}, {asked.min_share * 100:g} % are asked for; "
            f"{count_things(len(found.gaps), 'gap')}{several} of "
            f"{largest.cells * plan.area_m2:,.0f} m² at {x:.1f} {y:.1f}."
        )
        if left_out:
            told = f" {count_things(left_out, 'file')} not compared may fill them."
            return self.inconclusive(WHOLE_DELIVERY, sentence + told, **parts)
        if found.told and found.missing - found.told <= found.cells * (1 - exact(asked.min_share)):
            return self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{sentence} Without the hole that voids tells of, enough of it holds points.",
                remedy="Settle the hole, as voids says.",
                **parts,
            )
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            remedy="Look whether a tile or a line is missing; class water round a gap as 9; fly "
            "the gap again, or let somebody accept it with a reason.",
            **parts,
        )


def _count_told(plan: BoundaryPlan, runs: Runs, evidence: Evidence) -> int:
    """Return the cells of the gap in which the largest hole lies that `voids` speaks against.

    A hole that somebody has to mend or accept there has not to be accepted here as well.
    """
    against = [each for each in evidence.results.get("voids", ()) if each.grade is Grade.MINOR]
    if not against or against[0].where.xy is None:
        return 0
    column, row = (
        math.floor(exact(along) * plan.lattice.steps_xy / plan.cell)
        for along in against[0].where.xy
    )
    holds = (runs.row == row) & (runs.start <= column) & (column < runs.stop)
    if not holds.any():
        return 0
    same = runs.label == runs.label[np.argmax(holds)]
    cells = int((runs.stop - runs.start)[same].sum())
    # A gap that is much larger than the hole is more than that hole.
    return cells if cells * plan.area_m2 <= _AS_LARGE * float(against[0].observed) else 0


def _name_sources(plan: BoundaryPlan, evidence: Evidence) -> str:
    delivery = evidence.specification.delivery
    system = f" in {delivery.boundary_crs}" if delivery.boundary_crs else ""
    named = f"boundary: {delivery.boundary}{system}" if delivery.boundary else ""
    return "; ".join(filter(None, (name_sources(plan, "min_share", "buffer_m"), named)))


def _is_elsewhere(file: DeliveredFile, evidence: Evidence) -> bool:
    stated = file.crs.governing.crs if file.crs is not None else None
    asked = evidence.specified_crs
    if stated is None or asked is None or stated.kind is CrsKind.NONE:
        return False
    return bool(compare(replace(asked, vertical=None), replace(stated, vertical=None)))


def _locate(plan: BoundaryPlan, gap: Hole) -> tuple[float, float]:
    """Return a place inside a gap, file units."""
    x, y = ((along + Fraction(1, 2)) * plan.cell / plan.lattice.steps_xy for along in gap.centre)
    return float(x), float(y)


def _draw(plan: BoundaryPlan, inside: Rows, gaps: Runs) -> Raster:
    """Return a map of the share of each cell that is a gap."""
    extent = (
        int(inside.start.min()),
        int(inside.row[0]),
        int(inside.stop.max()) - 1,
        int(inside.row[-1]),
    )
    sheet = Sheet(plan.cell, plan.lattice, extent)
    _, row, column, cells = cut_runs(inside.row, inside.start, inside.stop, sheet.joined)
    sheet.add(column, row, np.zeros_like(cells), cells)
    _, row, column, cells = cut_runs(gaps.row, gaps.start, gaps.stop, sheet.joined)
    sheet.add(column, row, np.full_like(cells, 10_000), cells)
    # Gaps lie within the site: they were counted there already.
    sheet.add(column, row, np.zeros_like(cells), -cells)
    title = "Share of the site without points"
    return sheet.draw("boundary-coverage", title, step=0.01, unit="%")
