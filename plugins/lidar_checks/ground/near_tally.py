"""Points of one file round surveyed points, in memory that is bounded however dense the cloud is.

Counts are of all points. Of the points themselves, each place keeps for each ring and group those
with the smallest hashes of their content, so that order, chunks and files leave no trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import GROUND, HIGH_NOISE, LOW_NOISE
from lidar_checks.ground.flown import Flown, FlownTally, Minutes, find_minutes, join_minutes
from lidar_checks.ground.point_index import Int64Array, Near, PointIndex

# Kept points of a ring and group: a plane through 512 of 3 cm noise lies within 1.3 mm.
KEPT = 512
# Rows that wait before the surplus is dropped.
_WAITING = 1 << 15
_MIX = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB)
_K1, _K2, _K3, _K4 = (np.uint64(k) for k in _MIX)
_NOISE = (LOW_NOISE, HIGH_NOISE)
_SOURCES = 1 << 16

RINGS = 4
"""Number of nested circles round a place."""


@dataclass(frozen=True)
class NearPoints:
    """Kept points; each array (n,).

    Args:
        place: index of the surveyed point, int64.
        ring: 0 for the innermost circle, int64.
        x, y, z: lattice steps, int64.
        code: class, uint8.
        last: the last or only return of its pulse, bool.
        source: point source id, uint16.
        time: GPS time as stored; 0 where the format has none, float64.
    """

    place: Int64Array
    ring: Int64Array
    x: Int64Array
    y: Int64Array
    z: Int64Array
    code: NDArray[np.uint8]
    last: NDArray[np.bool_]
    source: NDArray[np.uint16]
    time: NDArray[np.float64]

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.place)

    @property
    def is_ground(self) -> NDArray[np.bool_]:
        """Say of each point whether it is of the ground class."""
        return np.asarray(self.code == GROUND)

    def take(self, chosen: NDArray[np.bool_] | Int64Array | slice) -> NearPoints:
        """Return some of the points."""
        return NearPoints(*(getattr(self, name)[chosen] for name in _NAMES))


_NAMES = tuple(field.name for field in fields(NearPoints))
_TYPES = (*(np.int64,) * 5, np.uint8, np.bool_, np.uint16, np.float64)


def join_points(parts: Sequence[NearPoints]) -> NearPoints:
    """Return the points of several parts."""
    if not parts:
        empty: list[Any] = [np.empty(0, dtype=kind) for kind in _TYPES]
        return NearPoints(*empty)
    return NearPoints(*(np.concatenate([getattr(part, name) for part in parts]) for name in _NAMES))


@dataclass(frozen=True)
class Spot:
    """What one ring of one place holds in one file; exact.

    Args:
        ground: points of the ground class.
        other: points of other classes, without noise.
        first, last: least and greatest GPS time, as stored; 0 where the format has none.
        sources: point source ids, sorted.
        minutes: whole minutes of GPS time; None where the times are no clock's.
    """

    ground: int = 0
    other: int = 0
    first: float = 0.0
    last: float = 0.0
    sources: tuple[int, ...] = ()
    minutes: Minutes = frozenset()

    def join(self, more: Spot) -> Spot:
        """Return what both hold."""
        return Spot(
            self.ground + more.ground,
            self.other + more.other,
            min(self.first, more.first),
            max(self.last, more.last),
            tuple(sorted({*self.sources, *more.sources})),
            join_minutes(self.minutes, more.minutes),
        )


@dataclass(frozen=True)
class NearSummary:
    """What is left of a file.

    Args:
        points: the kept points, ordered by place, ring and content.
        spots: what each ring holds, by place and ring.
        has_ground: the file has points of the ground class anywhere.
        timed: the point format has GPS times.
        flown: the strips and minutes of all points of the file.
    """

    points: NearPoints
    spots: dict[tuple[int, int], Spot]
    has_ground: bool
    timed: bool
    flown: Flown


class NearTally:
    """The points near surveyed points in one file."""

    def __init__(self, index: PointIndex, radii: tuple[int, ...]) -> None:
        """Take the places and the radii of their rings, ascending, lattice steps."""
        self.index = index
        self.squares = np.array([radius**2 for radius in radii], dtype=np.int64)
        self.parts: list[NearPoints] = []
        self.waiting = 0
        self.spots: dict[tuple[int, int], Spot] = {}
        self.has_ground = False
        self.timed = False
        self.flown = FlownTally()

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        codes = cast("NDArray[np.uint8]", points["classification"])
        self.has_ground = self.has_ground or bool((codes == GROUND).any())
        self.timed = self.timed or (bool(len(points)) and "gps_time" in points.names)
        self.flown.chunk(points)
        near = self.index.find(points)
        if near is None:
            return
        found = self._pick(points, near)
        if len(found):
            self._count(found)
            self._keep(found)

    def merge(self, other: NearTally) -> None:
        """Take in another part of the same file."""
        self.has_ground |= other.has_ground
        self.timed |= other.timed
        self.flown.merge(other.flown)
        for key, spot in other.spots.items():
            self._add(key, spot)
        for part in other.parts:
            self._keep(part)

    def close(self) -> NearSummary:
        """Drop what is not kept."""
        return NearSummary(
            points=_keep_smallest(join_points(self.parts)),
            spots=dict(sorted(self.spots.items())),
            has_ground=self.has_ground,
            timed=self.timed,
            flown=self.flown.close(),
        )

    def _pick(self, points: PointChunk, near: Near) -> NearPoints:
        at = near.point
        codes = points["classification"][at].astype(np.uint8)
        time = np.zeros(len(at))
        if "gps_time" in points.names:
            # What is no time at all is none here; adding zero makes one zero of both.
            time = np.nan_to_num(points["gps_time"][at].astype(np.float64)) + 0.0
        picked = NearPoints(
            place=near.place,
            ring=np.searchsorted(self.squares, near.square).astype(np.int64),
            x=points.x[at],
            y=points.y[at],
            z=points.z[at],
            code=codes,
            last=np.asarray(
                points["return_number"][at] >= points["number_of_returns"][at]  # type: ignore[operator]
            ),
            source=points["point_source_id"][at].astype(np.uint16),
            time=time,
        )
        good = ~points["withheld"][at].astype(np.bool_) & ~np.isin(codes, _NOISE)
        return picked.take(good)

    def _count(self, found: NearPoints) -> None:
        key = found.place * RINGS + found.ring
        order = np.argsort(key, kind="stable")
        part, key = found.take(order), key[order]
        begin = np.flatnonzero(np.diff(key, prepend=-1))
        ends = np.append(begin[1:], len(key))
        ground = np.add.reduceat(part.is_ground.astype(np.int64), begin)
        first = np.minimum.reduceat(part.time, begin)
        last = np.maximum.reduceat(part.time, begin)
        strips = np.unique(key * _SOURCES + part.source)
        edges = [*np.searchsorted(strips, key[begin] * _SOURCES).tolist(), len(strips)]
        for spot, (start, end) in enumerate(zip(begin.tolist(), ends.tolist(), strict=True)):
            sources = strips[edges[spot] : edges[spot + 1]] % _SOURCES
            self._add(
                divmod(int(key[start]), RINGS),
                Spot(
                    int(ground[spot]),
                    end - start - int(ground[spot]),
                    float(first[spot]),
                    float(last[spot]),
                    tuple(sources.tolist()),
                    find_minutes(part.time[start:end]),
                ),
            )

    def _add(self, key: tuple[int, int], spot: Spot) -> None:
        known = self.spots.get(key)
        self.spots[key] = spot if known is None else known.join(spot)

    def _keep(self, found: NearPoints) -> None:
        self.parts.append(found)
        self.waiting += len(found)
        if self.waiting > _WAITING:
            kept = _keep_smallest(join_points(self.parts))
            self.parts = [kept]
            # What is kept anyway does not wait, however much it is.
            self.waiting = 0


def _keep_smallest(points: NearPoints) -> NearPoints:
    """Return, of each place, ring and group, the points with the smallest hashes."""
    if not len(points):
        return points
    group = (points.place * RINGS + points.ring) * 2 + points.is_ground
    content = (points.time, points.source, points.last, points.code, points.z, points.y, points.x)
    order = np.lexsort((*content, _hash(points), group))
    group = group[order]
    begin = np.flatnonzero(np.diff(group, prepend=-1))
    rank = np.arange(len(group)) - np.repeat(begin, np.diff(begin, append=len(group)))
    return points.take(order[rank < KEPT])


def _hash(points: NearPoints) -> NDArray[np.uint64]:
    """Return 64 well mixed bits of what each point is (multiplicative, as in splitmix64)."""
    mixed = points.x.view(np.uint64) * _K1 + points.y.view(np.uint64) * _K2
    mixed += points.z.view(np.uint64) * _K3 + points.time.view(np.uint64) * _K4
    mixed += points.code.astype(np.uint64) + (points.source.astype(np.uint64) << np.uint64(8))
    mixed ^= mixed >> np.uint64(30)
    mixed *= _K3
    mixed ^= mixed >> np.uint64(27)
    mixed *= _K4
    mixed ^= mixed >> np.uint64(31)
    return mixed
