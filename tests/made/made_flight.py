"""Made flights: parallel passes over a ground of any shape, with faults planted where wanted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from made_cloud import ORIGIN, Delivery, Floats, make_crs

from ledger.model.chunk import PointChunk
from ledger.testing import make_chunk
from ledger.units import METRE, Unit

Shape = Callable[[Floats, Floats], Floats]


def level(x: Floats, y: Floats) -> Floats:
    """Return level ground; x and y from the corner of the site, metres."""
    return np.zeros_like(x + y)


@dataclass(frozen=True)
class Flight:
    """Passes that fly north, side by side, cut into tiles.

    Args:
        width: of the site, metres.
        height: of the site, metres.
        tile: side of a tile, metres.
        passes: number of passes.
        swath: width of what a pass sees; None for the whole site.
        density: pulses a m² in one pass.
        noise: standard deviation of heights, metres.
        ground: height of the ground.
        canopy: share of pulses with a first return 4 to 15 m up.
        raise_by: what is added to the heights of a pass, by its id, from 1: takes x and y.
        ids: point source id by number of the pass; None for the number itself.
        time_step: seconds between two passes.
        unit: unit of all axes.
        seed: start of the random numbers.
    """

    width: float = 80.0
    height: float = 80.0
    tile: float = 80.0
    passes: int = 2
    swath: float | None = None
    density: float = 10.0
    noise: float = 0.015
    ground: Shape = level
    canopy: float = 0.0
    raise_by: Mapping[int, Shape] = field(default_factory=dict)
    ids: Mapping[int, int] | None = None
    time_step: float = 200.0
    unit: Unit = METRE
    seed: int = 5

    def make_points(self) -> dict[str, Any]:
        """Return all points, pass after pass, metres from the corner of the site."""
        parts = [self._make_pass(number) for number in range(1, self.passes + 1)]
        return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}

    def _make_pass(self, number: int) -> dict[str, Any]:
        random = np.random.default_rng((self.seed, number))
        middle = (number - 0.5) * self.width / self.passes
        low, high = 0.0, self.width
        if self.swath is not None:
            low, high = max(0.0, middle - self.swath / 2), min(high, middle + self.swath / 2)
        count = int(self.density * (high - low) * self.height)
        x, y = random.uniform(low, high, count), np.sort(random.uniform(0, self.height, count))
        z = self.ground(x, y) + random.normal(0, 1, count) * self.noise
        z = z + self.raise_by.get(number, level)(x, y)
        tall = random.random(count) < self.canopy
        repeats = np.where(tall, 2, 1)
        last = np.zeros(int(repeats.sum()), dtype=bool)
        last[np.cumsum(repeats) - 1] = True
        total = np.repeat(repeats, repeats)
        up = np.where(last, 0.0, np.repeat(random.uniform(4.0, 15.0, count), repeats))
        name = number if self.ids is None else self.ids[number]
        time = 3e8 + number * self.time_step + y / 5.0 if self.time_step else 0.0 * y
        return {
            "x": np.repeat(x, repeats),
            "y": np.repeat(y, repeats),
            "z": np.repeat(z, repeats) + up,
            "gps_time": np.repeat(time, repeats),
            "return_number": np.where(last, total, 1).astype(np.uint8),
            "number_of_returns": total.astype(np.uint8),
            "classification": np.where(last, 2, 5).astype(np.uint8),
            "withheld": np.zeros(len(last), dtype=bool),
            "point_source_id": np.full(len(last), name, dtype=np.uint16),
        }

    def deliver(self, points: Mapping[str, Any] | None = None) -> Delivery:
        """Return the points, or others given, cut into tiles named by column and row."""
        points = self.make_points() if points is None else points
        delivery = Delivery()
        for column in range(int(np.ceil(self.width / self.tile))):
            for row in range(int(np.ceil(self.height / self.tile))):
                inside = points["x"] // self.tile == column
                inside &= points["y"] // self.tile == row
                chunk = self.make_chunk({name: each[inside] for name, each in points.items()})
                delivery.add(f"tile_{column}_{row}.laz", chunk, crs=make_crs(self.unit))
        return delivery

    def make_chunk(self, points: Mapping[str, Any]) -> PointChunk:
        """Return points as they are stored: with the origin of the site, in its unit."""
        factor = 1 / float(self.unit.factor)
        placed = {
            "x": (points["x"] + ORIGIN[0]) * factor,
            "y": (points["y"] + ORIGIN[1]) * factor,
            "z": (points["z"] + 100.0) * factor,
        }
        return make_chunk({**points, **placed})


def append(points: Mapping[str, Any], x: Any, y: Any, z: Any, **fields: Any) -> dict[str, Any]:
    """Return points with some more, alike in all else to the first one unless given."""
    count = len(np.atleast_1d(x))
    more = {name: np.repeat(each[:1], count) for name, each in points.items()}
    more |= {"x": np.atleast_1d(x), "y": np.atleast_1d(y), "z": np.atleast_1d(z)}
    more |= {name: np.full(count, value) for name, value in fields.items()}
    return {name: np.concatenate([points[name], more[name]]) for name in points}
