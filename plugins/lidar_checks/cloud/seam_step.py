"""The step in height at one seam: what both sides say of the height of the border itself.

The strips are cut into windows along the seam. In each window a plane is laid through the lowest
points of either side by least squares and carried on to the border; the step is the difference
there, so that slopes, ridges and ditches along the border leave none. Median and median absolute
deviation (MAD) over the windows are not moved by a tree or a wall that crosses the seam.

A window steps only when its step is also well above what is left over from its own planes: a bank
or a wall inside the strip spoils the plane and is no step at the border.

A pit that ends on a border steps along a part of it only. Where the tiles meet along the rest, they
meet by no more than `level_m`, whatever the median says.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Float64Array = NDArray[np.float64]

FEWEST_WINDOWS = 5
"""Windows that a seam needs before its median means anything (common practice, no source)."""

# A plane has three unknowns; twice as many points, and none so far off that the height carried on
# to the border is worse than one point's own (common practice, no source).
_FEWEST_POINTS = 6
_WORST_LEVERAGE = 1.0
_UNKNOWNS = 3
# A window of a thin cloud is made longer until it holds so many points on average, up to a length
# over which ground is still nearly even (common practice, no source).
_WANTED_POINTS = 12
_LONGEST_WINDOW_M = 10.0
# A step is told from roughness when it is more than twice the root mean square of what is left over
# from the planes: a bank of any height inside the strip comes to 1.4 at most [least squares on
# evenly spaced points], noise on a plane seldom beyond 2.
_ABOVE_ROUGHNESS = 2.0
# A stretch is parted from a step by a face where most of the seam steps evenly; a step that grows
# along the seam, as that of a tilted tile does, scatters by half of its median.
_PARTED = 4.0


@dataclass(frozen=True)
class Side:
    """The lowest points of one side, metres.

    Args:
        across: distance from the border, float64, (n,).
        along: distance along the border from its beginning, float64, (n,).
        height: height, float64, (n,).
    """

    across: Float64Array
    along: Float64Array
    height: Float64Array


@dataclass(frozen=True)
class Step:
    """What a seam shows.

    Args:
        windows: windows in which both sides could be carried to the border.
        delta_m: median step, low side less high side, metres; 0 without windows.
        mad_m: median absolute deviation of the steps, metres.
        stepping: share of the windows that step the same way by more than the limit.
        level_m: the least step that some stretch of an even step would have shown, and does not
            show, metres; infinite where there is no such stretch.
    """

    windows: int
    delta_m: float
    mad_m: float
    stepping: float
    level_m: float = math.inf


def measure_step(low: Side, high: Side, window_m: float, limit_m: float) -> Step:
    """Return the step of one seam.

    Args:
        low: the west or south side.
        high: the other side.
        window_m: least length of a window along the seam, metres; longer for thin clouds.
        limit_m: least step that counts, metres.
    """
    if not len(low.along) or not len(high.along):
        return Step(0, 0.0, 0.0, 0.0)
    fitting = max(_fit_window(low), _fit_window(high))
    window_m = max(window_m, min(_LONGEST_WINDOW_M, fitting))
    count = int(max(low.along.max(), high.along.max()) // window_m) + 1
    base = float(np.median(low.height))
    at_low, rough_low = _carry_to_border(low, window_m, count, base)
    at_high, rough_high = _carry_to_border(high, window_m, count, base)
    every = at_low - at_high
    judged = np.isfinite(every)
    steps = every[judged]
    if not len(steps):
        return Step(0, 0.0, 0.0, 0.0)
    delta = float(np.median(steps))
    mad = float(np.median(np.abs(steps - delta)))
    least = np.maximum(limit_m, _ABOVE_ROUGHNESS * np.maximum(rough_low, rough_high))
    stepping = int(np.count_nonzero(np.sign(delta) * steps > least[judged]))
    level = math.inf
    if abs(delta) > _PARTED * mad:
        level = _find_level(np.where(judged, np.maximum(np.abs(every), least), math.inf))
    return Step(len(steps), delta, mad, stepping / len(steps), level)


def _find_level(hidden: Float64Array) -> float:
    """Return the least of the steps that every window of some stretch could hide, metres.

    Args:
        hidden: the greatest step that each window along the seam could hide, (n,).
    """
    if len(hidden) < FEWEST_WINDOWS:
        return math.inf
    return float(np.lib.stride_tricks.sliding_window_view(hidden, FEWEST_WINDOWS).max(axis=1).min())


def _fit_window(side: Side) -> float:
    """Return the length of a window that holds enough points of a side, metres."""
    length = float(side.along.max() - side.along.min())
    return _WANTED_POINTS * length / len(side.along)


def _carry_to_border(
    side: Side, window_m: float, count: int, base: float
) -> tuple[Float64Array, Float64Array]:
    """Return the height at the border in each window, and the roughness of the plane behind it.

    Both are NaN where the points of a window do not carry a plane as far as the border.
    """
    window = (side.along // window_m).astype(np.int64)
    middle = (window + 0.5) * window_m
    terms = np.stack([np.ones_like(side.across), side.across, side.along - middle])
    height = side.height - base
    normal = np.empty((count, _UNKNOWNS, _UNKNOWNS))
    right = np.empty((count, _UNKNOWNS))
    for row in range(_UNKNOWNS):
        right[:, row] = np.bincount(window, terms[row] * height, count)
        for column in range(_UNKNOWNS):
            normal[:, row, column] = np.bincount(window, terms[row] * terms[column], count)
    points = np.bincount(window, minlength=count)
    usable = (points >= _FEWEST_POINTS) & (np.linalg.matrix_rank(normal) == _UNKNOWNS)
    at_border = np.full(count, np.nan)
    roughness = np.full(count, np.nan)
    if not usable.any():
        return at_border, roughness
    inverse = np.linalg.inv(normal[usable])
    usable[usable] = inverse[:, 0, 0] <= _WORST_LEVERAGE
    planes = np.zeros((count, _UNKNOWNS))
    planes[usable] = np.linalg.solve(normal[usable], right[usable][..., np.newaxis])[..., 0]
    left_over = height - np.einsum("ij,ji->i", planes[window], terms)
    squares = np.bincount(window, left_over**2, count)
    at_border[usable] = planes[usable, 0] + base
    roughness[usable] = np.sqrt(squares[usable] / (points[usable] - _UNKNOWNS))
    return at_border, roughness
