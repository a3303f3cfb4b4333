"""Points of some patches of ground, in bounded memory.

Which patches are kept hangs on a hash of their place alone: those whose hash ends in `level` zero
bits. The level rises by one whenever the kept points pass a limit, so that it ends as the least
level with which they fit; order, chunks and merging leave no trace. It begins with the level that
all files of a delivery share. Of dense clouds a part of the points is kept, again by their hash.
"""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import HIGH_NOISE, LOW_NOISE
from lidar_checks.swath.patch_window import PatchWindow

Int64Array = NDArray[np.int64]

# Snow and water give no surface that two passes could be held to (USGS Lidar Base Specification
# 2025 rev. A, "Interswath Consistency"); vegetation gives none in the first place.
_NO_SURFACE = (3, 4, 5, 9, 21)
_TOP_LEVEL = 40
# Returns of one pulse share a time, and no scanner has so many (common practice, no source).
_POINTS_A_TIME = 50
_HEADROOM = 1
_K1, _K2, _K3 = (np.uint64(k) for k in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0xBF58476D1CE4E5B9))
_SURFACE = np.ones(256, dtype=np.bool_)
_SURFACE[list(_NO_SURFACE)] = False


@dataclass(frozen=True)
class Kept:
    """Points of the kept patches; each array (n,).

    Args:
        x, y, z: coordinates, lattice steps, int64.
        source: point source id, uint16.
        time: GPS time as stored, float64; zeros where the format has none.
        surface: an only return, of no class that rules a surface out, bool.
    """

    x: Int64Array
    y: Int64Array
    z: Int64Array
    source: NDArray[np.uint16]
    time: NDArray[np.float64]
    surface: NDArray[np.bool_]

    def take(self, chosen: NDArray[np.bool_] | Int64Array) -> Kept:
        """Return some of the points."""
        return Kept(*(getattr(self, name)[chosen] for name in _NAMES))


_NAMES = ("x", "y", "z", "source", "time", "surface")


def drop_coarse_times(kept: Kept) -> Kept:
    """Return points without times where these come in steps too coarse to part two passes.

    Times that went through 32-bit floats have a few values for a whole file.
    """
    step = np.diff(kept.time)
    in_order = bool((step >= 0).all())
    distinct = 1 + np.count_nonzero(step) if in_order else len(np.unique(kept.time))
    if distinct * _POINTS_A_TIME >= len(kept.time):
        return kept
    return replace(kept, time=np.zeros(len(kept.time)))


def join_kept(parts: list[Kept]) -> Kept:
    """Return all points of some parts, at least one."""
    return Kept(*(np.concatenate([getattr(part, name) for part in parts]) for name in _NAMES))


class PatchSample:
    """The kept patches of one file."""

    def __init__(
        self, side: int, limit: int, expected: int = 0, level: int = 0, bits: int = 0
    ) -> None:
        """Take the side of a patch in lattice steps, and how many points may be kept.

        Args:
            side: side of a patch.
            limit: most points.
            expected: points that the file states; it begins on a level at which they fit, and a
                little more, so that few points are kept to be dropped again.
            level: the least level.
            bits: of the points in a kept patch those stay whose hash ends in so many zero bits.
        """
        self.side, self.limit, self.bits = side, limit, bits
        own = ((expected >> bits) // limit).bit_length() - _HEADROOM
        self.level = min(_TOP_LEVEL, max(0, level, own))
        self.count = 0
        self.parts: list[Kept] = []

    def add(self, points: PointChunk, window: PatchWindow) -> None:
        """Take in the points of a slice that lie in kept patches."""
        chosen = self._choose(window)
        if len(chosen):
            codes = cast("NDArray[np.uint8]", points["classification"]).take(chosen)
            good = (codes != LOW_NOISE) & (codes != HIGH_NOISE)
            good &= np.equal(points["withheld"].take(chosen), 0)
            if not good.all():
                chosen, codes = chosen[good], codes[good]
            self._keep(self._thin_out(_pick(points, chosen, codes)))

    def merge(self, other: PatchSample) -> None:
        """Take in another part of the same file."""
        self.level = max(self.level, other.level)
        parts = [*self.parts, *other.parts]
        self.parts, self.count = [], 0
        for part in parts:
            self._keep(self._filter(part))

    def close(self) -> Kept | None:
        """Return the kept points; None where there are none."""
        return join_kept(self.parts) if self.count else None

    def _choose(self, window: PatchWindow) -> Int64Array:
        if not self.level:
            return np.arange(len(window.points))
        if not window.is_dense:
            return np.flatnonzero(self._is_kept(*window.places))
        table = self._is_kept(*window.list_patches()).reshape(-1)
        return np.flatnonzero(table.take(window.index))

    def _is_kept(self, columns: Int64Array, rows: Int64Array) -> NDArray[np.bool_]:
        low = np.uint64((1 << self.level) - 1)
        return np.asarray(np.equal(hash_place(columns, rows) & low, 0))

    def _thin_out(self, part: Kept) -> Kept:
        if not self.bits:
            return part
        mixed = hash_place(part.x, part.y) ^ hash_place(part.z, part.time.view(np.int64))
        return part.take(np.equal(mixed & np.uint64((1 << self.bits) - 1), 0))

    def _filter(self, part: Kept) -> Kept:
        return part.take(self._is_kept(part.x // self.side, part.y // self.side))

    def _keep(self, part: Kept) -> None:
        self.parts.append(part)
        self.count += len(part.x)
        while self.count > self.limit and self.level < _TOP_LEVEL:
            self.level += 1
            self.parts = [each for each in map(self._filter, self.parts) if len(each.x)]
            self.count = sum(len(each.x) for each in self.parts)


def hash_place(columns: Int64Array, rows: Int64Array) -> NDArray[np.uint64]:
    """Return 64 well mixed bits for each place (multiplicative hashing, as in splitmix64)."""
    mixed = columns.astype(np.uint64) * _K1 + rows.astype(np.uint64) * _K2
    mixed ^= mixed >> np.uint64(31)
    mixed *= _K3
    mixed ^= mixed >> np.uint64(29)
    return mixed


def _pick(points: PointChunk, chosen: Int64Array, codes: NDArray[np.uint8]) -> Kept:
    single = np.less_equal(points["number_of_returns"].take(chosen), 1)
    time = np.zeros(len(chosen))
    if "gps_time" in points.names:
        time = points["gps_time"].take(chosen).astype(np.float64, copy=False)
        if not np.isfinite(time).all():
            # What is no time at all is none here.
            time = np.nan_to_num(time)
        time = time + 0.0  # one zero of both
    return Kept(
        points.x.take(chosen),
        points.y.take(chosen),
        points.z.take(chosen),
        points["point_source_id"].take(chosen).astype(np.uint16, copy=False),
        time,
        single & _SURFACE[codes],
    )
