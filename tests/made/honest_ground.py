"""The shapes of honest ground: faces, slopes, buildings, bridges, and water that gives nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ledger.testing import Scene
from ledger.testing.scene import Float64Array, Points


@dataclass(frozen=True)
class Ground(Scene):
    """A scene whose ground, vegetation and returns can be given another shape.

    Args:
        shape: what is added to the smooth ground: takes x and y from the origin.
        absorbs: where no pulse comes back; takes the same.
        returns: most returns of a pulse in vegetation.
    """

    shape: Callable[[Float64Array, Float64Array], Float64Array] | None = None
    absorbs: Callable[[Float64Array, Float64Array], Any] | None = None
    returns: int = 2

    def compute_ground(self, x: Float64Array, y: Float64Array) -> Float64Array:
        """Return the true height of the ground, units of Z."""
        smooth = super().compute_ground(x, y)
        if self.shape is None:
            return smooth
        east, north = np.asarray(x) - self.origin[0], np.asarray(y) - self.origin[1]
        return smooth + self.shape(east, north)

    def make_tile(self, column: int, row: int) -> Points:
        """Return the points of one tile; those that were absorbed are not among them."""
        points = super().make_tile(column, row)
        if self.returns > 2:
            points = self._split_returns(points, column, row)
        if self.absorbs is None:
            return points
        east = points["x"].astype(np.float64) - self.origin[0]
        north = points["y"].astype(np.float64) - self.origin[1]
        kept = ~np.asarray(self.absorbs(east, north), dtype=bool)
        return {name: values[kept] for name, values in points.items()}

    def _split_returns(self, points: Points, column: int, row: int) -> Points:
        """Give pulses with two returns some more on their way down."""
        random = np.random.default_rng((self.seed, column, row, 99))
        first = (points["return_number"] == 1) & (points["number_of_returns"] == 2)
        more = np.where(first, random.integers(0, self.returns - 1, len(first)), 0)
        last_more = np.where(points["return_number"] == 2, np.roll(more, 1), more)
        repeats = 1 + more
        whole: Points = {name: np.repeat(values, repeats) for name, values in points.items()}
        place = np.arange(len(whole["x"])) - np.repeat(np.cumsum(repeats) - repeats, repeats)
        extra = np.repeat(last_more, repeats)
        was_last = np.repeat(points["return_number"] == 2, repeats)
        whole["z"] = whole["z"].astype(np.float64) - 0.9 * place / self.returns
        whole["return_number"] = (np.where(was_last, 2 + extra, 1 + place)).astype(np.uint8)
        total = np.repeat(points["number_of_returns"], repeats) + extra
        whole["number_of_returns"] = total.astype(np.uint8)
        return whole


def quarry_face(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a face of 8 m, exactly where the first tile ends."""
    return np.where(east < 40.0, 0.0, -8.0) + 0.0 * north


def pit(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a pit of 4 m with a level floor, two of whose faces stand where tiles end."""
    inside = (east > 40.0) & (east < 68.0) & (north > 40.0) & (north < 68.0)
    return np.where(inside, -4.0, 0.0)


def slope(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a hillside of 35 degrees."""
    return 0.7 * east + 0.0 * north


def terraces(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return walls of 1.5 m, one of them where the first tile ends."""
    return 1.5 * np.floor(east / 8.0) + 0.0 * north


def towers(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return blocks of 30 m, one of them over the border of the tiles."""
    inside = (np.abs(east - 40.0) < 6.0) & (np.abs(north - 12.0) < 6.0)
    other = (np.abs(east - 62.0) < 5.0) & (np.abs(north - 28.0) < 5.0)
    return np.where(inside | other, 30.0, 0.0)


def bridge(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a valley of 9 m with a deck across it, over the border of the tiles."""
    valley = -9.0 * np.exp(-(((east - 40.0) / 12.0) ** 2))
    return np.where(np.abs(north - 20.0) < 3.0, 0.0, valley)


def pond(east: Float64Array, north: Float64Array) -> Any:
    """Return where a pond lets no pulse come back."""
    return np.hypot(east - 40.0, north - 20.0) < 9.0
