"""Statistics of errors, product minus truth: numbers in, numbers out, nothing judged.

All lengths are metres. The errors of a sample are one array, in any order; none of them may be
NaN. RMSE is never computed about the mean: a product that lies a metre too high is a metre wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.loading import load_part

MAD_TO_SIGMA = 1.4826
"""1 / 0.67449, the third quartile of the normal distribution: by it the median of absolute
deviations estimates a standard deviation (scipy.stats.norm.ppf(0.75), held in the tests)."""

LEVEL = 0.95
"""Share of cases that an interval holds."""

Errors = Sequence[float] | NDArray[np.float64]


@dataclass(frozen=True)
class ErrorStatistics:
    """What a sample of errors says; metres, `count` apart.

    Args:
        count: number of errors, at least 1.
        mean: average, the bias.
        deviation: standard deviation with divisor n - 1; None of a single error.
        median: the middle one.
        robust: median of absolute deviations from the median, times 1.4826.
        rmse: root of the mean of squares, bias included.
        largest: the greatest absolute error.
        percentile_95: 95th percentile of the absolute errors.
        interval: limits of the RMSE that 95 of 100 such samples bear out; None where the bias is
            larger than the spread, beyond chance: chi-square is of errors without one.
    """

    count: int
    mean: float
    deviation: float | None
    median: float
    robust: float
    rmse: float
    largest: float
    percentile_95: float
    interval: tuple[float, float] | None


def compute_statistics(errors: Errors) -> ErrorStatistics:
    """Return the statistics of a sample of errors, metres.

    Raises:
        ValueError: the sample is empty.
    """
    values = np.asarray(errors, dtype=np.float64)
    if not values.size:
        raise ValueError("no errors, no statistics")
    return ErrorStatistics(
        count=values.size,
        mean=float(values.mean()),
        deviation=float(values.std(ddof=1)) if values.size > 1 else None,
        median=float(np.median(values)),
        robust=compute_robust_deviation(values),
        rmse=compute_rmse(values),
        largest=float(np.abs(values).max()),
        percentile_95=compute_percentile(values, 95),
        interval=compute_interval(values),
    )


def compute_interval(*axes: Errors, level: float = LEVEL) -> tuple[float, float] | None:
    """Return the confidence limits of the RMSE of one axis or of several together, metres.

    The limits of chi-square are of errors without a bias. Beside a small one they are wider than
    they need be: by a sixth at most where it is as large as the spread, for the sum of squares
    follows a non-central chi-square then, which is near one of (1 + r^2)^2 / (1 + 2 r^2) times as
    many degrees of freedom, r the bias in standard deviations (Patnaik, Biometrika 36, 1949; from
    memory). Beyond that they say nothing, and there are none. The mean of one error is not known
    from chance.

    Args:
        axes: errors of each axis, equally many.
        level: share of cases that the interval holds.
    """
    values = np.asarray(axes, dtype=np.float64)
    for axis in values:
        limits = compute_mean_interval(axis, level)
        if limits is None or limits[0] <= 0 <= limits[1]:
            continue  # no bias that is more than chance
        if abs(float(axis.mean())) > float(axis.std(ddof=1)):
            return None
    rmse = math.sqrt(float(np.square(values).sum(axis=0).mean()))
    low, high = compute_interval_factors(values.size, level)
    return rmse * low, rmse * high


def compute_rmse(errors: Errors) -> float:
    """Return the root of the mean of squares, bias included (FGDC-STD-007.3-1998, 3-A)."""
    return math.sqrt(float(np.mean(np.square(np.asarray(errors, dtype=np.float64)))))


def compute_robust_deviation(errors: Errors) -> float:
    """Return the median of absolute deviations from the median, times 1.4826."""
    values = np.asarray(errors, dtype=np.float64)
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))


def compute_percentile(errors: Errors, percent: float) -> float:
    """Return a percentile of the absolute errors, between two ranks by proportion.

    Rank n = P / 100 (N - 1) + 1, counted from 1 (USGS Lidar Base Specification 2025 rev. A,
    glossary, "percentile"); numpy's own default.
    """
    return float(np.percentile(np.abs(np.asarray(errors, dtype=np.float64)), percent))


def compute_interval_factors(count: int, level: float = LEVEL) -> tuple[float, float]:
    """Return the factors that make of an RMSE its confidence limits.

    n · RMSE² / σ² follows chi-square with n degrees of freedom where the errors are normal and
    free of bias, since no mean was taken off.

    Args:
        count: number of errors, at least 1.
        level: share of cases that the interval holds.
    """
    invert = load_part("scipy.special", "chdtri")  # from the upper tail
    tail = (1 - level) / 2
    return (
        math.sqrt(count / float(invert(count, tail))),
        math.sqrt(count / float(invert(count, 1 - tail))),
    )


def compute_mean_interval(errors: Errors, level: float = LEVEL) -> tuple[float, float] | None:
    """Return the confidence limits of the mean, metres; None of fewer than two errors.

    Mean ± t · s / sqrt(n) with Student's t of n - 1 degrees of freedom: of independent, normal
    errors (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2).
    """
    values = np.asarray(errors, dtype=np.float64)
    if values.size < 2:
        return None
    quantile = float(load_part("scipy.special", "stdtrit")(values.size - 1, (1 + level) / 2))
    half = quantile * float(values.std(ddof=1)) / math.sqrt(values.size)
    return float(values.mean()) - half, float(values.mean()) + half


def combine(*parts: float) -> float:
    """Return the root of the sum of squares of independent parts of an error, metres.

    ASPRS Positional Accuracy Standards, Edition 2, adds the error of the survey so; the law of
    propagation of independent errors, whatever the standard.
    """
    return math.hypot(*parts)


def compute_robust_scores(errors: Errors) -> NDArray[np.float64]:
    """Return how far each error lies from the median, in robust deviations, (n,) as given.

    A sample whose robust deviation is 0 (more than half are equal) has no scale to measure by:
    what differs from the median then scores infinite, the others 0.
    """
    values = np.asarray(errors, dtype=np.float64)
    off = np.abs(values - np.median(values))
    scale = compute_robust_deviation(values)
    if scale == 0:
        return np.where(off == 0, 0.0, np.inf)
    return np.asarray(off / scale)
