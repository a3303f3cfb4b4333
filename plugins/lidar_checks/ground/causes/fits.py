"""How residuals change over the site: tilts, turn and stretch in plan, stretch of heights, bend.

A cloud that is turned by the small angle r (counter-clockwise) and stretched by 1 + k about the
middle of the points moves a point at (x, y) by (k·x - r·y, k·y + r·x). On a slope (gE, gN) such a
move shows in the height by -g·d. Tilts add tE·x + tN·y to the height, a wrong unit m·(H - H0), a
flat frame b·(x² + y²).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.observed import Floats, Observed
from lidar_checks.ground.causes.quantile import find_student_limit

FEWEST_FOR_PATTERNS = 5

SHIFTS = ("dE", "dN", "dz")
TILTS = ("tilt_east", "tilt_north")
TURN = ("rotation", "scale")
HEIGHT_SCALE = "height_scale"
BEND = "bend"


@dataclass(frozen=True)
class Parameter:
    """One fitted number.

    Args:
        name: `tilt_east`, `scale` …; metres a metre, radians, or 1/m for `bend`.
        value: fitted.
        sigma: its standard deviation.
        limit: by how many of them it may be off by chance.
    """

    name: str
    value: float
    sigma: float
    limit: float

    @property
    def is_kept(self) -> bool:
        """Say whether it is more than chance."""
        return abs(self.value) > self.limit * self.sigma


@dataclass(frozen=True, eq=False)
class Fit:
    """A fit of several parameters.

    Args:
        parameters: those that the points determine, by name.
        covariance: of them, in the same order.
        rest_dz: height residuals without what was fitted, (n,).
    """

    parameters: dict[str, Parameter]
    covariance: Floats
    rest_dz: Floats

    def find_square(self, names: Iterable[str], less: Iterable[float], known: Floats) -> float:
        """Return the squared standardised difference of some parameters from values.

        Args:
            names: of the parameters.
            less: the values.
            known: variances of the values.
        """
        listed = list(self.parameters)
        places = [listed.index(name) for name in names]
        off = np.array([self.parameters[name].value for name in names]) - np.array(list(less))
        block = self.covariance[np.ix_(places, places)] + np.diag(known)
        return float(off @ np.linalg.solve(block, off))


def fit(observed: Observed, dz: Floats, plan: Floats, names: tuple[str, ...]) -> Fit | None:
    """Return a least-squares fit of the named parameters and the shifts.

    Args:
        observed: the points.
        dz: height residuals to fit, metres, (n,).
        plan: plan residuals, (n, 2); NaN where there are none: then slopes have to tell.
        names: what is wanted beside the shifts; turn and stretch are fitted only to targets.

    Returns:
        None with fewer than five points, or too few for so many parameters.
    """
    if observed.count < FEWEST_FOR_PATTERNS:
        return None
    flat = [name for name in names if name not in TURN]
    on_heights = _fit_part(("dz", *flat), _height_columns(observed, flat), dz)
    if on_heights is None:
        return None
    turning = [name for name in names if name in TURN]
    if not turning or not np.isfinite(plan).all():
        return on_heights
    on_plan = _fit_part(
        ("dE", "dN", *turning), _plan_columns(observed, turning), plan.T.reshape(-1)
    )
    return on_heights if on_plan is None else _join(on_plan, on_heights)


def _height_columns(observed: Observed, names: list[str]) -> Floats:
    x, y = observed.plan.T
    made = {
        "tilt_east": x,
        "tilt_north": y,
        HEIGHT_SCALE: observed.height - observed.height.mean(),
        BEND: x**2 + y**2,
    }
    return np.column_stack([np.ones(observed.count), *(made[name] for name in names)])


def _plan_columns(observed: Observed, names: list[str]) -> Floats:
    x, y = observed.plan.T
    one, zero = np.ones(observed.count), np.zeros(observed.count)
    made = {"rotation": np.concatenate([-y, x]), "scale": np.concatenate([x, y])}
    east, north = np.concatenate([one, zero]), np.concatenate([zero, one])
    return np.column_stack([east, north, *(made[name] for name in names)])


def _fit_part(names: tuple[str, ...], columns: Floats, values: Floats) -> Fit | None:
    freedom = len(values) - len(names)
    sizes = np.sqrt((columns**2).sum(axis=0))
    if freedom < 1 or not (sizes > 0).all():
        return None
    even = columns / sizes
    if np.linalg.cond(even) > 1e4:
        return None
    found, *_ = np.linalg.lstsq(even, values, rcond=None)
    left = values - even @ found
    variance = float(left @ left) / freedom
    covariance = np.linalg.inv(even.T @ even) * variance / np.outer(sizes, sizes)
    limit = find_student_limit(freedom)
    parameters = {
        name: Parameter(name, float(value), float(sigma), limit)
        for name, value, sigma in zip(
            names, found / sizes, np.sqrt(np.diag(covariance)), strict=True
        )
    }
    return Fit(parameters, covariance, left)


def _join(plan: Fit, heights: Fit) -> Fit:
    size = len(plan.parameters)
    total = size + len(heights.parameters)
    covariance = np.zeros((total, total))
    covariance[:size, :size] = plan.covariance
    covariance[size:, size:] = heights.covariance
    return Fit({**plan.parameters, **heights.parameters}, covariance, heights.rest_dz)
