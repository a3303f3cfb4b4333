"""Whether neighbours are off alike: Moran's I of errors at places.

I = n / S0 * sum_ij w_ij z_i z_j / sum_i z_i^2, z the errors less their mean, S0 the sum of all
weights (Moran, Biometrika 37, 1950). Its mean and variance where the errors were shuffled over the
places: Cliff and Ord, Spatial Processes, 1981. Both from memory, and held in the tests against
every shuffle of a small sample and against numbers of a reference library.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Floats = NDArray[np.float64]

NEIGHBOURS = 4
"""Nearest points that count as neighbours of one (common practice, no source)."""


@dataclass(frozen=True)
class Clustering:
    """Moran's I of a sample.

    Args:
        value: near 1 where neighbours are alike, near -1 where they are opposite.
        expected: what shuffling gives in the mean, -1 / (n - 1).
        deviation: standard deviation of what shuffling gives.
    """

    value: float
    expected: float
    deviation: float

    @property
    def score(self) -> float:
        """Return how many deviations the value lies above what shuffling gives."""
        return (self.value - self.expected) / self.deviation if self.deviation > 0 else 0.0


def find_neighbours(places: Floats, count: int = NEIGHBOURS) -> Floats:
    """Return weights of 1 from each place to its nearest others, (n, n); 0 elsewhere.

    Args:
        places: east and north, (n, 2), any unit.
        count: neighbours of each place; fewer than there are places.
    """
    apart = np.hypot(*(places[:, None, axis] - places[None, :, axis] for axis in (0, 1)))
    np.fill_diagonal(apart, np.inf)
    nearest = np.argsort(apart, axis=1, kind="stable")[:, :count]
    weights = np.zeros(apart.shape)
    np.put_along_axis(weights, nearest, 1.0, axis=1)
    return weights


def measure_clustering(errors: Floats, weights: Floats) -> Clustering | None:
    """Return Moran's I of some errors; None of fewer than four, or where all are the same.

    Args:
        errors: (n,), any unit.
        weights: (n, n), zero on the diagonal.
    """
    count = len(errors)
    off = errors - errors.mean()
    squares = float(off @ off)
    s0 = float(weights.sum())
    if count < 4 or squares == 0 or s0 == 0:
        return None
    value = count / s0 * float(off @ weights @ off) / squares
    expected = -1.0 / (count - 1)
    s1 = 0.5 * float(((weights + weights.T) ** 2).sum())
    s2 = float(((weights.sum(axis=0) + weights.sum(axis=1)) ** 2).sum())
    kurtosis = count * float((off**4).sum()) / squares**2
    first = count * ((count**2 - 3 * count + 3) * s1 - count * s2 + 3 * s0**2)
    second = kurtosis * ((count**2 - count) * s1 - 2 * count * s2 + 6 * s0**2)
    below = (count - 1) * (count - 2) * (count - 3) * s0**2
    variance = (first - second) / below - expected**2
    return Clustering(value, expected, float(np.sqrt(max(variance, 0.0))))
