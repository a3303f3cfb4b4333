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
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Raster, Where
from ledger.contract.evidence import Evidence
from ledger.contract.rasters import Sheet
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.cell_set import SIDE, Cover, Int64Array, join_cells
from lidar_checks.cloud.cover_family import CoverCheck, CoverPlan, exact
from lidar_checks.cloud.cover_tally import Counted, Wanted
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import Scale
from lidar_checks.cloud.void_runs import RIM, SQUARE, Runs, find_holes

_CELLS_A_SIDE = 8
# The share of the cells beside a hole that hold water where it is water.
_WATER_SHARE = 0.5
_TOLD = 3


class VoidCriteria(Criteria):
    """How large a hole may be, and what counts as a point in it."""

    area_min_m2: float = Field(
        gt=0,
        description="only the customer can say; USGS Lidar Base Specification 2025 rev. A, "
        "Collection Requirements: (4 · ANPS)²",
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
        cell: side of a cell, lattice steps.
        least: cells of the smallest void.
        area_m2: area of a cell.
    """

    criteria: VoidCriteria
    cell: int
    least: int
    area_m2: float


@dataclass(frozen=True)
class Void:
    """One hole that is large enough.

    Args:
        cells: cells that it takes whole.
        centre: column and row of the middle of its longest run nearest to its middle row.
        is_water: most cells round it hold water.
    """

    cells: int
    centre: tuple[int, int]
    is_water: bool


class Voids(CoverCheck):
    """No hole larger than agreed."""

    id = "voids"
    title = "No hole in the cloud, but over water"
    catalogue = ("DN-03",)
    revision = 2
    criteria = VoidCriteria

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Ask for the cells that hold a point, and those that hold water."""
        laid = cast("VoidPlan", plan)
        # The area is whole lattice steps squared, so that the limit is met to the last digit.
        steps = exact(laid.criteria.area_min_m2) * (plan.lattice.steps_xy / scale.metres) ** 2
        laid.cell = max(1, math.isqrt(math.floor(steps)) // _CELLS_A_SIDE)
        laid.least = math.ceil(steps / laid.cell**2)
        laid.area_m2 = float((laid.cell * scale.metres / plan.lattice.steps_xy) ** 2)
        laid.wanted = (
            Wanted("closed", laid.criteria.counted, laid.cell),
            Wanted("cells", "water", laid.cell),
        )

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        """Look for holes in all files together."""
        laid = cast("VoidPlan", plan)
        faults = dict(self.list_faults(laid, summaries))
        yield from faults.values()
        judged = [s for p, s in sorted(summaries.items()) if p not in faults and s.points]
        if not judged:
            if not faults:
                yield self.tell_nothing_read()
            return
        counted, water = (join_cells(s.cells[w] for s in judged) for w in laid.wanted)
        holes = find_holes(counted, SQUARE)
        found = measure_voids(holes, laid.least, counted, water)
        left_out = len(evidence.point_files) - len(summaries) + len(faults)
        yield self._judge(laid, found, left_out)
        drawn = _draw(laid, holes, found, counted)
        if drawn is not None:
            yield drawn

    def _judge(self, plan: VoidPlan, found: list[Void], left_out: int) -> Finding:
        limit = plan.criteria.area_min_m2
        open_voids = [void for void in found if not void.is_water]
        wet = len(found) - len(open_voids)
        parts: dict[str, Any] = {
            "required": f"below {limit:g}",
            "unit": "m²",
            "criterion_source": name_sources(plan, "area_min_m2", "counted"),
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
        parts["where"] = Where(xy=(x, y), cell=f"{x:.1f} {y:.1f}")
        if left_out:
            verb = agree(left_out, "was", "were")
            why = f" {count_things(left_out, 'file')} {verb} not counted, and may fill them."
            return self.inconclusive(WHOLE_DELIVERY, sentence + why, **parts)
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            remedy="Fly the holes again, or let somebody accept them with a reason: a dark roof, "
            "asphalt, or the shadow of a building.",
            **parts,
        )


def measure_voids(holes: Runs, least: int, counted: Cover, water: Cover) -> list[Void]:
    """Return the holes of at least so many cells, largest first."""
    labels, inverse = np.unique(holes.label, return_inverse=True)
    length = holes.stop - holes.start
    sizes = np.zeros(len(labels), dtype=np.int64)
    np.add.at(sizes, inverse, length)
    order = np.argsort(inverse, kind="stable")
    begins = np.searchsorted(inverse[order], np.arange(len(labels) + 1))
    voids = []
    for number in np.flatnonzero(sizes >= least).tolist():
        chosen = order[begins[number] : begins[number + 1]]
        row, start, stop = holes.row[chosen], holes.start[chosen], holes.stop[chosen]
        off = np.abs(2 * row - int(row.min()) - int(row.max()))
        best = int(np.lexsort((start, row, start - stop, off))[0])
        centre = (int(start[best] + stop[best]) // 2, int(row[best]))
        wet = _is_water(row, start, stop, counted, water)
        voids.append(Void(int(sizes[number]), centre, wet))
    return sorted(voids, key=lambda void: (-void.cells, void.centre))


def _is_water(
    row: Int64Array, start: Int64Array, stop: Int64Array, counted: Cover, water: Cover
) -> bool:
    """Say whether most cells with points left and right of a hole hold water."""
    if not len(water.keys):
        return False
    reach = np.arange(1, RIM + 1)
    columns = np.concatenate(
        [(start[:, None] - reach).reshape(-1), (stop[:, None] + reach - 1).reshape(-1)]
    )
    rows = np.tile(np.repeat(row, RIM), 2)
    wet = water.holds(columns, rows)
    held = counted.holds(columns, rows) | wet
    return int(np.count_nonzero(wet)) >= _WATER_SHARE * max(1, int(np.count_nonzero(held)))


def _locate(plan: VoidPlan, void: Void) -> tuple[float, float]:
    """Return a place inside a hole, file units."""
    x, y = ((along + Fraction(1, 2)) * plan.cell / plan.lattice.steps_xy for along in void.centre)
    return float(x), float(y)


def _draw(plan: VoidPlan, holes: Runs, found: list[Void], counted: Cover) -> Raster | None:
    """Return a map of the share of each cell that is a hole, at the scale of the delivery."""
    if not len(counted.keys):
        return None
    left, bottom = (counted.keys.min(axis=0) * SIDE).tolist()
    right, top = ((counted.keys.max(axis=0) + 1) * SIDE - 1).tolist()
    sheet = Sheet(plan.cell, plan.lattice, (left, bottom, right, top))
    # What is covered counts with the cells of its block, a hole with its own.
    middle = counted.keys * SIDE + SIDE // 2
    cells = counted.count_each()
    sheet.add(middle[:, 0], middle[:, 1], np.zeros(len(cells), dtype=np.int64), cells)
    if found:
        _add_holes(sheet, holes, plan.least)
    return sheet.draw("voids", "Share of the area that is a hole", step=0.01, unit="%")


def _add_holes(sheet: Sheet, holes: Runs, least: int) -> None:
    length = holes.stop - holes.start
    labels, inverse = np.unique(holes.label, return_inverse=True)
    sizes = np.zeros(len(labels), dtype=np.int64)
    np.add.at(sizes, inverse, length)
    large = sizes[inverse] >= least
    row, start, stop = holes.row[large], holes.start[large], holes.stop[large]
    # Cut at every 64 cells, so that a long run is not drawn in one place.
    pieces = (stop - 1) // SIDE - start // SIDE + 1
    first = np.repeat(start // SIDE, pieces)
    number = np.arange(int(pieces.sum())) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    low = np.maximum((first + number) * SIDE, np.repeat(start, pieces))
    high = np.minimum((first + number + 1) * SIDE, np.repeat(stop, pieces))
    full = np.full(len(low), 10_000, dtype=np.int64)
    sheet.add((low + high) // 2, np.repeat(row, pieces), full, high - low)
