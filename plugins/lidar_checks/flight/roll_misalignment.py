"""The scanner sits as its calibration says: opposite swaths do not tilt against each other.

A roll that is off by a small angle lifts one side of every swath and lowers the other: a point at
`a` metres to the right of the path lies `a tan(angle)` too high. Two swaths flown in opposite
directions then differ by a slope across their overlap, and one flown in the same direction by a
step, which a receiver may make as well. So only slopes are used: of every pair of swaths its mean
step is taken off first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.flight.beside_family import Beside, find_beside, find_views
from lidar_checks.flight.flight_check import PRACTICE
from lidar_checks.header.file_check import name_source, require_criteria
from lidar_checks.swath.joined_rows import Rows, join_rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import SwathCheck, find_smooth, get_family
from lidar_checks.swath.swath_family import CELL_M

Floats = NDArray[np.float64]

_NEXT = 3
_SLOPE_DEG, _ROUGH_M = 10.0, 0.08
# Cells of one patch lie side by side and share their errors: 16 of them count as one.
_CELLS_OF_ONE = 16
_LOOK_S = 1.0


class RollMisalignmentCriteria(Criteria):
    """How large an angle may be."""

    tell_deg: float = Field(default=0.02, gt=0, description=PRACTICE)
    max_deg: float = Field(default=0.05, gt=0, description=PRACTICE)
    fewest_cells: int = Field(default=500, ge=50, description=PRACTICE)


class RollMisalignment(SwathCheck):
    """Fits one angle to the slopes between overlapping swaths."""

    id = "roll-misalignment"
    title = "Opposite swaths do not tilt against each other"
    catalogue = ("MB-05",)
    criteria = RollMisalignmentCriteria

    def judge(
        self, plan: Plan, summaries: Mapping[str, PassSummary], evidence: Evidence
    ) -> Iterable[Finding]:
        """Fit all pairs together."""
        beside = find_beside(evidence, with_heights=False)
        if beside is None:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No trajectory with known times and places stands behind the points.",
                needs=("trajectory",),
            )
            return
        rows = join_rows(summaries, get_family(plan), CELL_M)
        if rows is not None:
            rows = rows.take(find_smooth(rows, _SLOPE_DEG, _ROUGH_M))
        fewest = require_criteria(plan, RollMisalignmentCriteria).fewest_cells
        fit = None if rows is None else _fit(rows, plan, beside, evidence)
        if fit is None or fit[2] < fewest:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"Fewer than {fewest} smooth cells of {CELL_M:g} m were seen by two swaths "
                f"that {beside.names} has as flown in opposite directions.",
            )
            return
        yield self._tell(plan, beside, fit)

    def _tell(self, plan: Plan, beside: Beside, fit: tuple[float, float, int]) -> Finding:
        criteria = require_criteria(plan, RollMisalignmentCriteria)
        slope, sigma, cells = fit
        angle, sure = math.degrees(math.atan(slope)), 3 * math.degrees(sigma)
        told = (
            f"Opposite swaths tilt against each other by {2 * abs(slope):.5f} m a metre in "
            f"{count_things(cells, 'smooth cell')}, as a roll that is off by {angle:+.3f}° ± "
            f"{sure:.3f}° would make them ({beside.names})"
        )
        field = "max_deg" if abs(angle) > criteria.max_deg else "tell_deg"
        limit = getattr(criteria, field)
        parts: dict[str, Any] = {
            "observed": f"{abs(angle):.3f}",
            "required": f"{limit:g}",
            "unit": "deg",
            "criterion_source": name_source(plan, field),
        }
        if abs(angle) > criteria.tell_deg and abs(angle) > sure:
            return self.nonconforming(
                Grade.MINOR if field == "max_deg" else Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{told} (limit {limit:g}°).",
                remedy="Have the scanner calibrated on its bracket again, and process again with "
                "the new angles",
                **parts,
            )
        if sure > criteria.max_deg:
            return self.inconclusive(
                WHOLE_DELIVERY, f"{told}: too rough or too little ground to tell.", **parts
            )
        return self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)


def _fit(
    rows: Rows, plan: Plan, beside: Beside, evidence: Evidence
) -> tuple[float, float, int] | None:
    """Return slope (tangent of the angle), its standard deviation, and cells; None for too few."""
    across = _find_offsets(rows, plan, beside, evidence)
    source = rows["source"].astype(np.int64)
    height = rows["height_m"].astype(np.float64)
    firsts, seconds = [], []
    for ahead in range(1, _NEXT + 1):
        found = np.flatnonzero(rows.is_same_cell(ahead) & rows.is_other_pass(ahead))
        firsts.append(found)
        seconds.append(found + ahead)
    a, b = np.concatenate(firsts), np.concatenate(seconds)
    apart, step = across[b] - across[a], height[b] - height[a]
    known = np.isfinite(apart)
    names = ((source[a] << 16) | source[b])[known]
    apart, step = apart[known], step[known]
    for name in np.unique(names).tolist():
        chosen = names == name
        apart[chosen] -= np.median(apart[chosen])
        step[chosen] -= np.median(step[chosen])
    # Swaths of one direction lie a like distance apart everywhere and say nothing.
    telling = np.abs(apart) > CELL_M
    if not telling.any():
        return None
    return _fit_slope(apart[telling], step[telling])


def _fit_slope(x: Floats, y: Floats) -> tuple[float, float, int]:
    """Return the slope of a line through nothing, its deviation and count; outliers left out."""
    kept = np.ones(len(x), dtype=bool)
    slope = 0.0
    for _ in range(3):
        slope = float((x[kept] * y[kept]).sum() / (x[kept] ** 2).sum())
        rest = y - slope * x
        spread = 1.4826 * float(np.median(np.abs(rest[kept])))
        kept = np.abs(rest) <= max(4 * spread, 1e-6)
    power = float((x[kept] ** 2).sum())
    scatter = float(np.sqrt((rest[kept] ** 2).mean()))
    return slope, scatter * math.sqrt(_CELLS_OF_ONE / power), int(kept.sum())


def _find_offsets(rows: Rows, plan: Plan, beside: Beside, evidence: Evidence) -> Floats:
    """Return how far right of the path each row lies, metres; NaN where the path is not known."""
    family, index = get_family(plan), beside.index
    views = find_views(evidence, float(index.time_s[0]))
    add = np.array([views[path].add_s if path in views else np.nan for path in rows.paths])
    times = (rows["first"].astype(np.float64) + rows["last"].astype(np.float64)) / 2
    times = times + add[rows["file"].astype(np.int64)]
    cells = -(-rows.side // rows.cell)
    inside = rows["cell"].astype(np.int64)
    x = rows["column"].astype(np.int64) * rows.side + inside % cells * rows.cell + rows.cell / 2
    y = rows["row"].astype(np.int64) * rows.side + inside // cells * rows.cell + rows.cell / 2
    place = (x + 1j * y) * family.xy_m
    path = index.east_m + 1j * index.north_m
    known = np.isfinite(times) & (times > index.time_s[0]) & (times < index.time_s[-1])
    safe = np.where(known, times, index.time_s[0])
    at, before, after = (
        np.interp(safe + shift, index.time_s, path) for shift in (0.0, -_LOOK_S, _LOOK_S)
    )
    course = after - before
    size = np.abs(course)
    line = index.on_line[np.clip(np.searchsorted(index.time_s, safe), 0, len(path) - 1)]
    ok = known & line & (size > 0)
    turned = (place - at) * np.conj(np.where(size > 0, course, 1.0))
    return np.where(ok, -turned.imag / np.where(size > 0, size, 1.0), np.nan)
