"""Residuals against one prediction: what is left, and whether that is chance.

The gate of one number is 3·sqrt(s²/n + σ_pred² + σ_survey²); with fewer than ten points the three
of s²/n becomes Student's limit for as many. Several numbers, in plan and in height, are judged
together: the sum of their squared standardised differences stays below the quantile of the
chi-squared distribution that has the same probability (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.candidate import Candidate
from lidar_checks.ground.causes.observed import Floats, Observed, Statistics, measure
from lidar_checks.ground.causes.quantile import (
    NORMAL_LIMIT,
    find_squared_limit,
    find_student_limit,
)

POWER = 2.0
"""A prediction is told from nothing where it is at least so many gates (common practice, no
source)."""

SIGMA_LEAST_M = 0.007
"""No prediction counts as better known: what is off by less than three of them, 2 cm, is not looked
into at all (common practice, no source)."""

_FEWEST_ON_SLOPES = 8
_LARGEST_PLAN_SIGMA_M = 0.5
_SLOPES_TO_NOISE = 10.0
# What no survey of this kind is better than; keeps perfect numbers from a gate of nothing.
_FLOOR_M2 = 1e-8

AXES = ("dE", "dN", "dz")


@dataclass(frozen=True)
class Component:
    """One number of a comparison, metres.

    Args:
        axis: `dE`, `dN` or `dz`.
        observed: mean of the residuals, or what slopes of several aspects say of them.
        predicted: mean of the prediction.
        difference: what is left.
        gate: how far it may be off.
    """

    axis: str
    observed: float
    predicted: float
    difference: float
    gate: float


@dataclass(frozen=True, eq=False)
class Comparison:
    """What a prediction leaves of the residuals.

    Args:
        candidate: the prediction; None for none at all.
        components: plan first where it is observed, then height.
        distance: 1 at the gate of all components together.
        size: the prediction itself in such gates.
        rest: figures of what is left in height.
        rest_dz: height residuals that are left, (n,).
        rest_plan: plan residuals that are left, (n, 2).
        slope_contradicts: a slope that it should leave is not there.
        spreads: it makes the residuals scatter more than they need to; filled in where all
            candidates are looked at together.
    """

    candidate: Candidate | None
    components: tuple[Component, ...]
    distance: float
    size: float
    rest: Statistics
    rest_dz: Floats
    rest_plan: Floats
    slope_contradicts: bool = False
    spreads: bool = False

    @property
    def has_power(self) -> bool:
        """Say whether the site could tell this prediction from no mistake at all."""
        return self.size >= POWER

    @property
    def is_inside(self) -> bool:
        """Say whether the residuals are what was predicted."""
        return self.distance <= 1 and not self.slope_contradicts and not self.spreads

    @property
    def height(self) -> Component:
        """Return the component of the height."""
        return self.components[-1]

    @property
    def limit(self) -> float:
        """Return what the squared standardised differences may come to together."""
        return find_squared_limit(len(self.components))

    @property
    def plan_square(self) -> float:
        """Return what the plan has of the squared standardised differences; 0 where it has none."""
        height = NORMAL_LIMIT * self.height.difference / self.height.gate
        return max(0.0, self.distance**2 * self.limit - height**2)

    @property
    def joint(self) -> tuple[Component, ...]:
        """Return the components, each with the gate that it would have were the others zero."""
        factor = math.sqrt(self.limit) / NORMAL_LIMIT
        return tuple(replace(each, gate=factor * each.gate) for each in self.components)

    @property
    def decisive_height(self) -> Component:
        """Return the height with the gate that decides.

        Its own 3 sigma, which hold whatever the plan says; where it is beyond them and still
        inside by the joint gate, what the plan leaves of that one.
        """
        left = self.limit - self.plan_square
        if left <= 0:
            return self.height
        joint = replace(self.height, gate=self.height.gate * math.sqrt(left) / NORMAL_LIMIT)
        off = abs(self.height.difference)
        return joint if self.height.gate < off <= joint.gate else self.height


def compare(observed: Observed, candidate: Candidate | None) -> Comparison:
    """Return what is left of the residuals of at least two points."""
    shift = np.zeros((observed.count, 3)) if candidate is None else candidate.shift
    gradient = np.nan_to_num(observed.gradient)
    # A surface that is moved in plan rises by what it falls: h'(x) = h(x - d).
    lift = shift[:, 2] - (gradient * shift[:, :2]).sum(axis=1)
    rest = observed.dz - lift
    figures = measure(rest)
    sigmas = (0.0, 0.0)
    if candidate is not None:
        stated = (candidate.sigma_plan_m, candidate.sigma_height_m)
        sigmas = (max(SIGMA_LEAST_M, stated[0]), max(SIGMA_LEAST_M, stated[1]))
    tilt = float(np.hypot(*gradient.mean(axis=0)))
    carried = find_carried_sigma(observed, shift)
    spread = _widen(figures.s / math.sqrt(figures.count), figures.count - 1)
    survey = observed.sigma_survey_m or 0.0
    known = sigmas[1] ** 2 + (tilt * sigmas[0]) ** 2 + carried**2
    variance = spread**2 + known + survey**2 + _FLOOR_M2
    difference, predicted = figures.mean, float(lift.mean())
    height = Component(
        "dz", float(observed.dz.mean()), predicted, difference, NORMAL_LIMIT * math.sqrt(variance)
    )
    plan = _compare_plan(observed, shift, rest, sigmas[0])
    total, size = difference**2 / variance, predicted**2 / variance
    components: tuple[Component, ...] = (height,)
    if plan is not None:
        total += _measure_square(plan.rest, plan.covariance)
        size += _measure_square(plan.predicted, plan.covariance)
        components = (*plan.list_components(), height)
    limit = find_squared_limit(len(components))
    return Comparison(
        candidate=candidate,
        components=components,
        distance=math.sqrt(total / limit),
        size=math.sqrt(size / limit),
        rest=figures,
        rest_dz=rest,
        rest_plan=np.column_stack([observed.dx, observed.dy]) - shift[:, :2],
    )


def find_carried_sigma(observed: Observed, shift: Floats) -> float:
    """Return how far heights may be off where a slope is carried over a move in plan, metres.

    The slope is that of the ground near the point; a tenth of the rise is taken for what it changes
    along the way (common practice, no source).
    """
    steep = float(np.sqrt(np.mean(np.nan_to_num(observed.gradient) ** 2)))
    return 0.1 * steep * float(np.hypot(shift[:, 0], shift[:, 1]).max())


def observes_plan(observed: Observed) -> bool:
    """Say whether the residuals say anything of the plan, by targets or by slopes."""
    zero = np.zeros((observed.count, 3))
    return _compare_plan(observed, zero, observed.dz, 0.0) is not None


@dataclass(frozen=True, eq=False)
class _Plan:
    observed: Floats
    predicted: Floats
    rest: Floats
    covariance: Floats

    def list_components(self) -> tuple[Component, ...]:
        gates = NORMAL_LIMIT * np.sqrt(np.diag(self.covariance))
        return tuple(
            Component(axis, *map(float, numbers))
            for axis, *numbers in zip(
                AXES, self.observed, self.predicted, self.rest, gates, strict=False
            )
        )


def _compare_plan(observed: Observed, shift: Floats, rest: Floats, sigma: float) -> _Plan | None:
    predicted = shift[:, :2].mean(axis=0)
    known = sigma**2 + _FLOOR_M2
    if observed.has_targets:
        measured = np.column_stack([observed.dx, observed.dy])
        left = measured - shift[:, :2]
        count = observed.count
        spread = _widen(left.std(axis=0, ddof=1) / math.sqrt(count), count - 1)
        covariance = np.diag(spread**2 + known)
        return _Plan(measured.mean(axis=0), predicted, left.mean(axis=0), covariance)
    if not observed.has_slopes or observed.count < _FEWEST_ON_SLOPES:
        return None
    fitted = _fit_on_slopes(observed, rest)
    if fitted is None:
        return None
    left, covariance = fitted
    return _Plan(left + predicted, predicted, left, covariance + known * np.eye(2))


def _fit_on_slopes(observed: Observed, rest: Floats) -> tuple[Floats, Floats] | None:
    """Return how far the cloud lies off in plan, by heights on slopes, and the covariance of that.

    dz = c - g·d, with the rise g of the surface and the shift d. None where the slopes do not say
    it to half a metre.
    """
    aspects = observed.gradient - observed.gradient.mean(axis=0)
    normal = aspects.T @ aspects
    if np.linalg.matrix_rank(normal, tol=1e-9) < 2:
        return None
    # Slopes that are mere noise would make any shift look small.
    least = float(np.linalg.eigvalsh(normal).min()) / observed.count
    if least < _SLOPES_TO_NOISE * observed.gradient_sigma**2:
        return None
    inverse = np.linalg.inv(normal)
    freedom = observed.count - 3
    shift = -inverse @ aspects.T @ rest
    left = rest - rest.mean() + aspects @ shift
    covariance = inverse * float(_widen(left @ left / freedom, freedom, power=2))
    if math.sqrt(float(np.diag(covariance).max())) > _LARGEST_PLAN_SIGMA_M:
        return None
    return np.asarray(shift), np.asarray(covariance)


def _widen(value: Floats | float, freedom: int, power: int = 1) -> Floats:
    """Return a spread as it counts: few points say little of their own scatter."""
    factor = (find_student_limit(freedom) / NORMAL_LIMIT) ** power
    return np.asarray(value) * factor


def _measure_square(vector: Floats, covariance: Floats) -> float:
    return float(vector @ np.linalg.solve(covariance, vector))
