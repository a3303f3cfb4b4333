"""The residuals as arrays, and their plain statistics; robust ones first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.ground.error_statistics import compute_rmse, compute_robust_deviation
from lidar_checks.ground.passes import Pass
from lidar_checks.ground.residuals import Residual

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Few numbers scatter less, or more, than they should by chance (common practice, no source).
_OUTLIER_FACTOR = 5.0
_LEAST_SPREAD_M = 0.01
_FEWEST_FOR_OUTLIERS = 5
_FEWEST_FOR_TREND = 8
_ROUNDS = 25


@dataclass(frozen=True, eq=False)
class Observed:
    """The residuals of a set of points, cloud less point, metres in the job's horizontal system.

    Args:
        ids: names of the points.
        east: (n,).
        north: (n,).
        height: of the points as surveyed, (n,).
        dz: (n,), all finite.
        dx: to the east, (n,); NaN where the target was not measured in the cloud.
        dy: to the north, (n,).
        gradient: rise of the cloud's surface to the east and to the north, (n, 2); NaN where it is
            not known.
        sigma_survey_m: median of the stated standard deviations of the survey in height; None
            where none is stated.
        files: delivered files near each point.
        gradient_sigma: standard deviation of each component of the gradient, metres a metre.
        passes: when the scanner came by each point.
    """

    ids: tuple[str, ...]
    east: Floats
    north: Floats
    height: Floats
    dz: Floats
    dx: Floats
    dy: Floats
    gradient: Floats
    sigma_survey_m: float | None = None
    files: tuple[tuple[str, ...], ...] = ()
    gradient_sigma: float = 0.0
    passes: tuple[tuple[Pass, ...], ...] = ()

    @property
    def count(self) -> int:
        """Return how many points there are."""
        return len(self.ids)

    @property
    def has_targets(self) -> bool:
        """Say whether every point was measured in the cloud, so that plan residuals are known."""
        return bool(self.count and np.isfinite(self.dx).all() and np.isfinite(self.dy).all())

    @property
    def has_slopes(self) -> bool:
        """Say whether the slope of the cloud is known at every point."""
        return bool(self.count and np.isfinite(self.gradient).all())

    @property
    def plan(self) -> Floats:
        """Return places from the middle of the points, metres, (n, 2)."""
        places = np.column_stack([self.east, self.north])
        return np.asarray(places - places.mean(axis=0))

    def take(self, mask: Mask) -> Observed:
        """Return some of the points."""
        chosen = np.flatnonzero(mask)
        return Observed(
            ids=tuple(self.ids[i] for i in chosen),
            east=self.east[mask],
            north=self.north[mask],
            height=self.height[mask],
            dz=self.dz[mask],
            dx=self.dx[mask],
            dy=self.dy[mask],
            gradient=self.gradient[mask],
            sigma_survey_m=self.sigma_survey_m,
            files=tuple(self.files[i] for i in chosen) if self.files else (),
            gradient_sigma=self.gradient_sigma,
            passes=tuple(self.passes[i] for i in chosen) if self.passes else (),
        )


def collect(residuals: Iterable[Residual]) -> Observed:
    """Return the residuals that have a height difference, as arrays."""
    rows = [each for each in residuals if each.dz is not None]
    stated = [row.sigma_vertical_m for row in rows if row.sigma_vertical_m is not None]
    blank = (None, None)
    return Observed(
        ids=tuple(row.id for row in rows),
        east=_column([row.east_m for row in rows]),
        north=_column([row.north_m for row in rows]),
        height=_column([row.height_m for row in rows]),
        dz=_column([row.dz for row in rows]),
        dx=_column([row.dx for row in rows]),
        dy=_column([row.dy for row in rows]),
        gradient=_column([row.gradient or blank for row in rows]).reshape(len(rows), 2),
        sigma_survey_m=float(np.median(stated)) if stated else None,
        files=tuple(row.files for row in rows),
        gradient_sigma=_find_gradient_sigma(rows),
        passes=tuple(row.passes for row in rows),
    )


def _find_gradient_sigma(rows: Iterable[Residual]) -> float:
    """Return how well the slopes are known: of a plane through n points in a circle of radius r.

    The points have the variance r²/4 along each axis, so that a scatter s of their heights gives
    each slope the standard deviation s / (r/2 sqrt(n)).
    """
    known = [
        row.roughness_m / (row.radius_m / 2 * row.count**0.5)
        for row in rows
        if row.roughness_m is not None and row.radius_m > 0 and row.count > 0
    ]
    return float(np.median(known)) if known else 0.0


def _column(values: Sequence[object]) -> Floats:
    return np.asarray(values, dtype=np.float64)


@dataclass(frozen=True)
class Statistics:
    """Plain figures of a set of numbers, metres.

    Args:
        count: how many.
        mean: average.
        median: middle.
        s: sample standard deviation, divisor n - 1; 0 for a single number.
        mad: robust standard deviation, from the median of absolute deviations.
        rmse: root mean square, the mean included.
    """

    count: int
    mean: float
    median: float
    s: float
    mad: float
    rmse: float

    @property
    def is_skewed(self) -> bool:
        """Say whether mean and median differ by more than 0.3 s (common practice, no source)."""
        return abs(self.mean - self.median) > 0.3 * self.s > 0


def measure(values: Floats) -> Statistics:
    """Return the figures of at least one number."""
    median = float(np.median(values))
    return Statistics(
        count=len(values),
        mean=float(values.mean()),
        median=median,
        s=float(values.std(ddof=1)) if len(values) > 1 else 0.0,
        mad=compute_robust_deviation(values),
        rmse=compute_rmse(values),
    )


def find_outliers(observed: Observed, blunders: Mask | None = None) -> Mask:
    """Return which points stand off from the others, (n,).

    A point does where it is far from the median of all, and, of eight and more points, also far
    from a plane in place and height that the most of them follow: a tilt or a wrong unit of height
    makes no outliers. A blunder that has a name elsewhere does too, unless the others by themselves
    lie on a plane on which it lies as well: a few wrong points that stand high or far out would
    otherwise draw the plane to themselves.

    Args:
        observed: the residuals.
        blunders: points that are named as blunders, (n,).
    """
    found = np.zeros(observed.count, dtype=np.bool_)
    if observed.count < _FEWEST_FOR_OUTLIERS:
        return found
    level = np.ones((observed.count, 1))
    rise = observed.height - observed.height.mean()
    plane = np.column_stack([level, observed.plan, rise])
    far = _find_far(observed.dz, level)
    if far.any() and observed.count >= _FEWEST_FOR_TREND:
        far &= _find_far(observed.dz, plane)
    if blunders is not None and blunders.any():
        enough = np.count_nonzero(~blunders) >= _FEWEST_FOR_TREND
        far |= blunders & _find_far(observed.dz, plane if enough else level, ~blunders)
    # What most points do is no exception.
    return far if far.sum() * 2 < observed.count else found


def _find_far(values: Floats, terms: Floats, by: Mask | None = None) -> Mask:
    """Return which values lie far from what some of them, or all, follow, (n,)."""
    kept = np.ones(len(values), dtype=np.bool_) if by is None else by
    rest = values - terms @ _fit_robustly(values[kept], terms[kept])
    spread = compute_robust_deviation(rest[kept])
    off = np.abs(rest - np.median(rest[kept]))
    return np.asarray(off > _OUTLIER_FACTOR * max(spread, _LEAST_SPREAD_M), dtype=np.bool_)


def _fit_robustly(values: Floats, terms: Floats) -> Floats:
    """Return the coefficients of least absolute deviations, by reweighting."""
    weights = np.ones(len(values))
    found = np.zeros(terms.shape[1])
    for _ in range(_ROUNDS):
        root = np.sqrt(weights)
        found = solve(terms * root[:, None], values * root)
        weights = 1 / np.maximum(np.abs(values - terms @ found), 1e-4)
    return found


def solve(terms: Floats, values: Floats) -> Floats:
    """Return the coefficients of least squares.

    Args:
        terms: columns to add up, (n, k).
        values: their sum, (n,).
    """
    coefficients, *_ = np.linalg.lstsq(terms, values, rcond=None)
    return np.asarray(coefficients, dtype=np.float64)
