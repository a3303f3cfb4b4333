"""Faults of a survey that lie in its points."""

from __future__ import annotations

from typing import Self

import numpy as np
from numpy.typing import NDArray

from ledger.testing.scene import Float64Array, Points
from ledger.testing.tiles import TileName, TileSet

# Adjusted standard GPS time is GPS seconds minus 10^9 (ASPRS LAS 1.4 R15, global encoding bit 0).
_ADJUSTED = 1_000_000_000.0
_WEEK = 604_800.0


def _floats(points: Points, name: str) -> Float64Array:
    return points[name].astype(np.float64)


class PointFaults(TileSet):
    """One method a fault; each alters one tile and returns the survey."""

    def shift(self, tile: TileName, dx: float = 0.0, dy: float = 0.0, dz: float = 0.0) -> Self:
        """Move all points of a tile, units of the CRS."""

        def move(points: Points) -> None:
            for name, step in (("x", dx), ("y", dy), ("z", dz)):
                points[name] = _floats(points, name) + step

        return self.edit_points(tile, move)

    def shift_heights(self, tile: TileName, dz: float) -> Self:
        """Raise all points of a tile by `dz` units of Z."""
        return self.shift(tile, dz=dz)

    def shift_swath(self, source: int, dz: float, tile: TileName | None = None) -> Self:
        """Raise one swath by `dz` units of Z, in one tile or in all."""

        def move(points: Points) -> None:
            chosen = points["point_source_id"] == source
            points["z"] = _floats(points, "z") + np.where(chosen, dz, 0.0)

        for path in self.paths if tile is None else (self.path(tile),):
            self.edit_points(path.name, move)
        return self

    def stretch(self, tile: TileName, horizontal: float = 1.0, vertical: float = 1.0) -> Self:
        """Multiply coordinates, as a wrong unit does (3.28083… for US survey feet)."""

        def multiply(points: Points) -> None:
            for name, factor in (("x", horizontal), ("y", horizontal), ("z", vertical)):
                points[name] = _floats(points, name) * factor

        self.set_layout(tile, offset=None)
        return self.edit_points(tile, multiply)

    def swap_axes(self, tile: TileName) -> Self:
        """Store northing as X and easting as Y."""

        def swap(points: Points) -> None:
            points["x"], points["y"] = points["y"], points["x"]

        return self.edit_points(tile, swap)

    def move_point(
        self, tile: TileName, index: int, dx: float = 0.0, dy: float = 0.0, dz: float = 0.0
    ) -> Self:
        """Move one point, units of the CRS: noise, or an outlier."""

        def move(points: Points) -> None:
            for name, step in (("x", dx), ("y", dy), ("z", dz)):
                points[name] = _floats(points, name)
                points[name][index] += step

        return self.edit_points(tile, move)

    def set_field(self, tile: TileName, name: str, value: float | NDArray[np.generic]) -> Self:
        """Give a LAS field one value, or a value for each point."""

        def put(points: Points) -> None:
            points[name] = np.array(np.broadcast_to(value, len(points["x"])))

        return self.edit_points(tile, put)

    def all_times_zero(self, tile: TileName) -> Self:
        """Set every GPS time to zero."""
        return self.set_field(tile, "gps_time", 0.0)

    def shift_times(self, tile: TileName, seconds: float) -> Self:
        """Add seconds to every GPS time."""
        times = _floats(self.tile(tile).points, "gps_time") + seconds
        return self.set_field(tile, "gps_time", times)

    def week_times(self, tile: TileName) -> Self:
        """Store GPS times as seconds of the week; the flag in the header stays as it is."""
        times = (_floats(self.tile(tile).points, "gps_time") + _ADJUSTED) % _WEEK
        return self.set_field(tile, "gps_time", times)

    def coarse_times(self, tile: TileName) -> Self:
        """Send GPS times through 32-bit floats, which leaves steps of 16 or 32 seconds."""
        times = _floats(self.tile(tile).points, "gps_time").astype(np.float32).astype(np.float64)
        return self.set_field(tile, "gps_time", times)

    def zero_returns(self, tile: TileName) -> Self:
        """Set return number and number of returns to zero, which LAS does not allow."""
        self.set_field(tile, "return_number", 0)
        return self.set_field(tile, "number_of_returns", 0)

    def drop_points(self, tile: TileName, count: int = 1) -> Self:
        """Leave out the last `count` points; the header is right about what is left."""
        return self.keep_points(tile, np.arange(len(self.tile(tile).points["x"]) - count))

    def thin(self, tile: TileName, share: float) -> Self:
        """Keep about `share` of the points."""
        return self.keep_points(tile, self.choose(tile, share))

    def cut_hole(self, tile: TileName, x: float, y: float, radius: float) -> Self:
        """Leave out all points within `radius` of a place, units of X and Y."""
        points = self.tile(tile).points
        distance = np.hypot(_floats(points, "x") - x, _floats(points, "y") - y)
        return self.keep_points(tile, distance > radius)

    def duplicate_points(self, tile: TileName, count: int) -> Self:
        """Store the first `count` points twice."""
        total = len(self.tile(tile).points["x"])
        return self.keep_points(tile, np.concatenate([np.arange(total), np.arange(count)]))

    def shuffle(self, tile: TileName, seed: int = 11) -> Self:
        """Store the same points in another order."""
        total = len(self.tile(tile).points["x"])
        return self.keep_points(tile, np.random.default_rng(seed).permutation(total))

    def reclassify(self, tile: TileName, old: int | None, new: int) -> Self:
        """Give the points of class `old`, or all when it is None, the class `new`."""
        classes = self.tile(tile).points["classification"].copy()
        chosen = np.ones(len(classes), dtype=bool) if old is None else classes == old
        return self.set_field(tile, "classification", np.where(chosen, new, classes))

    def set_flag(self, tile: TileName, flag: str, share: float = 1.0) -> Self:
        """Set `withheld`, `synthetic`, `key_point` or `overlap` for about `share` of the points."""
        return self.set_field(tile, flag, self.choose(tile, share).astype(np.uint8))

    def empty_tile(self, tile: TileName) -> Self:
        """Leave out all points: a valid file with none."""
        return self.keep_points(tile, np.arange(0))
