"""Does the slope of the residuals go with a prediction, and do they scatter as they should?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lidar_checks.ground.causes.candidate import Candidate
from lidar_checks.ground.causes.comparison import POWER, Comparison, find_carried_sigma
from lidar_checks.ground.causes.fits import TILTS, Fit, fit
from lidar_checks.ground.causes.observed import Floats, Observed
from lidar_checks.ground.causes.quantile import NORMAL_LIMIT, find_squared_limit

# The scatter that a prediction leaves is at most so many times the least in variance, by number of
# points; few points differ more (common practice, no source).
_LARGEST_RATIOS = ((20, 2.0), (10, 3.0), (5, 9.0))
_NO_SPREAD_M = 0.02
# A slope that speaks against a prediction is twice what chance makes, squared (common practice, no
# source): many predictions are looked at, and a right one must not fail by chance.
_SURELY = 2.0


def weigh_surfaces(
    observed: Observed, none: Comparison, found: Sequence[Comparison]
) -> list[Comparison]:
    """Return comparisons that say whether slope and scatter speak against them.

    Args:
        observed: the points.
        none: residuals without any prediction.
        found: residuals less each prediction.
    """
    least = min((each.rest.s for each in (none, *found)), default=0.0)
    ratio = _find_ratio(observed.count)
    raw = _fit_tilts(observed, none.rest_dz)
    weighed = []
    for each in found:
        # Slopes that are not known well make a move in plan scatter in height.
        allowed = ratio * (least**2 + _find_noise(observed, each.candidate))
        spreads = each.rest.s > _NO_SPREAD_M and each.rest.s**2 > allowed
        contradicts = _contradicts(observed, raw, none.rest_dz - each.rest_dz, each.rest_dz)
        weighed.append(replace(each, spreads=spreads, slope_contradicts=contradicts))
    return weighed


def _find_noise(observed: Observed, candidate: Candidate | None) -> float:
    """Return the variance of heights that a move in plan brings in by slopes not known well."""
    if candidate is None:
        return 0.0
    far = float(np.hypot(candidate.shift[:, 0], candidate.shift[:, 1]).max())
    carried = find_carried_sigma(observed, candidate.shift)
    return (observed.gradient_sigma * far) ** 2 + carried**2


def _find_ratio(count: int) -> float:
    return next((ratio for fewest, ratio in _LARGEST_RATIOS if count >= fewest), float("inf"))


def _fit_tilts(observed: Observed, dz: Floats) -> Fit | None:
    return fit(observed, dz, np.full((observed.count, 2), np.nan), TILTS)


def _contradicts(observed: Observed, raw: Fit | None, lift: Floats, rest: Floats) -> bool:
    """Say whether a slope is left that the prediction should have taken away, or has brought in."""
    left = _fit_tilts(observed, rest)
    if raw is None or left is None or not _is_tilted(left, _SURELY):
        return False
    if not _is_tilted(raw):
        return True
    predicted = _fit_tilts(observed, lift)
    if predicted is None:
        return False
    slope = np.array([predicted.parameters[name].value for name in TILTS])
    places = [list(left.parameters).index(name) for name in TILTS]
    covariance = left.covariance[np.ix_(places, places)]
    size = float(slope @ np.linalg.solve(covariance, slope))
    return size > POWER**2 * _find_limit(left)


def _is_tilted(found: Fit, times: float = 1.0) -> bool:
    return found.find_square(TILTS, (0.0, 0.0), np.zeros(2)) > times * _find_limit(found)


def _find_limit(found: Fit) -> float:
    limit = found.parameters[TILTS[0]].limit / NORMAL_LIMIT
    return find_squared_limit(len(TILTS)) * limit**2
