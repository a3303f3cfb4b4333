"""Slopes between swaths of opposite directions, which a roll makes and a receiver does not."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import Evidence, Plan
from ledger.dataclass import dataclass
from lidar_checks.flight.beside_family import Beside, find_views
from lidar_checks.swath.joined_rows import Rows, join_rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import find_smooth, get_family
from lidar_checks.swath.swath_family import CELL_M

Floats = NDArray[np.float64]

_NEXT = 3
_SLOPE_DEG, _ROUGH_M = 10.0, 0.08
# Cells of one patch lie side by side and share their errors: 16 of them count as one.
_CELLS_OF_ONE = 16
_LOOK_S = 1.0


@dataclass(frozen=True, eq=False)
class Slopes:
    """Cells that two swaths of opposite directions saw; each array (n,).

    Args:
        apart_m: how much further right of its path the cell lies in the second swath, less the
            median of the pair.
        step_m: height of the second less that of the first, less the median of the pair.
        pair: number of the pair, from its point source ids.
        time_s: of the first swath there, GPS seconds.
    """

    apart_m: Floats
    step_m: Floats
    pair: NDArray[np.int64]
    time_s: Floats


@dataclass(frozen=True)
class SlopeFit:
    """A roll as slopes show it.

    Args:
        slope: tangent of the angle.
        sigma: its standard deviation.
        cells: that it stands on.
    """

    slope: float
    sigma: float
    cells: int

    @property
    def angle_deg(self) -> float:
        """Return the angle."""
        return math.degrees(math.atan(self.slope))

    @property
    def sure_deg(self) -> float:
        """Return three standard deviations of the angle."""
        return 3 * math.degrees(self.sigma)


def find_surfaces(summaries: Mapping[str, PassSummary], plan: Plan) -> Rows | None:
    """Return the smooth cells of all swaths; None where there are none."""
    rows = join_rows(summaries, get_family(plan), CELL_M)
    return None if rows is None else rows.take(find_smooth(rows, _SLOPE_DEG, _ROUGH_M))


def find_slopes(rows: Rows, plan: Plan, beside: Beside, evidence: Evidence) -> Slopes | None:
    """Return what swaths of opposite directions show of a roll; None where none are."""
    across, times = _find_offsets(rows, plan, beside, evidence)
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
    apart, step, when = apart[known], step[known], times[a][known]
    for name in np.unique(names).tolist():
        chosen = names == name
        apart[chosen] -= np.median(apart[chosen])
        step[chosen] -= np.median(step[chosen])
    # Swaths of one direction lie a like distance apart everywhere and say nothing.
    telling = np.abs(apart) > CELL_M
    if not telling.any():
        return None
    return Slopes(apart[telling], step[telling], names[telling], when[telling])


def fit_slope(x: Floats, y: Floats) -> SlopeFit:
    """Return the slope of a line through nothing, with outliers left out.

    Args:
        x: metres, (n,), not empty.
        y: metres, (n,).
    """
    kept = np.ones(len(x), dtype=bool)
    slope = 0.0
    for _ in range(3):
        slope = float((x[kept] * y[kept]).sum() / (x[kept] ** 2).sum())
        rest = y - slope * x
        spread = 1.4826 * float(np.median(np.abs(rest[kept])))
        kept = np.abs(rest) <= max(4 * spread, 1e-6)
    power = float((x[kept] ** 2).sum())
    scatter = float(np.sqrt((rest[kept] ** 2).mean()))
    return SlopeFit(slope, scatter * math.sqrt(_CELLS_OF_ONE / power), int(kept.sum()))


def _find_offsets(
    rows: Rows, plan: Plan, beside: Beside, evidence: Evidence
) -> tuple[Floats, Floats]:
    """Return how far right of the path each row lies, metres, and when; NaN where not known."""
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
    return np.where(ok, -turned.imag / np.where(size > 0, size, 1.0), np.nan), times
