"""The points of a tiny survey: a smooth ground, flown in parallel passes, with some vegetation.

Everything follows from the seed, so that the same scene always gives the same points. The ground is
a formula, so that a test knows the true height anywhere.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

Float64Array = NDArray[np.float64]
Points = dict[str, NDArray[np.generic]]

GROUND_CLASS = 2
VEGETATION_CLASS = 5

_SECONDS_BETWEEN_PASSES = 200.0
_SPEED = 5.0
_FLYING_HEIGHT = 60.0


@dataclass(frozen=True)
class Scene:
    """What was flown.

    Args:
        columns: tiles from west to east.
        rows: tiles from south to north.
        tile_size: side of a tile, units of X and Y.
        origin: south-west corner, units of X and Y.
        passes: swaths; each covers everything and has a point source id of its own, from 1.
        density: pulses a square unit in one pass.
        vegetation: share of the pulses with two returns, the first in vegetation, the second on
            the ground.
        height: mean height of the ground, units of Z.
        relief: amplitude of the ground, units of Z; its slope stays below 5 degrees at 0.4.
        noise: standard deviation of heights about the ground, units of Z.
        seed: start of the random numbers.
        first_time: when the first pass begins, GPS seconds minus 10^9; a day in 2021.
    """

    columns: int = 2
    rows: int = 1
    tile_size: float = 20.0
    origin: tuple[float, float] = (500_000.0, 3_100_000.0)
    passes: int = 2
    density: float = 4.0
    vegetation: float = 0.15
    height: float = 20.0
    relief: float = 0.4
    noise: float = 0.0
    seed: int = 1
    first_time: float = 300_000_000.0

    def compute_ground(self, x: Float64Array, y: Float64Array) -> Float64Array:
        """Return the true height of the ground.

        Args:
            x: easting, units of X, (n,) or a number.
            y: northing, units of Y, like `x`.
        """
        east = (np.asarray(x) - self.origin[0]) / self.tile_size
        north = (np.asarray(y) - self.origin[1]) / self.tile_size
        waves = np.sin(east * 3.4) + 0.7 * np.cos(north * 4.3)
        return np.asarray(self.height + self.relief * waves, dtype=np.float64)

    def make_tile(self, column: int, row: int) -> Points:
        """Return the points of one tile, pass after pass, each in the order of its pulses."""
        passes = [self._make_pass(column, row, number) for number in range(self.passes)]
        return {name: np.concatenate([one[name] for one in passes]) for name in passes[0]}

    def _make_pass(self, column: int, row: int, number: int) -> Points:
        random = np.random.default_rng((self.seed, column, row, number))
        x, y = self._make_pulses(column, row, random)
        along = x - self.origin[0]
        if number % 2:  # every second pass is flown back
            along = self.columns * self.tile_size - along
        order = np.argsort(along, kind="stable")
        x, y, along = x[order], y[order], along[order]
        time = self.first_time + number * _SECONDS_BETWEEN_PASSES + along / _SPEED
        middle = self.origin[1] + self.rows * self.tile_size / 2
        pulses: Points = {
            "x": x,
            "y": y,
            "gps_time": time,
            "scan_angle": np.degrees(np.arctan((y - middle) / _FLYING_HEIGHT)),
            "point_source_id": np.full(len(x), number + 1, dtype=np.uint16),
            "intensity": random.integers(1_000, 60_000, len(x)).astype(np.uint16),
        }
        return self._add_returns(pulses, random)

    def _make_pulses(
        self, column: int, row: int, random: np.random.Generator
    ) -> tuple[Float64Array, Float64Array]:
        lines = max(1, round(self.tile_size * self.density**0.5))
        spacing = self.tile_size / lines
        cells = np.stack(np.meshgrid(np.arange(lines), np.arange(lines)), axis=-1).reshape(-1, 2)
        # Jitter inside the middle of each cell, so that no pulse falls on a tile border.
        corner = cells + random.uniform(0.1, 0.9, cells.shape)
        x = self.origin[0] + column * self.tile_size + corner[:, 0] * spacing
        y = self.origin[1] + row * self.tile_size + corner[:, 1] * spacing
        return x, y

    def _add_returns(
        self, pulses: Mapping[str, NDArray[np.generic]], random: np.random.Generator
    ) -> Points:
        count = len(pulses["x"])
        tall = random.random(count) < self.vegetation
        repeats = np.where(tall, 2, 1)
        points: Points = {name: np.repeat(array, repeats) for name, array in pulses.items()}
        total = np.repeat(repeats, repeats)
        last = np.zeros(len(total), dtype=bool)
        last[np.cumsum(repeats) - 1] = True
        ground = self.compute_ground(
            np.asarray(points["x"], dtype=np.float64), np.asarray(points["y"], dtype=np.float64)
        )
        canopy = np.repeat(random.uniform(1.0, 4.0, count), repeats)
        spread = random.normal(0.0, 1.0, len(total)) * self.noise
        points["z"] = ground + spread + np.where(last, 0.0, canopy)
        points["number_of_returns"] = total.astype(np.uint8)
        points["return_number"] = np.where(last, total, 1).astype(np.uint8)
        points["classification"] = np.where(last, GROUND_CLASS, VEGETATION_CLASS).astype(np.uint8)
        return points
