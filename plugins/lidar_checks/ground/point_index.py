"""Which points of a slice lie near which surveyed point; most slices lie near none."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.slice_cells import NEAR, share_offsets

Int64Array = NDArray[np.int64]

# The table of cells of a slice fits into the processor's cache.
_MOST_CELLS = 1 << 18


@dataclass(frozen=True)
class Near:
    """Pairs of a point and a surveyed point near it; each array (n,).

    Args:
        point: index of the point in its slice.
        place: index of the surveyed point.
        square: square of their distance in plan, lattice steps.
    """

    point: Int64Array
    place: Int64Array
    square: Int64Array


class PointIndex:
    """Surveyed points, to be asked for by slices of the cloud; nothing of it is ever altered."""

    def __init__(self, x: Int64Array, y: Int64Array, radius: int) -> None:
        """Take the places and how far round them a point is near.

        Args:
            x: eastings of the places, lattice steps, (m,).
            y: their northings, (m,).
            radius: lattice steps.
        """
        self.given_x, self.given_y = x, y
        self.order = np.argsort(x, kind="stable")
        self.x, self.y = x[self.order], y[self.order]
        self.radius = radius

    def find(self, points: PointChunk) -> Near | None:
        """Return the pairs of a slice; None where there is none."""
        if not len(points) or not len(self.x):
            return None
        west, east = points.span("x")
        near = slice(*np.searchsorted(self.x, (west - self.radius, east + self.radius + 1)))
        if near.start == near.stop:
            return None
        south, north = points.span("y")
        inside = (self.y[near] >= south - self.radius) & (self.y[near] <= north + self.radius)
        places = near.start + np.flatnonzero(inside)
        if not len(places):
            return None
        window = _Window(west, south, east - west, north - south, self.radius)
        return self._pair(points, window, places)

    def _pair(self, points: PointChunk, window: _Window, places: Int64Array) -> Near | None:
        cells, owners = window.list_cells(self.x[places], self.y[places])
        held = np.zeros(window.wide * window.high, dtype=np.bool_)
        held[cells] = True
        index = window.find_cells(points)
        candidates = np.flatnonzero(held.take(index))
        if not len(candidates):
            return None
        mine = index[candidates]
        begin = np.searchsorted(cells, mine, "left")
        counts = np.searchsorted(cells, mine, "right") - begin
        point = np.repeat(candidates, counts)
        first = np.repeat(begin - np.cumsum(counts) + counts, counts)
        place = places[owners[first + np.arange(len(point))]]
        square = (points.x[point] - self.x[place]) ** 2 + (points.y[point] - self.y[place]) ** 2
        inside = square <= self.radius**2
        if not inside.any():
            return None
        return Near(point[inside], self.order[place[inside]].astype(np.int64), square[inside])


class _Window:
    """The box of a slice, cut into cells that are at least as wide as a circle's radius."""

    def __init__(self, west: int, south: int, across: int, along: int, radius: int) -> None:
        self.west, self.south = west, south
        # A power of two, since a shift costs a tenth of a division.
        self.shift = radius.bit_length()
        while ((across >> self.shift) + 1) * ((along >> self.shift) + 1) > _MOST_CELLS:
            self.shift += 1
        self.wide, self.high = (across >> self.shift) + 1, (along >> self.shift) + 1

    def find_cells(self, points: PointChunk) -> Int64Array:
        """Return the cell of each point of the slice, (n,)."""
        index = self._shift(points, "y", self.south).astype(np.int64)
        index *= self.wide
        index += self._shift(points, "x", self.west)
        return index

    def _shift(self, points: PointChunk, axis: str, least: int) -> NDArray[np.integer[Any]]:
        if points.span(axis)[1] - least < NEAR:
            return share_offsets(points, axis) >> np.uint32(self.shift)
        along = points.x if axis == "x" else points.y
        return (along - least) >> self.shift

    def list_cells(self, x: Int64Array, y: Int64Array) -> tuple[Int64Array, Int64Array]:
        """Return the cells that the circles round some places may touch, ascending, and whose.

        Args:
            x: eastings of the places, (m,).
            y: their northings, (m,).
        """
        steps = np.array([(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1)])
        column = ((x - self.west) >> self.shift)[:, np.newaxis] + steps[:, 0]
        row = ((y - self.south) >> self.shift)[:, np.newaxis] + steps[:, 1]
        inside = (column >= 0) & (column < self.wide) & (row >= 0) & (row < self.high)
        cells = (row * self.wide + column)[inside]
        owners = np.broadcast_to(np.arange(len(x))[:, np.newaxis], inside.shape)[inside]
        order = np.argsort(cells, kind="stable")
        return cells[order], owners[order]
