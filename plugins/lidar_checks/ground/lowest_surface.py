"""The lowest surface among points without a ground class."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lidar_checks.ground.near_tally import NearPoints

# The circle is cut into so many cells a side; the lowest point of each begins the surface.
_CELLS = 4
_FEWEST_CELLS = 6
_UNKNOWNS = 3
# How far above and below the lowest points the surface may reach at first, metres, and how far
# from its middle after that, in standard deviations (common practice, no source).
_ABOVE_M, _BELOW_M = 0.10, 0.05
_SCATTERS, _LEAST_SCATTER_M = 3.0, 0.01
_ROUNDS = 4


def find_lowest_surface(
    points: NearPoints, radius: int, xy_m: float, z_m: float
) -> NDArray[np.bool_]:
    """Say of each point whether it lies on the lowest surface, (n,).

    A plane through the lowest last return of each cell is laid again through what lies near it,
    until grass and branches above it have no say.

    Args:
        points: x and y from the middle of the circle, lattice steps.
        radius: of the circle, lattice steps.
        xy_m: metres in a step of X and Y.
        z_m: metres in a step of Z.
    """
    design = np.column_stack([np.ones(len(points)), points.x * xy_m, points.y * xy_m])
    height = np.asarray((points.z - points.z.min()) * z_m, dtype=np.float64)
    lowest = _find_lowest(points, radius)
    if len(lowest) < _FEWEST_CELLS:
        return np.zeros(len(points), dtype=np.bool_)
    above = _measure(design, height, lowest)
    near = points.last & (above <= _ABOVE_M) & (above >= -_BELOW_M)
    for _ in range(_ROUNDS):
        if np.count_nonzero(near) <= _UNKNOWNS:
            break
        above = _measure(design, height, np.flatnonzero(near))
        scatter = max(_LEAST_SCATTER_M, float(np.sqrt(np.mean(above[near] ** 2))))
        near = points.last & (np.abs(above) <= _SCATTERS * scatter)
    return near


def _find_lowest(points: NearPoints, radius: int) -> NDArray[np.int64]:
    """Return the index of the lowest last return of each cell."""
    side = max(1, -(-2 * radius // _CELLS))
    column, row = (points.x + radius) // side, (points.y + radius) // side
    at = np.flatnonzero(points.last)
    cell = (row * (_CELLS + 1) + column)[at]
    order = np.lexsort((points.y[at], points.x[at], points.z[at], cell))
    first = np.flatnonzero(np.diff(cell[order], prepend=-1))
    return at[order[first]]


def _measure(
    design: NDArray[np.float64], height: NDArray[np.float64], chosen: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return how far every point lies above the least-squares plane through the chosen ones."""
    solved = np.linalg.lstsq(design[chosen], height[chosen], rcond=None)[0]
    return np.asarray(height - design @ solved, dtype=np.float64)
