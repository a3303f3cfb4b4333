"""What lies along the borders of a tile: its outermost points, and those beyond a neighbour's edge.

Points in the overlap of two tiles are kept as hashes of all that tells one point from another. When
they are too many, only hashes that end in more and more zero bits stay, so that both tiles keep the
same share of the same points whatever their order.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.seam_plan import Zone
from lidar_checks.cloud.slice_cells import find_between

Int64Array = NDArray[np.int64]
HashArray = NDArray[np.uint64]

MOST_HASHES = 1 << 15
_FAR = np.iinfo(np.int64).max
_TOP_LEVEL = 60
_K = tuple(
    np.uint64(k)
    for k in (
        0x9E3779B97F4A7C15,
        0xC2B2AE3D27D4EB4F,
        0x165667B19E3779F9,
        0xD6E8FEB86659FD93,
        0xBF58476D1CE4E5B9,
    )
)


@dataclass(frozen=True)
class Edge:
    """One border of a tile, lattice steps.

    Args:
        zone: the strip along it.
        is_low: the tile lies on the west or south side of the seam.
        low, high: ends, across, of the part that both tiles' boxes hold; low above high for none.
    """

    zone: Zone
    is_low: bool
    low: int
    high: int


@dataclass(frozen=True)
class EdgeSummary:
    """What was found along one border.

    Args:
        outermost: per window along the border, the place across of the point nearest to the other
            tile; `FAR` where there is none.
        points: points in the strip.
        beyond: points in the overlap.
        level: hashes are kept that end in so many zero bits.
        hashes: sorted, each once, uint64.
    """

    outermost: Int64Array
    points: int
    beyond: int
    level: int
    hashes: HashArray


FAR = _FAR


class EdgeTally:
    """The borders of one tile."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        """Take the borders."""
        self.edges = [_OneEdge(edge) for edge in edges]

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if len(points):
            for edge in self.edges:
                edge.add(points)

    def merge(self, other: EdgeTally) -> None:
        """Take in another part of the same tile."""
        for edge, part in zip(self.edges, other.edges, strict=True):
            edge.merge(part)

    def close(self) -> dict[int, EdgeSummary]:
        """Return what was found, by number of the seam."""
        return {edge.edge.zone.seam: edge.close() for edge in self.edges}


class _OneEdge:
    def __init__(self, edge: Edge) -> None:
        self.edge = edge
        # The border is looked at from the tile: what reaches furthest to the other side is least.
        self.sign = -1 if edge.is_low else 1
        self.outermost = np.full(edge.zone.rows, _FAR, dtype=np.int64)
        self.points = self.beyond = self.level = 0
        self.hashes: HashArray = np.empty(0, dtype=np.uint64)

    def add(self, points: PointChunk) -> None:
        zone = self.edge.zone
        across, along = (points.x, points.y) if zone.axis == "x" else (points.y, points.x)
        inside = find_between(points, zone.axis, zone.low, zone.high)
        if isinstance(inside, bool) and not inside:
            return
        chosen = np.arange(len(points)) if isinstance(inside, bool) else np.flatnonzero(inside)
        chosen = chosen[(along[chosen] >= zone.start) & (along[chosen] <= zone.stop)]
        chosen = chosen[~points["withheld"][chosen].astype(np.bool_)]
        if not len(chosen):
            return
        self.points += len(chosen)
        window = (along[chosen] - zone.start) // zone.cell
        np.minimum.at(self.outermost, window, self.sign * across[chosen])
        shared = chosen[(across[chosen] >= self.edge.low) & (across[chosen] <= self.edge.high)]
        if len(shared):
            self.beyond += len(shared)
            self._keep(_hash_points(points, shared), self.level)

    def merge(self, other: _OneEdge) -> None:
        self.points += other.points
        self.beyond += other.beyond
        np.minimum(self.outermost, other.outermost, out=self.outermost)
        self._keep(other.hashes, other.level)

    def close(self) -> EdgeSummary:
        held = self.outermost != _FAR
        outermost = np.where(held, self.sign * self.outermost, _FAR)
        return EdgeSummary(outermost, self.points, self.beyond, self.level, self.hashes)

    def _keep(self, hashes: HashArray, level: int) -> None:
        self.level = max(self.level, level)
        self.hashes = np.union1d(self.hashes, thin(hashes, self.level))
        self.hashes = thin(self.hashes, self.level)
        while len(self.hashes) > MOST_HASHES and self.level < _TOP_LEVEL:
            self.level += 1
            self.hashes = thin(self.hashes, self.level)


def thin(hashes: HashArray, level: int) -> HashArray:
    """Return the hashes that end in `level` zero bits."""
    return np.asarray(hashes[np.equal(hashes & np.uint64((1 << level) - 1), 0)])


def _hash_points(points: PointChunk, chosen: Int64Array) -> HashArray:
    """Return 64 well mixed bits for each point, from place, time and return number."""
    mixed = np.zeros(len(chosen), dtype=np.uint64)
    for key, axis in zip(_K, (points.x, points.y, points.z), strict=False):
        mixed += axis[chosen].astype(np.uint64) * key
        mixed ^= mixed >> np.uint64(29)
    if "gps_time" in points.names:
        time = np.ascontiguousarray(points["gps_time"][chosen].astype(np.float64) + 0.0)
        mixed += time.view(np.uint64) * _K[3]
        mixed ^= mixed >> np.uint64(31)
    mixed += points["return_number"][chosen].astype(np.uint64)
    mixed *= _K[4]
    mixed ^= mixed >> np.uint64(32)
    mixed *= _K[0]
    mixed ^= mixed >> np.uint64(29)
    return mixed
