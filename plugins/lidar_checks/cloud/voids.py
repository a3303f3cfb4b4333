"""Voids: no hole in the cloud that is larger than was agreed.

Holes are looked for in all tiles together, in cells an eighth of the side of the smallest void. A
hole is as large as the cells that it takes whole, so that its area is a lower bound. One that
reaches the rim of the delivery is none; whether the site is covered is judged by its boundary.

The USGS Lidar Base Specification 2025 rev. A ("Collection Requirements") measures a void with first
returns, from (4 · ANPS)², and lets one pass that water causes, low reflectivity or the shadow of a
building. Of these a cloud shows water alone: class 9 round the hole.
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
from ledger.contract.rasters import MAX_SIDE, Sheet
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.cell_cover import SIDE, Bands
from lidar_checks.cloud.cover_family import CoverCheck, CoverPlan, exact
from lidar_checks.cloud.cover_tally import Counted, Wanted
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale
from lidar_checks.cloud.void_holes import Hole, walk_holes
from lidar_checks.cloud.void_runs import SQUARE

_CELLS_A_SIDE = 8
_TOLD = 3
# A cell of the map that is all hole, in hundredths of a percent.
_WHOLE = 10_000
_AREA = "specification.criteria.voids.area_min_m2"
_BLANK = "criteria.voids.area_min_m2: it is blank, and so is the density that is asked for"
_DERIVED = (
    "nobody said how large a hole may be; USGS Lidar Base Specification 2025 rev. A, Collection "
    "Requirements: (4 · ANPS)², from criteria.point-density"
)


class VoidCriteria(Criteria):
    """How large a hole may be, and what counts as a point in it."""

    area_min_m2: float | None = Field(
        default=None,
        gt=0,
        description="only the customer can say; where blank, USGS Lidar Base Specification 2025 "
        "rev. A, Collection Requirements: (4 · ANPS)², from the density that is asked for",
    )
    counted: Counted = Field(
        default="first-returns",
        description="USGS Lidar Base Specification 2025 rev. A, Collection Requirements: measured "
        "with first returns",
    )


class VoidPlan(CoverPlan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        limit_m2: area of the smallest void; None where nothing says how large a hole may be.
        derived: nobody stated that area: it follows from the density that is asked for.
        cell: side of a cell, lattice steps.
        least: cells of the smallest void.
        area_m2: area of a cell.
    """

    criteria: VoidCriteria
    limit_m2: float | None
    derived: bool
    cell: int
    least: int
    area_m2: float


class Voids(CoverCheck):
    """No hole larger than agreed."""

    id = "voids"
    title = "No hole in the cloud, but over water"
    catalogue = ("DN-03",)
    revision = 4
    criteria = VoidCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Settle how large the smallest void is, and find the unit of each file."""
        stated = cast("VoidCriteria", criteria).area_min_m2
        limit = stated if stated is not None else _derive_area(evidence)
        plan = cast("VoidPlan", super().prepare(evidence, criteria))
        plan.limit_m2, plan.derived = limit, stated is None
        if plan.common is not None and limit is not None:
            self._lay_cells(plan, plan.common, limit)
        return plan

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for nothing yet: the size of the cells follows from the smallest void."""

    def _lay_cells(self, laid: VoidPlan, scale: Scale, area_m2: float) -> None:
        """Ask for the cells that hold a point, and those that hold water."""
        # The area is whole lattice steps squared, so that the limit is met to the last digit.
        steps = exact(area_m2) * (laid.lattice.steps_xy / scale.metres) ** 2
        laid.cell = max(1, math.isqrt(math.floor(steps)) // _CELLS_A_SIDE)
        laid.least = math.ceil(steps / laid.cell**2)
        laid.area_m2 = float((laid.cell * scale.metres / laid.lattice.steps_xy) ** 2)
        laid.wanted = (
            Wanted("closed", laid.criteria.counted, laid.cell),
            Wanted("cells", "water", laid.cell),
        )

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        """Look for holes in all files together."""
        laid = cast("VoidPlan", plan)
        if laid.limit_m2 is None:
            yield self.not_assessed(WHOLE_DELIVERY, f"Missing: {_BLANK}.", (_AREA,))
            return
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = [s for p, s in sorted(summaries.items()) if p not in faults and s.points]
        if not judged:
            if not faults:
                yield self.tell_nothing_read()
            return
        counted, water = (Bands(s.cells[w] for s in judged) for w in laid.wanted)
        found, drawn = find_voids(laid, counted, water)
        left_out = len(evidence.point_files) - len(summaries) + len(faults)
        yield self._judge(laid, laid.limit_m2, found, left_out, evidence)
        if drawn is not None:
            yield drawn

    def _judge(
        self, plan: VoidPlan, limit: float, found: list[Hole], left_out: int, evidence: Evidence
    ) -> Finding:
        open_voids = [void for void in found if not void.is_water]
        wet = len(found) - len(open_voids)
        parts: dict[str, Any] = {
            "required": f"below {limit:g}",
            "unit": "m²",
            "criterion_source": _DERIVED
            if plan.derived
            else name_sources(plan, "area_min_m2", "counted"),
        }
        over = f"; {count_things(wet, 'more')} over water" if wet else ""
        kind = plan.criteria.counted.replace("-", " ")
        if not open_voids:
            sentence = f"No hole of {limit:g} m² or more without {kind}{over}."
            return self.conforms(WHOLE_DELIVERY, sentence, observed="0", **parts)
        largest = open_voids[0]
        parts["observed"] = f"{largest.cells * plan.area_m2:.2f}"
        places = [_locate(plan, void) for void in open_voids[:_TOLD]]
        told = ", ".join(
            f"{void.cells * plan.area_m2:.1f} m² at {x:.1f} {y:.1f}"
            for void, (x, y) in zip(open_voids, places, strict=False)
        )
        more = len(open_voids) - len(places)
        sentence = (
            f"{count_things(len(open_voids), 'hole')} of {limit:g} m² or more without {kind}: "
            f"{told}{f' and {more:,} more' if more else ''}{over}."
        )
        x, y = places[0]
        parts["where"] = Where(_find_file(evidence, x, y), xy=(x, y), cell=f"{x:.1f} {y:.1f}")
        if left_out:
            verb = agree(left_out, "was", "were")
            why = f" {count_things(left_out, 'file')} {verb} not counted, and may fill them."
            return self.inconclusive(WHOLE_DELIVERY, sentence + why, **parts)
        return self.nonconforming(
            Grade.OBSERVATION if plan.derived else Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            remedy="Look whether a tile or a line is missing; class water round a hole as 9; fly "
            "the holes again, or let somebody accept them with a reason: a dark roof, asphalt, or "
            "the shadow of a building.",
            **parts,
        )


def _derive_area(evidence: Evidence) -> float | None:
    """Return (4 · ANPS)² in m² for the density that `job.toml` asks for; None where it is blank.

    ANPS is the side of the square that one point has (USGS Lidar Base Specification 2025 rev. A,
    glossary).
    """
    asked = evidence.specification.criteria.get("point-density")
    density = asked.get("min_pts_per_m2") if isinstance(asked, Mapping) else None
    if isinstance(density, bool) or not isinstance(density, int | float) or not density > 0:
        return None
    return 16.0 / density


def find_voids(plan: VoidPlan, counted: Bands, water: Bands) -> tuple[list[Hole], Raster | None]:
    """Return the holes that are large enough, largest first, and a map of them.

    The map shows the share of each cell that is a hole, at the scale of the delivery; there is none
    without points.
    """
    if not counted.rows:
        return [], None
    left, right = counted.span
    low, high = counted.rows[0] * SIDE, (counted.rows[-1] + 1) * SIDE
    side = _choose_square(max(right - left, high - low))
    extent = (left // side, low // side, right // side - 1, high // side - 1)
    sheet = Sheet(plan.cell * side, plan.lattice, extent)
    holes: list[Hole] = []
    for band in walk_holes(counted, water, SQUARE, plan.least, side * sheet.joined):
        column, row, cells = band.counted.count_squares(side)
        held = cells > 0
        sheet.add(column[held], row[held], np.zeros_like(cells[held]), cells[held])
        column, row, cells = band.squares
        sheet.add(column * sheet.joined, row * sheet.joined, np.full_like(cells, _WHOLE), cells)
        holes += band.holes
    holes.sort(key=lambda hole: (-hole.cells, hole.centre))
    title = "Share of the area that is a hole"
    return holes, sheet.draw("voids", title, step=100 / _WHOLE, unit="%")


def _choose_square(width: int) -> int:
    """Return the cells along a side of a square of the map, of a delivery so many cells wide.

    It is the side of the smallest void where the map can hold that, and a block at most: squares of
    a large delivery are whole blocks, joined further.
    """
    side = _CELLS_A_SIDE
    while side < SIDE and width > side * (MAX_SIDE - 1):
        side *= 2
    return side


def _locate(plan: VoidPlan, void: Hole) -> tuple[float, float]:
    """Return a place inside a hole, file units."""
    x, y = ((along + Fraction(1, 2)) * plan.cell / plan.lattice.steps_xy for along in void.centre)
    return float(x), float(y)


def _find_file(evidence: Evidence, x: float, y: float) -> str:
    """Return the one file whose stated box holds a place; empty for none or several."""
    paths = [
        file.path
        for file in evidence.point_files
        if file.header is not None
        and all(
            least <= along <= most
            for along, least, most in zip(
                (x, y), file.header.minimum[:2], file.header.maximum[:2], strict=True
            )
        )
    ]
    return paths[0] if len(paths) == 1 else ""
