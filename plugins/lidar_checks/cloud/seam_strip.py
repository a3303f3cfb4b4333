"""The lowest point of each cell along the borders of a tile.

The lowest point keeps its place, so that on a slope its height can be compared with its neighbours'
to the millimetre. Whole numbers only; of two points equally low the one that lies lower across,
then along, so that the order of the points leaves no trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import HIGH_NOISE, LOW_NOISE
from lidar_checks.cloud.seam_plan import Box, Zone
from lidar_checks.cloud.slice_cells import find_outside

Int64Array = NDArray[np.int64]

_NONE = np.iinfo(np.int64).max
# Bits of a place in a signed 64-bit number that stay below `_NONE`.
_PLACE_BITS = 62


@dataclass(frozen=True)
class LowPoints:
    """The lowest points of one zone, one a cell, in order of the cells.

    Args:
        across: place across the seam, lattice steps, int64, (n,).
        along: place along it, lattice steps, int64, (n,).
        height: height, lattice steps, int64, (n,).
    """

    across: Int64Array
    along: Int64Array
    height: Int64Array


@dataclass(frozen=True)
class StripSummary:
    """What is left of a tile.

    Args:
        points: points read.
        box: box of all of them; None when there are none.
        strips: lowest points by number of the seam.
    """

    points: int
    box: Box | None
    strips: dict[int, LowPoints]


class ZoneTally:
    """The lowest point of each cell of one zone."""

    def __init__(self, zone: Zone) -> None:
        """Start with empty cells; memory is taken with the first point."""
        self.zone = zone
        # Place across and place along in one number, so that one minimum orders both. On a lattice
        # too fine for that the last bits of both are left out, far below a millimetre.
        across_bits = (zone.high - zone.low).bit_length()
        along_bits = (zone.stop - zone.start).bit_length()
        self.left_out = max(0, (across_bits + along_bits - _PLACE_BITS + 1) // 2)
        self.along_bits = along_bits - self.left_out
        self.height: Int64Array | None = None
        self.place: Int64Array | None = None

    def add(self, x: Int64Array, y: Int64Array, z: Int64Array) -> None:
        """Take in those of the points that lie in the zone."""
        zone = self.zone
        across, along = (x, y) if zone.axis == "x" else (y, x)
        inside = (across >= zone.low) & (across <= zone.high)
        inside &= (along >= zone.start) & (along <= zone.stop)
        chosen = np.flatnonzero(inside)
        if not len(chosen):
            return
        u, v = across.take(chosen) - zone.low, along.take(chosen) - zone.start
        cell = v // zone.cell * zone.columns + u // zone.cell
        place = (u >> self.left_out << self.along_bits) | (v >> self.left_out)
        self._lower(cell, z.take(chosen), place)

    def merge(self, other: ZoneTally) -> None:
        """Take in another part of the same zone."""
        if other.height is not None and other.place is not None:
            cell = np.flatnonzero(other.height != _NONE)
            self._lower(cell, other.height[cell], other.place[cell])

    def close(self) -> LowPoints | None:
        """Return the lowest points, or None when the zone has none."""
        if self.height is None or self.place is None:
            return None
        held = self.height != _NONE
        place = self.place[held]
        along = place & ((1 << self.along_bits) - 1)
        across = (place >> self.along_bits << self.left_out) + self.zone.low
        along = (along << self.left_out) + self.zone.start
        return LowPoints(across, along, self.height[held])

    def _lower(self, cell: Int64Array, z: Int64Array, place: Int64Array) -> None:
        if self.height is None or self.place is None:
            cells = self.zone.columns * self.zone.rows
            self.height = np.full(cells, _NONE, dtype=np.int64)
            self.place = np.full(cells, _NONE, dtype=np.int64)
        before = self.height.copy()
        np.minimum.at(self.height, cell, z)
        self.place[self.height < before] = _NONE
        lowest = z == self.height[cell]
        np.minimum.at(self.place, cell[lowest], place[lowest])


class StripTally:
    """Box and border strips of one tile."""

    def __init__(self, box: Box, zones: Sequence[Zone]) -> None:
        """Take the box that the header states and the zones to keep."""
        self.points = 0
        self.low: tuple[int, int] | None = None
        self.high: tuple[int, int] | None = None
        self.zones = [ZoneTally(zone) for zone in zones]
        self.inner = _find_inner(box, zones)

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if not len(points):
            return
        low, high = points.box
        self._widen(len(points), low[:2], high[:2])
        if not self.zones:
            return
        inner = self.inner
        chosen = find_outside(points, (inner.x0 + 1, inner.x1 - 1), (inner.y0 + 1, inner.y1 - 1))
        if not len(chosen):
            return
        codes = cast("NDArray[np.uint8]", points["classification"]).take(chosen)
        noise = (codes == LOW_NOISE) | (codes == HIGH_NOISE)
        noise |= points["withheld"].take(chosen).astype(np.bool_)
        if noise.any():
            chosen = chosen[~noise]
        x, y, z = (axis.take(chosen) for axis in (points.x, points.y, points.z))
        for zone in self.zones:
            zone.add(x, y, z)

    def merge(self, other: StripTally) -> None:
        """Take in another part of the same tile."""
        if other.low is not None and other.high is not None:
            self._widen(other.points, other.low, other.high)
        for zone, part in zip(self.zones, other.zones, strict=True):
            zone.merge(part)

    def close(self) -> StripSummary:
        """Keep nothing of the tile but its box and its borders."""
        box = None
        if self.low is not None and self.high is not None:
            box = Box(*self.low, *self.high)
        strips = {zone.zone.seam: zone.close() for zone in self.zones}
        held = {seam: points for seam, points in strips.items() if points is not None}
        return StripSummary(self.points, box, held)

    def _widen(self, points: int, low: tuple[int, int], high: tuple[int, int]) -> None:
        self.points += points
        if self.low is not None and self.high is not None:
            low = min(low[0], self.low[0]), min(low[1], self.low[1])
            high = max(high[0], self.high[0]), max(high[1], self.high[1])
        self.low, self.high = low, high


def _find_inner(box: Box, zones: Sequence[Zone]) -> Box:
    """Return the middle of a box, which no zone reaches: most points end there."""
    inner = {"x": box.span("x"), "y": box.span("y")}
    for zone in zones:
        low, high = inner[zone.axis]
        if zone.low + zone.high < sum(box.span(zone.axis)):
            inner[zone.axis] = (max(low, zone.high), high)
        else:
            inner[zone.axis] = (low, min(high, zone.low))
    return Box(inner["x"][0], inner["y"][0], inner["x"][1], inner["y"][1])
