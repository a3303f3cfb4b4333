"""Patterns that are predicted, against what the fit finds."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.candidate import Pattern
from lidar_checks.ground.causes.comparison import POWER, Component
from lidar_checks.ground.causes.fits import BEND, TILTS, Fit, fit
from lidar_checks.ground.causes.observed import Floats, Observed
from lidar_checks.ground.causes.quantile import NORMAL_LIMIT, find_squared_limit


@dataclass(frozen=True, eq=False)
class PatternMatch:
    """One predicted pattern against the fit.

    Args:
        pattern: the prediction.
        components: one a parameter, in the unit of the pattern.
        distance: 1 at the gate.
        size: the prediction in gates.
        is_there: what was found is more than chance.
    """

    pattern: Pattern
    components: tuple[Component, ...]
    distance: float
    size: float
    is_there: bool

    @property
    def has_power(self) -> bool:
        """Say whether the site could show it."""
        return self.size >= POWER

    @property
    def is_inside(self) -> bool:
        """Say whether what is found is what was predicted."""
        return self.is_there and self.distance <= 1

    def rivals(self, other: PatternMatch) -> bool:
        """Say whether both explain one parameter, so that they cannot both be named."""
        return bool(self.pattern.values.keys() & other.pattern.values.keys())


def match_patterns(
    observed: Observed, dz: Floats, plan: Floats, patterns: Sequence[Pattern]
) -> tuple[PatternMatch, ...]:
    """Return every pattern whose parameters the points determine.

    Args:
        observed: the points.
        dz: height residuals, metres, (n,).
        plan: plan residuals, (n, 2); NaN where not measured.
        patterns: predictions.
    """
    matches = []
    for pattern in patterns:
        names = tuple(pattern.values)
        found = fit(observed, dz, plan, (*TILTS, BEND) if BEND in names else names)
        if found is not None and all(name in found.parameters for name in names):
            matches.append(_match(pattern, found))
    return tuple(sorted(matches, key=lambda match: match.distance))


def _match(pattern: Pattern, found: Fit) -> PatternMatch:
    names = tuple(pattern.values)
    parameters = [found.parameters[name] for name in names]
    known = np.array([pattern.sigmas[name] ** 2 for name in names])
    widened = (parameters[0].limit / NORMAL_LIMIT) ** 2
    limit = find_squared_limit(len(names)) * widened
    values = tuple(pattern.values[name] for name in names)
    nothing = (0.0,) * len(names)
    size = sum(
        value**2 / (parameter.sigma**2 + sigma)
        for value, parameter, sigma in zip(values, parameters, known, strict=True)
    )
    return PatternMatch(
        pattern=pattern,
        components=tuple(
            Component(
                parameter.name,
                parameter.value / pattern.per_unit,
                value / pattern.per_unit,
                (parameter.value - value) / pattern.per_unit,
                parameter.limit * math.sqrt(parameter.sigma**2 + sigma) / pattern.per_unit,
            )
            for value, parameter, sigma in zip(values, parameters, known, strict=True)
        ),
        distance=math.sqrt(found.find_square(names, values, known) / limit),
        size=math.sqrt(size / limit),
        is_there=found.find_square(names, nothing, np.zeros(len(names))) > limit,
    )
