"""Cells in which points lie on two parallel surfaces, one above the other.

Residuals from the plane of all points of a cell are parted in two where the parts differ most
(Otsu 1979). Two surfaces are parts that are thin against their distance, with hardly a point
between them, and that both reach over the whole cell: a kerb, a wall or a gutter has its upper part
on one side or in a strip. That is strict, so that rows of crops and walls pass: of cells that are
doubled by 0.1 m about a third is seen, and a share of cells is a least one.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.swath.key_order import order_keys
from lidar_checks.swath.patch_sample import Kept
from lidar_checks.swath.plane_fit import Planes, fit_planes

Int64Array = NDArray[np.int64]
Float64Array = NDArray[np.float64]
_Number = TypeVar("_Number", bound=np.generic)

FEWEST_POINTS = 20
"""Points that a cell needs before two surfaces are told from one (common practice, no source)."""

_LEAST_SHARE = 0.2
_TIMES_THICKNESS = 4.5
# Between the parts, in the middle third, may lie so many points against an even spread.
_MOST_BETWEEN = 0.3
# A part reaches over the cell when it spreads at least so far as an even one does, per axis, and
# its middle lies no further from the other's than so many sides.
_LEAST_SPREAD = 0.65
_EVEN_SPREAD = 1 / 12
_FURTHEST_APART = 0.2
# Residuals further off count as so far, so that sums of squares stay whole numbers.
_FURTHEST_OFF = 1 << 22


@dataclass(frozen=True)
class TwoSurfaces:
    """One row a cell with enough points on a plane; each array (n,).

    Args:
        x, y: middle of the cell, lattice steps.
        slope: slope of the plane of all points, height by length.
        rough_m: root mean square of what is left over from it, metres.
        is_double: whether the points lie on two surfaces.
        apart_m: how far, metres; 0 where they do not.
        within_m: thickness of the two, root mean square, metres.
        below, above: point source id of the lower and the upper one; -1 where a surface holds
            points of several, or there is one surface only.
    """

    x: Int64Array
    y: Int64Array
    slope: Float64Array
    rough_m: Float64Array
    is_double: NDArray[np.bool_]
    apart_m: Float64Array
    within_m: Float64Array
    below: Int64Array
    above: Int64Array


@dataclass(frozen=True)
class _Cells:
    """Points by cell, ordered by residual."""

    begin: Int64Array
    count: Int64Array
    residual: Int64Array
    u: Int64Array
    v: Int64Array
    source: Int64Array

    def add(self, values: Int64Array) -> Int64Array:
        total: Int64Array = np.add.reduceat(values, self.begin)
        return total

    def spread(self, values: NDArray[_Number]) -> NDArray[_Number]:
        return np.repeat(values, self.count)


def find_two_surfaces(
    kept: Kept,
    key: Int64Array,
    place: tuple[Int64Array, Int64Array],
    size: tuple[int, float, float],
) -> TwoSurfaces:
    """Judge every cell with enough points.

    Args:
        kept: the points.
        key: number of the cell of each, (n,).
        place: place from the middle of the cell, lattice steps, two of (n,).
        size: side of a cell in lattice steps, metres in a step of X and Y, and of Z.
    """
    cell, xy_m, z_m = size
    chosen = np.flatnonzero(kept.surface)
    chosen = chosen[order_keys(key[chosen])]
    chosen = chosen[_is_frequent(key[chosen])]
    if not len(chosen):
        return _make_empty()
    key, u, v, z = key[chosen], place[0][chosen], place[1][chosen], kept.z[chosen]
    begin = np.flatnonzero(np.diff(key, prepend=-1))
    count = np.diff(begin, append=len(key))
    base = np.repeat(np.minimum.reduceat(z, begin), count)
    planes = fit_planes((u, v), z - base, np.ones(len(z), dtype=np.bool_), begin, cell)
    residual = _compute_residuals(planes, (u, v, z - base), count)
    # Cells come in order already, so that their ranks are their places among them.
    rank = np.repeat(np.arange(len(begin)), count)
    order = order_keys(rank * (2 * _FURTHEST_OFF + 1) + residual + _FURTHEST_OFF)
    source = kept.source[chosen].astype(np.int64)
    cells = _Cells(begin, count, residual[order], u[order], v[order], source[order])
    split, apart, within, is_double = _part(cells, cell)
    is_double &= planes.is_fit
    upper = np.arange(len(key)) >= np.repeat(split, count)
    first = begin
    return TwoSurfaces(
        x=kept.x[chosen][first] - u[first],
        y=kept.y[chosen][first] - v[first],
        slope=np.nan_to_num(planes.slope, nan=np.inf) * z_m / xy_m,
        rough_m=np.nan_to_num(planes.rough, nan=np.inf) * z_m,
        is_double=is_double,
        apart_m=np.where(is_double, apart, 0.0) * z_m,
        within_m=np.where(is_double, within, 0.0) * z_m,
        below=np.where(is_double, _name_source(cells, ~upper), -1),
        above=np.where(is_double, _name_source(cells, upper), -1),
    )


def _is_frequent(key: Int64Array) -> NDArray[np.bool_]:
    """Say of each key, in order, whether enough points share it."""
    if not len(key):
        return np.zeros(0, dtype=np.bool_)
    begin = np.flatnonzero(np.diff(key, prepend=-1))
    count = np.diff(begin, append=len(key))
    return np.repeat(count >= FEWEST_POINTS, count)


def _make_empty() -> TwoSurfaces:
    whole, real = np.empty(0, dtype=np.int64), np.empty(0)
    flags = np.empty(0, dtype=np.bool_)
    return TwoSurfaces(whole, whole, real, real, flags, real, real, whole, whole)


def _compute_residuals(
    planes: Planes, place: tuple[Int64Array, Int64Array, Int64Array], count: Int64Array
) -> Int64Array:
    """Return heights above the plane, lattice steps; zeros where there is no plane."""
    u, v, z = place
    plane = [np.repeat(np.nan_to_num(a), count) for a in (planes.height, planes.east, planes.north)]
    above = np.rint(z - plane[0] - plane[1] * u - plane[2] * v).astype(np.int64)
    above = np.clip(above, -_FURTHEST_OFF, _FURTHEST_OFF)
    return np.where(np.repeat(planes.is_fit, count), above, 0)


def _part(
    cells: _Cells, cell: int
) -> tuple[Int64Array, Float64Array, Float64Array, NDArray[np.bool_]]:
    """Part each cell in two; return the first upper point, distance, thickness and verdict."""
    lower, sums = _run_sums(cells)
    total = cells.spread(cells.count).astype(np.float64)
    whole = cells.spread(cells.add(cells.residual)).astype(np.float64)
    # What parts best has the largest variance between its parts; equal ones: the lowest.
    with np.errstate(divide="ignore", invalid="ignore"):
        between = (sums * total - whole * lower) ** 2 / (lower * (total - lower))
    fair = (lower >= _LEAST_SHARE * total) & (total - lower >= _LEAST_SHARE * total)
    between = np.where(fair, between, -1.0)
    best = cells.spread(np.maximum.reduceat(between, cells.begin))
    index = np.where(fair & (between == best), np.arange(len(total)), len(total))
    last = np.minimum(np.minimum.reduceat(index, cells.begin), len(total) - 1)
    n, n1 = cells.count.astype(np.float64), lower[last]
    n2 = np.maximum(n - n1, 1.0)
    mean1 = sums[last] / n1
    mean2 = (cells.add(cells.residual) - sums[last]) / n2
    inner = cells.add(cells.residual**2) - n1 * mean1**2 - n2 * mean2**2
    within = np.sqrt(np.maximum(inner, 0.0) / np.maximum(n - 2, 1))
    apart = mean2 - mean1
    middle = np.abs(cells.residual - cells.spread((mean1 + mean2) / 2)) < cells.spread(apart) / 6
    held = cells.add(middle.astype(np.int64))
    double = (apart > _TIMES_THICKNESS * within) & (apart > 0)
    double &= held <= _MOST_BETWEEN * n / 3
    upper = np.arange(len(total)) > cells.spread(last)
    double &= _reach_over(cells, upper, cell)
    return last + 1, apart, within, double


def _run_sums(cells: _Cells) -> tuple[Float64Array, Float64Array]:
    """Return, up to and with each point of its cell, the number and the sum of residuals."""
    place = np.arange(len(cells.residual)) - cells.spread(cells.begin) + 1
    run = np.cumsum(cells.residual)
    before = cells.spread(run[cells.begin] - cells.residual[cells.begin])
    return place.astype(np.float64), (run - before).astype(np.float64)


def _reach_over(cells: _Cells, upper: NDArray[np.bool_], cell: int) -> NDArray[np.bool_]:
    """Say of each cell whether both parts spread over all of it."""
    reach = np.ones(len(cells.begin), dtype=np.bool_)
    middles = []
    for part in (~upper, upper):
        one = part.astype(np.int64)
        n = np.maximum(cells.add(one), 1).astype(np.float64)
        a, b = (cells.add(axis * one) / n / cell for axis in (cells.u, cells.v))
        aa = cells.add(cells.u**2 * one) / n / cell**2 - a**2
        bb = cells.add(cells.v**2 * one) / n / cell**2 - b**2
        ab = cells.add(cells.u * cells.v * one) / n / cell**2 - a * b
        # The smaller eigenvalue of the scatter: the spread across the narrowest direction.
        narrow = (aa + bb) / 2 - np.sqrt(((aa - bb) / 2) ** 2 + ab**2)
        reach &= narrow >= _LEAST_SPREAD * _EVEN_SPREAD
        middles.append((a, b))
    (a1, b1), (a2, b2) = middles
    return reach & (np.hypot(a1 - a2, b1 - b2) <= _FURTHEST_APART)


def _name_source(cells: _Cells, part: NDArray[np.bool_]) -> Int64Array:
    """Return the only source of a part, or -1 where it has several."""
    low = np.minimum.reduceat(np.where(part, cells.source, 1 << 16), cells.begin)
    high = np.maximum.reduceat(np.where(part, cells.source, -1), cells.begin)
    return np.where(low == high, low, -1)
