"""What turns with the aircraft, against the residuals.

Each mistake has a shape s: how far it moves each point, for one metre, second or radian. The
residuals are fitted as k·s beside what other mistakes may leave, which are constants, tilts, and
turn and stretch in plan. On slopes a move in plan shows in the height by -g·s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.candidate import Turning
from lidar_checks.ground.causes.comparison import POWER
from lidar_checks.ground.causes.observed import Floats, Observed
from lidar_checks.ground.causes.quantile import (
    NORMAL_LIMIT,
    find_squared_limit,
    find_student_limit,
)

FEWEST_FOR_TURNING = 8
"""Points that a heading may show at, beside all else that is fitted (common practice, no
source)."""

# A slope near a point stands for no move in plan that is longer (common practice, no source).
_SLOPE_REACHES_M = 3.0
_FLOOR_M = 1e-4
# Six numbers are fitted to every job, and one of them is above chance too often (common practice,
# no source).
_SURELY = 1.33
_LEAST_SHARE = 1e-3
_ROUNDS = 2


@dataclass(frozen=True, eq=False)
class TurningMatch:
    """One prediction that turns with the aircraft against the residuals; metres, seconds, radians.

    Args:
        turning: the prediction.
        value: what the residuals say.
        gate: how far that may be off.
        square: sum of squares that is left with it, in variances of the best of all.
        is_worse: another one leaves less than chance makes.
    """

    turning: Turning
    value: float
    gate: float
    square: float
    is_worse: bool = False

    @property
    def has_power(self) -> bool:
        """Say whether the points tell it from nothing: two gates, as predicted or as found."""
        return abs(self.used) >= POWER * self.gate

    @property
    def is_inside(self) -> bool:
        """Say whether the residuals are what it makes: the number is there, or that predicted."""
        predicted = self.turning.value
        if self.is_worse:
            return False
        if predicted is not None:
            return abs(self.value - predicted) <= self.gate and abs(self.value) > self.chance
        return _SURELY * self.chance < abs(self.value) <= self.turning.largest

    @property
    def used(self) -> float:
        """Return the number that counts: as predicted, or as found where nothing predicts it."""
        return self.value if self.turning.value is None else self.turning.value

    @property
    def reaches_far(self) -> bool:
        """Say whether slopes near the points say nothing of where it moves them from."""
        return _find_reach(self.turning, self.used) > _SLOPE_REACHES_M

    def subtract(self, observed: Observed) -> Observed:
        """Return the residuals without it, of the points that are known to be flown over."""
        known = np.asarray(np.isfinite(self.turning.shape).all(axis=1), dtype=np.bool_)
        shape = np.where(known[:, None], self.used * self.turning.shape, 0.0)
        lift = shape[:, 2] - (np.nan_to_num(observed.gradient) * shape[:, :2]).sum(axis=1)
        return replace(
            observed,
            dz=observed.dz - lift,
            dx=observed.dx - shape[:, 0],
            dy=observed.dy - shape[:, 1],
        )

    @property
    def chance(self) -> float:
        """Return how large the number may be by chance."""
        known = NORMAL_LIMIT * self.turning.sigma
        return math.sqrt(max(self.gate**2 - known**2, 0.0))


def match_turning(
    observed: Observed, dz: Floats, plan: Floats, turning: Sequence[Turning]
) -> tuple[TurningMatch, ...]:
    """Return every prediction that the points say something of, the best first.

    Args:
        observed: the points.
        dz: height residuals, metres, (n,).
        plan: plan residuals, (n, 2); NaN where not measured.
        turning: predictions.
    """
    known = [np.asarray(np.isfinite(each.shape).all(axis=1), dtype=np.bool_) for each in turning]
    usable = [(each, mask) for each, mask in zip(turning, known, strict=True) if mask.any()]
    if not usable:
        return ()
    # All are judged on the same points, or their sums of squares say nothing.
    mask = np.asarray(np.logical_and.reduce([one for _, one in usable]), dtype=np.bool_)
    if np.count_nonzero(mask) < FEWEST_FOR_TURNING:
        return ()
    table = _Table(observed.take(mask), dz[mask], plan[mask])
    shapes = [each.take(mask) for each, _ in usable]
    found = [match for each in shapes if (match := table.fit(each)) is not None]
    for _ in range(_ROUNDS - 1):
        best = min(found, key=lambda each: each.square, default=None)
        if best is None:
            return ()
        table.weigh(best)
        found = [match for each in shapes if (match := table.fit(each)) is not None]
    return _compare(found, table)


def _compare(found: list[TurningMatch], table: _Table) -> tuple[TurningMatch, ...]:
    """Return matches that say which of them leave more than the best does beyond chance."""
    if not found:
        return ()
    freedom = max(1, table.freedom - 1)
    unit = min(each.square for each in found) / freedom
    limit = find_squared_limit(1) * (find_student_limit(freedom) / NORMAL_LIMIT) ** 2
    least = min(each.square for each in found)
    weighed = [
        replace(each, square=each.square / unit, is_worse=each.square - least > limit * unit)
        for each in found
    ]
    return tuple(sorted(weighed, key=lambda each: each.square))


def list_turned(turning: Sequence[TurningMatch]) -> tuple[TurningMatch, ...]:
    """Return the predictions that fit; an arm that a record predicts stands for a fitted one."""
    inside = [each for each in turning if each.is_inside]
    has_arm = any(each.turning.id.startswith("arm-") and _is_predicted(each) for each in inside)
    return tuple(
        each
        for each in inside
        if not (has_arm and each.turning.id.startswith("arm-") and not _is_predicted(each))
    )


def _is_predicted(match: TurningMatch) -> bool:
    return match.turning.value is not None


def _find_reach(turning: Turning, value: float) -> float:
    """Return how far it moves a point in plan at most, metres."""
    return float(np.nanmax(np.hypot(*turning.shape[:, :2].T))) * abs(value)


class _Table:
    """The residuals as rows of one fit, plan before heights, and what may stand in them anyway."""

    def __init__(self, observed: Observed, dz: Floats, plan: Floats) -> None:
        self.observed = observed
        self.has_plan = bool(np.isfinite(plan).all())
        self.gradient = np.nan_to_num(observed.gradient)
        count = observed.count
        self.values = np.concatenate([plan.T.reshape(-1), dz]) if self.has_plan else dz
        self.nuisance = self._list_nuisance()
        self.sigma = np.ones(len(self.values))
        self.parts = [slice(0, 2 * count), slice(2 * count, 3 * count)]
        if not self.has_plan:
            self.parts = [slice(0, count)]

    @property
    def freedom(self) -> int:
        """Return how many rows are left after all that may stand there anyway."""
        return len(self.values) - int(np.linalg.matrix_rank(self.nuisance / self.sigma[:, None]))

    def _list_nuisance(self) -> Floats:
        x, y = self.observed.plan.T
        one, zero = np.ones(self.observed.count), np.zeros(self.observed.count)
        rows = [
            np.column_stack([one, zero, zero]),
            np.column_stack([zero, one, zero]),
            np.column_stack([zero, zero, one]),
            np.column_stack([zero, zero, x]),
            np.column_stack([zero, zero, y]),
        ]
        if self.has_plan:
            rows += [np.column_stack([-y, x, zero]), np.column_stack([x, y, zero])]
        columns = np.column_stack([self._show(shape) for shape in rows])
        sizes = np.sqrt((columns**2).sum(axis=0))
        return np.asarray(columns[:, sizes > 0] / sizes[sizes > 0])

    def _show(self, shape: Floats) -> Floats:
        """Return what a move of each point leaves in the rows."""
        height = shape[:, 2] - (self.gradient * shape[:, :2]).sum(axis=1)
        if not self.has_plan:
            return np.asarray(height)
        return np.asarray(np.concatenate([shape[:, 0], shape[:, 1], height]))

    def fit(self, turning: Turning) -> TurningMatch | None:
        """Return how much of a shape the residuals hold; None where nothing tells it apart."""
        weights = 1 / self.sigma
        if turning.value is not None and _find_reach(turning, turning.value) > _SLOPE_REACHES_M:
            if not self.has_plan:
                return None
            weights = weights.copy()
            weights[self.parts[-1]] = 0.0
        column, values = self._show(turning.shape) * weights, self.values * weights
        basis, kept, _ = np.linalg.svd(self.nuisance * weights[:, None], full_matrices=False)
        basis = basis[:, kept > 1e-8 * kept.max()]
        alone, rest = (v - basis @ (basis.T @ v) for v in (column, values))
        power = float(alone @ alone)
        freedom = int(np.count_nonzero(weights)) - basis.shape[1] - 1
        if freedom < 1 or power <= _LEAST_SHARE * float(column @ column):
            return None
        value = float(alone @ rest) / power
        left = rest - value * alone
        variance = max(float(left @ left) / freedom, _FLOOR_M**2)
        limit = find_student_limit(freedom)
        gate = math.hypot(limit * math.sqrt(variance / power), NORMAL_LIMIT * turning.sigma)
        found = TurningMatch(turning, value, gate, 0.0)
        off = rest - found.used * alone
        return replace(found, square=float(off @ off))

    def weigh(self, best: TurningMatch) -> None:
        """Take the scatter of plan and of heights from what the best of all leaves."""
        values = self.values - best.used * self._show(best.turning.shape)
        fitted, *_ = np.linalg.lstsq(self.nuisance, values, rcond=None)
        left = values - self.nuisance @ fitted
        for part in self.parts:
            self.sigma[part] = max(float(left[part].std()), _FLOOR_M)
