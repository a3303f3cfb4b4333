"""What sample patches show: the surface of each pass in each cell, and cells with two surfaces.

A pass is a run of points of one source over one patch without a long pause. Sums are whole numbers,
and only then turned into planes, so that the order of points leaves no trace.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.swath.key_order import number_values, order_keys
from lidar_checks.swath.patch_sample import Kept
from lidar_checks.swath.plane_fit import fit_planes
from lidar_checks.swath.two_surfaces import TwoSurfaces, find_two_surfaces

Int32Array = NDArray[np.int32]
Int64Array = NDArray[np.int64]
Float64Array = NDArray[np.float64]

_FAR = np.iinfo(np.int64).max


@dataclass(frozen=True)
class PatchSizes:
    """Lengths in lattice steps, and how long a pause parts two passes.

    Args:
        side: side of a patch.
        cells: sides of the cells to measure, each a part of a patch.
        bin: height of a bin of heights.
        pause_s: pause between two passes of one source over a patch, seconds.
        xy_m: metres in a step of X and Y.
        z_m: metres in a step of Z.
    """

    side: int
    cells: tuple[int, ...]
    bin: int
    pause_s: float
    xy_m: float
    z_m: float


@dataclass(frozen=True)
class PatchCells:
    """One row a cell and pass, ordered by place, source and time; each array (n,).

    Args:
        column, row: patch.
        cell: number of the cell in its patch.
        source: point source id.
        first, last: times of the pass over the patch, as stored.
        points: all points.
        on_surface: those that may lie on a surface.
        height: height of the plane at the middle of the cell, lattice steps; 0 where `is_fit` is
            false.
        is_fit: the plane stands on enough points on all sides of the middle.
        slope: steepest slope of the plane, height by length.
        rough_m: root mean square of what is left over from the plane, metres.
        range_m: highest less lowest point on the surface, metres.
        lowest_slope: largest slope between the lowest points of this cell and of the cells round
            it, height by length; NaN where there are too few.
        two: what looks like two surfaces, one row a cell whatever the passes.
    """

    column: Int64Array
    row: Int64Array
    cell: Int32Array
    source: NDArray[np.uint16]
    first: Float64Array
    last: Float64Array
    points: Int32Array
    on_surface: Int32Array
    height: Int64Array
    is_fit: NDArray[np.bool_]
    slope: Float64Array
    rough_m: Float64Array
    range_m: Float64Array
    lowest_slope: Float64Array
    two: TwoSurfaces


ROW_NAMES = tuple(field.name for field in fields(PatchCells) if field.name != "two")


def measure_patches(kept: Kept | None, sizes: PatchSizes, cell: int) -> PatchCells | None:
    """Return what the points show with cells of one size; None without points."""
    if kept is None:
        return None
    across = -(-sizes.side // cell)
    patch = _number_patches(kept.x // sizes.side, kept.y // sizes.side)
    order = _order_passes(kept, patch)
    kept, patch = kept.take(order), patch[order]
    begins = _find_passes(patch, kept, sizes.pause_s)
    number = np.cumsum(begins) - 1
    starts = np.flatnonzero(begins)
    stops = np.append(starts[1:], len(patch)) - 1
    u, v = kept.x % sizes.side, kept.y % sizes.side
    inside = v // cell * across + u // cell
    u, v = u % cell - cell // 2, v % cell - cell // 2
    key = number * across**2 + inside
    order = order_keys(key)
    key = key[order]
    begin = np.flatnonzero(np.diff(key, prepend=-1))
    surface = kept.surface[order]
    low, high = _find_extremes(kept.z[order], surface, begin)
    base = np.where(low == _FAR, 0, low)
    rise = kept.z[order] - np.repeat(base, np.diff(begin, append=len(key)))
    planes = fit_planes((u[order], v[order]), rise, surface, begin, cell)
    passes, cells = key[begin] // across**2, key[begin] % across**2
    ratio = sizes.z_m / sizes.xy_m
    two = find_two_surfaces(kept, patch * across**2 + inside, (u, v), (cell, sizes.xy_m, sizes.z_m))
    at = starts[passes]
    return PatchCells(
        column=kept.x[at] // sizes.side,
        row=kept.y[at] // sizes.side,
        cell=cells.astype(np.int32),
        source=kept.source[at],
        first=kept.time[at],
        last=kept.time[stops[passes]],
        points=np.diff(begin, append=len(key)).astype(np.int32),
        on_surface=planes.points.astype(np.int32),
        height=np.where(planes.is_fit, base + np.rint(planes.height), 0).astype(np.int64),
        is_fit=planes.is_fit,
        slope=planes.slope * ratio,
        rough_m=planes.rough * sizes.z_m,
        range_m=np.where(low == _FAR, 0, high - low) * sizes.z_m,
        lowest_slope=_compute_lowest_slope(low, passes, cells, across)
        * sizes.z_m
        / (cell * sizes.xy_m),
        two=two,
    )


def _number_patches(columns: Int64Array, rows: Int64Array) -> Int64Array:
    """Return a number for the patch of each point, in order of column and row."""
    column = columns - columns.min()
    row = rows - rows.min()
    place = column * (int(row.max()) + 1) + row
    return number_values(place)[0]


def _order_passes(kept: Kept, patch: Int64Array) -> Int64Array:
    """Return the order by patch, then source, then time."""
    source, sources = number_values(kept.source.astype(np.int64))
    key = patch * sources + source
    if (kept.time[1:] >= kept.time[:-1]).all():
        return order_keys(key)
    by_time = np.argsort(kept.time, kind="stable")
    return by_time.take(order_keys(key.take(by_time)))


def _find_passes(patch: Int64Array, kept: Kept, pause_s: float) -> NDArray[np.bool_]:
    """Say of each point, ordered by patch, source and time, whether a pass begins with it."""
    begins = np.ones(len(patch), dtype=np.bool_)
    begins[1:] = patch[1:] != patch[:-1]
    begins[1:] |= kept.source[1:] != kept.source[:-1]
    begins[1:] |= np.diff(kept.time) > pause_s
    return begins


def _find_extremes(
    z: Int64Array, surface: NDArray[np.bool_], begin: Int64Array
) -> tuple[Int64Array, Int64Array]:
    low = np.minimum.reduceat(np.where(surface, z, _FAR), begin)
    high = np.maximum.reduceat(np.where(surface, z, -_FAR), begin)
    return low, high


def _compute_lowest_slope(
    low: Int64Array, passes: Int64Array, cells: Int64Array, across: int
) -> Float64Array:
    """Return the largest difference of lowest points to the neighbours, by distance in cells.

    Method of the USGS Lidar Base Specification 2025 rev. A, "Intraswath Precision". Cells with
    fewer than five neighbours, in which a direction may be missing, have none.
    """
    lowest = np.full((int(passes[-1]) + 1, across + 2, across + 2), np.nan)
    row, column = cells // across + 1, cells % across + 1
    seen = low != _FAR
    lowest[passes[seen], row[seen], column[seen]] = low[seen]
    own = lowest[passes, row, column]
    steepest = np.zeros(len(low))
    neighbours = np.zeros(len(low), dtype=np.int64)
    for up, along in ((a, b) for a in (-1, 0, 1) for b in (-1, 0, 1) if a or b):
        rise = np.abs(lowest[passes, row + up, column + along] - own) / np.hypot(up, along)
        steepest = np.fmax(steepest, rise)
        neighbours += np.isfinite(rise)
    return np.where(neighbours >= _FEWEST_NEIGHBOURS, steepest, np.nan)


_FEWEST_NEIGHBOURS = 5
