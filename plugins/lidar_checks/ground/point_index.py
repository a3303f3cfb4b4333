"""Which points of a slice lie near which surveyed point; most slices lie near none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Int64Array = NDArray[np.int64]

# The bands of a slice fit into the processor's cache.
_MOST_BANDS = 1 << 14


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

    def find(self, x: Int64Array, y: Int64Array) -> Near | None:
        """Return the pairs of a slice, by surveyed point and then by point; None where none is.

        Args:
            x: eastings of the points, lattice steps, (n,).
            y: their northings, (n,).
        """
        if not len(x) or not len(self.x):
            return None
        low = int(x.min())
        near = slice(*np.searchsorted(self.x, (low - self.radius, int(x.max()) + self.radius + 1)))
        if near.start == near.stop:
            return None
        south, north = int(y.min()) - self.radius, int(y.max()) + self.radius
        inside = (self.y[near] >= south) & (self.y[near] <= north)
        places = near.start + np.flatnonzero(inside)
        if not len(places):
            return None
        candidates = self._find_candidates(x, places)
        return self._pair(x, y, candidates, places)

    def _find_candidates(self, x: Int64Array, places: Int64Array) -> Int64Array:
        """Return the points whose band of eastings holds a place."""
        low = int(x.min())
        span = int(x.max()) - low
        # A power of two, since a shift costs a tenth of a division.
        shift = max(self.radius.bit_length() - 1, (span // _MOST_BANDS).bit_length())
        held = np.zeros((span >> shift) + 1, dtype=np.bool_)
        for place in self.x[places].tolist():
            first, last = place - self.radius - low, place + self.radius - low
            held[max(0, first >> shift) : max(0, (last >> shift) + 1)] = True
        return np.flatnonzero(held[(x - low) >> shift])

    def _pair(
        self, x: Int64Array, y: Int64Array, candidates: Int64Array, places: Int64Array
    ) -> Near | None:
        order = candidates[np.argsort(x[candidates], kind="stable")]
        east, north = x[order], y[order]
        found: list[tuple[Int64Array, int, Int64Array]] = []
        for place in places.tolist():
            at_x, at_y = int(self.x[place]), int(self.y[place])
            begin, end = np.searchsorted(east, (at_x - self.radius, at_x + self.radius + 1))
            near = begin + np.flatnonzero(np.abs(north[begin:end] - at_y) <= self.radius)
            square = (east[near] - at_x) ** 2 + (north[near] - at_y) ** 2
            inside = square <= self.radius**2
            if inside.any():
                found.append((order[near[inside]], int(self.order[place]), square[inside]))
        if not found:
            return None
        return Near(
            np.concatenate([points for points, _, _ in found]),
            np.concatenate([np.full(len(points), place) for points, place, _ in found]),
            np.concatenate([square for _, _, square in found]),
        )
