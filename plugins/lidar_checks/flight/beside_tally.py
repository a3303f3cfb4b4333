"""What the points of one file show beside the path that they were measured from.

Of a large file a share of the points is looked at, chosen by their coordinates, so that neither
order nor portions count. Everything that is kept is a whole number.
"""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Bins of a metre. Heights of the path above a point may be negative, ranges are not.
LOWEST_M, HIGHEST_M, FARTHEST_M = -500, 1500, 600
# Straight down is what lies within this share of the height, or so many metres.
_DOWN_SHARE, _DOWN_M = 0.2, 3.0
_LOOKED_AT = 1 << 16


@dataclass(frozen=True, eq=False)
class PathIndex:
    """A path to look points up on.

    Args:
        time_s: GPS seconds, rising, (n,).
        east_m: easting in the system of the points, (n,).
        north_m: northing, (n,).
        height_m: height in the height system of the points, as far as known, (n,).
        on_line: whether a moment belongs to a mapping line, (n,).
        broken_s: between epochs further apart than this nothing is known.
    """

    time_s: Floats
    east_m: Floats
    north_m: Floats
    height_m: Floats
    on_line: NDArray[np.bool_]
    broken_s: float


@dataclass(frozen=True)
class FileView:
    """How the numbers of a file become metres and GPS seconds.

    Args:
        x_m: metres in a lattice step of X and Y.
        z_m: metres in a lattice step of Z.
        add_s: what is added to a GPS time as stored.
    """

    x_m: float
    z_m: float
    add_s: float


@dataclass(frozen=True, eq=False)
class BesideSummary:
    """Counts of one file; each stands for `weight` points.

    Args:
        weight: one point in so many was looked at.
        looked: points looked at.
        outside: of them those of a time that the path does not have.
        off_line: of the others those of a time that belongs to no line.
        above: points on lines that lie higher than the path at their moment.
        near: points on lines by whole half metres of range, (20,): less than 10 m.
        down: points on lines straight below, by metres that the path lies above them.
        ranges: points on lines by metres of range.
        far: points on lines that lie further from the path, in the plane, than the last bin.
    """

    weight: int
    looked: int
    outside: int
    off_line: int
    above: int
    near: Ints
    down: Ints
    ranges: Ints
    far: int

    @property
    def on_line(self) -> int:
        """Return the points on lines."""
        return self.looked - self.outside - self.off_line


class BesideTally:
    """Counts the points of one file beside a path."""

    def __init__(self, index: PathIndex, view: FileView, stated: int) -> None:
        """Take the path, how the file counts, and how many points it states."""
        self.index, self.view = index, view
        self.shift = max(0, (stated // _LOOKED_AT).bit_length())
        self.looked = self.outside = self.off_line = self.above = self.far = 0
        self.near = np.zeros(20, dtype=np.int64)
        self.down = np.zeros(HIGHEST_M - LOWEST_M, dtype=np.int64)
        self.ranges = np.zeros(FARTHEST_M, dtype=np.int64)

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if not len(points):
            return
        x, y, z = points.x, points.y, points.z
        times = cast("Floats", points["gps_time"])
        if self.shift:
            mixed = x * 7_919 + y * 104_729 + z * 1_299_709
            chosen = (mixed ^ (mixed >> 16)) & ((1 << self.shift) - 1) == 0
            x, y, z, times = x[chosen], y[chosen], z[chosen], times[chosen]
        if len(x):
            self._count(x, y, z, times + self.view.add_s)

    def _count(self, x: Ints, y: Ints, z: Ints, times: Floats) -> None:
        index = self.index
        after = np.clip(np.searchsorted(index.time_s, times), 1, len(index.time_s) - 1)
        begin, end = index.time_s[after - 1], index.time_s[after]
        known = (times >= begin) & (times <= end) & (end - begin <= index.broken_s)
        self.looked += len(times)
        self.outside += int(len(times) - np.count_nonzero(known))
        on_line = known & index.on_line[after - 1] & index.on_line[after]
        self.off_line += int(np.count_nonzero(known) - np.count_nonzero(on_line))
        at, share = after[on_line], ((times - begin) / (end - begin))[on_line]
        east = x[on_line] * self.view.x_m - _between(index.east_m, at, share)
        north = y[on_line] * self.view.x_m - _between(index.north_m, at, share)
        up = _between(index.height_m, at, share) - z[on_line] * self.view.z_m
        flat = np.hypot(east, north)
        far = ~(flat < FARTHEST_M)
        self.far += int(np.count_nonzero(far))
        placed = ~far & np.isfinite(up)
        self._fill(flat[placed], up[placed])

    def _fill(self, flat: Floats, up: Floats) -> None:
        self.above += int(np.count_nonzero(up < 0))
        below = flat <= np.maximum(_DOWN_M, _DOWN_SHARE * np.abs(up))
        self.down += _bin(up[below] - LOWEST_M, len(self.down))
        ranges = np.hypot(flat, up)
        self.ranges += _bin(ranges, len(self.ranges))
        self.near += _bin(2 * ranges[ranges < 10], len(self.near))

    def merge(self, other: BesideTally) -> None:
        """Take in another part of the same file."""
        self.looked += other.looked
        self.outside += other.outside
        self.off_line += other.off_line
        self.above += other.above
        self.far += other.far
        self.near += other.near
        self.down += other.down
        self.ranges += other.ranges

    def close(self) -> BesideSummary:
        """Return what is judged."""
        return BesideSummary(
            1 << self.shift,
            self.looked,
            self.outside,
            self.off_line,
            self.above,
            self.near,
            self.down,
            self.ranges,
            self.far,
        )


def _between(values: Floats, after: Ints, share: Floats) -> Floats:
    first = values[after - 1]
    return np.asarray(first + share * (values[after] - first), dtype=np.float64)


def _bin(values: Floats, bins: int) -> Ints:
    inside = np.clip(values, 0, bins - 1).astype(np.int64)
    return np.bincount(inside, minlength=bins).astype(np.int64)
