"""Planes through many small groups of points at once, from whole-number sums."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Int64Array = NDArray[np.int64]
Float64Array = NDArray[np.float64]

# Twice as many points as a plane has unknowns, and their middle no further from the cell's than
# lets the height there be known at least half as well as the mean (common practice, no source).
FEWEST_POINTS = 6
_WORST_LEVERAGE = 4.0
_UNKNOWNS = 3
# Beyond this the sums of squares would no longer be whole numbers that a float can hold.
_TALLEST = 1 << 22


@dataclass(frozen=True)
class Planes:
    """One plane a group; each array (n,).

    Args:
        points: points that it stands on, int64.
        is_fit: whether there are enough of them round the middle.
        height: height in the middle, lattice steps above the base; NaN where it is not fit.
        east, north: rise per unit of u and v; NaN where it is not fit.
        rough: root mean square of what is left over, lattice steps; NaN where it is not fit.
    """

    points: Int64Array
    is_fit: NDArray[np.bool_]
    height: Float64Array
    east: Float64Array
    north: Float64Array
    rough: Float64Array

    @property
    def slope(self) -> Float64Array:
        """Return the steepest rise per unit of length."""
        steepest: Float64Array = np.hypot(self.east, self.north)
        return steepest


def fit_planes(
    place: tuple[Int64Array, Int64Array],
    rise: Int64Array,
    chosen: NDArray[np.bool_],
    begin: Int64Array,
    cell: int,
) -> Planes:
    """Return the least-squares plane of each group.

    Args:
        place: place from the middle of the cell east and north, lattice steps, two of (n,).
        rise: height above a base of the group, lattice steps, not negative where chosen, (n,).
        chosen: points that count, (n,).
        begin: index of the first point of each group, ascending, (m,).
        cell: side of a cell, lattice steps.
    """
    one = chosen.astype(np.int64)
    z = np.where(chosen, np.clip(rise, 0, _TALLEST), 0)
    u, v = place[0] * one, place[1] * one

    def add(values: Int64Array) -> Float64Array:
        return np.add.reduceat(values, begin).astype(np.float64)

    points = np.add.reduceat(one, begin)
    mixed = {(0, 1): add(u) / cell, (0, 2): add(v) / cell, (1, 2): add(u * v) / cell**2}
    squares = (points.astype(np.float64), add(u * u) / cell**2, add(v * v) / cell**2)
    normal = np.empty((len(begin), _UNKNOWNS, _UNKNOWNS))
    for term, square in enumerate(squares):
        normal[:, term, term] = square
    for (a, b), products in mixed.items():
        normal[:, a, b] = normal[:, b, a] = products
    right = np.stack([add(z), add(u * z) / cell, add(v * z) / cell], axis=1)
    fit = points >= FEWEST_POINTS
    # Points on one line carry no plane: their determinant is far below that of a filled cell.
    fit &= np.linalg.det(normal) > 1e-6 * np.maximum(points, 1.0) ** _UNKNOWNS
    solved = np.full((len(begin), _UNKNOWNS), np.nan)
    inverse = np.linalg.inv(normal[fit])
    solved[fit] = np.einsum("ijk,ik->ij", inverse, right[fit])
    near = np.zeros(len(begin), dtype=np.bool_)
    near[fit] = inverse[:, 0, 0] * points[fit] <= _WORST_LEVERAGE
    solved[~near] = np.nan
    left = np.maximum(0.0, add(z * z) - np.einsum("ij,ij->i", solved, right))
    rough = np.sqrt(left / np.maximum(points - _UNKNOWNS, 1))
    return Planes(points, near, solved[:, 0], solved[:, 1] / cell, solved[:, 2] / cell, rough)
