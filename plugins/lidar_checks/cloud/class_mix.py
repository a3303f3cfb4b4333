"""How the points along the borders of a tile are classed, and what kind of returns they are.

Counts in bands along each seam: the band at the seam and those behind it. The returns that are not
alone in their pulse are counted beside the classes, since trees change both, and another way of
classing only one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import HIGH_NOISE, LOW_NOISE
from lidar_checks.cloud.seam_plan import Box, Seam, Zone
from lidar_checks.cloud.slice_cells import find_outside

# The surface itself, whatever covers it: ground, model key-points, water, rail, road, ignored
# ground, snow (LAS 1.4 R15, tables 9 and 17).
_SURFACE = (2, 8, 9, 10, 11, 20, 21)

_IS_SURFACE = np.zeros(256, dtype=np.int64)
_IS_SURFACE[list(_SURFACE)] = 1

BANDS = 3
"""Bands on each side of a seam, the first at the seam."""

# Points of a part of a band: neither, surface, several returns, both.
_KINDS = 4
_SURFACE_KINDS, _SEVERAL_KINDS = (1, 3), (2, 3)

Int64Array = NDArray[np.int64]


@dataclass(frozen=True)
class Strip:
    """One side of one seam, as it is counted.

    Args:
        seam: number of the seam.
        axis: direction across it.
        line: place of the border of this side, lattice steps.
        away: +1 where the tile lies above the line, -1 where it lies below.
        start: where the seam begins along.
        stop: where it ends.
        band: width of a band, lattice steps.
        part: length of a part along the seam.
    """

    seam: int
    axis: str
    line: int
    away: int
    start: int
    stop: int
    band: int
    part: int

    @property
    def parts(self) -> int:
        """Return the number of parts along the seam."""
        return (self.stop - self.start) // self.part + 1


def list_strips(seam: Seam, band: int, part: int) -> tuple[Strip, Strip]:
    """Return both sides of a seam, the low tile first."""

    def lay(zone: Zone, line: int, away: int) -> Strip:
        return Strip(seam.number, zone.axis, line, away, seam.start, seam.stop, band, part)

    return lay(seam.zones[0], seam.zones[0].high, -1), lay(seam.zones[1], seam.zones[1].low, 1)


@dataclass(frozen=True)
class MixSummary:
    """What is left of a tile.

    Args:
        points: points read.
        strips: counts by number of the seam, (parts, bands, kinds).
    """

    points: int
    strips: Mapping[int, Int64Array]


class MixTally:
    """Classes along the borders of one tile."""

    def __init__(self, box: Box, strips: Sequence[Strip]) -> None:
        """Take the box that the header states and the strips to count."""
        self.points = 0
        self.strips = tuple(strips)
        self.counts = [
            np.zeros((strip.parts, BANDS, _KINDS), dtype=np.int64) for strip in self.strips
        ]
        self.inner = _find_inner(box, self.strips)

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        self.points += len(points)
        if not self.strips or not len(points):
            return
        inner = self.inner
        chosen = find_outside(points, (inner.x0, inner.x1), (inner.y0, inner.y1))
        if not len(chosen):
            return
        codes = cast("NDArray[np.uint8]", points["classification"]).take(chosen)
        good = (codes != LOW_NOISE) & (codes != HIGH_NOISE)
        good &= np.equal(points["withheld"].take(chosen), 0)
        if not good.all():
            chosen, codes = chosen[good], codes[good]
        total = cast("NDArray[np.uint8]", points["number_of_returns"]).take(chosen)
        kind = _IS_SURFACE[codes] + 2 * (total > 1)
        x, y = points.x.take(chosen), points.y.take(chosen)
        for number, strip in enumerate(self.strips):
            self.counts[number] += _count(strip, x, y, kind)

    def merge(self, other: MixTally) -> None:
        """Take in another part of the same tile."""
        self.points += other.points
        for number, counts in enumerate(other.counts):
            self.counts[number] += counts

    def close(self) -> MixSummary:
        """Keep the counts."""
        found = zip(self.strips, self.counts, strict=True)
        return MixSummary(self.points, {strip.seam: counts for strip, counts in found})


def _count(strip: Strip, x: Int64Array, y: Int64Array, kind: Int64Array) -> Int64Array:
    across, along = (x, y) if strip.axis == "x" else (y, x)
    depth = (across - strip.line) * strip.away
    # Below nothing is a great number where there is no sign.
    inside = depth.view(np.uint64) < np.uint64(BANDS * strip.band)
    inside &= (along >= strip.start) & (along <= strip.stop)
    chosen = np.flatnonzero(inside)
    band = depth.take(chosen) // strip.band
    part = (along.take(chosen) - strip.start) // strip.part
    counts = np.bincount(
        (part * BANDS + band) * _KINDS + kind.take(chosen), minlength=strip.parts * BANDS * _KINDS
    )
    return counts.reshape(strip.parts, BANDS, _KINDS)


def _find_inner(box: Box, strips: Sequence[Strip]) -> Box:
    """Return the middle of a box, which no strip reaches: most points end there."""
    inner = {"x": box.span("x"), "y": box.span("y")}
    for strip in strips:
        low, high = inner[strip.axis]
        edge = strip.line + strip.away * BANDS * strip.band
        inner[strip.axis] = (max(low, edge), high) if strip.away > 0 else (low, min(high, edge))
    return Box(inner["x"][0], inner["y"][0], inner["x"][1], inner["y"][1])


@dataclass(frozen=True)
class MixLimits:
    """When a part of a seam shows a jump.

    Args:
        share: least difference of the share of surface points.
        fewest: fewest points in each band of a part that is judged.
    """

    share: float
    fewest: int


@dataclass(frozen=True)
class Jump:
    """What the parts of one seam show.

    Args:
        judged: parts with enough points on both sides.
        up: parts where the high side has more surface points, beyond what the ground explains.
        down: parts where it has fewer.
        low: share of surface points at the seam on the low side, of the judged parts.
        high: share on the high side.
    """

    judged: int
    up: int
    down: int
    low: float
    high: float


def measure_jump(low: Int64Array, high: Int64Array, limits: MixLimits) -> Jump:
    """Judge a seam part by part.

    A part jumps where the share of surface points differs at the seam by more than the limit, by
    more than twice what it changes from band to band on either side, and by more than twice as much
    as the share of pulses with several returns.

    Args:
        low: counts of the low side, (parts, bands, kinds).
        high: counts of the high side.
        limits: what a jump is.
    """
    sides = np.stack([low, high])
    points = sides.sum(axis=3)
    judged = (points[:, :, :2] >= limits.fewest).all(axis=(0, 2))
    sides, points = sides[:, judged], points[:, judged]
    # Of each side, part and band: the shares of surface points and of several returns.
    surface = sides[..., _SURFACE_KINDS].sum(axis=3)
    some = np.maximum(points, 1)
    share, several = surface / some, sides[..., _SEVERAL_KINDS].sum(axis=3) / some
    step = share[1, :, 0] - share[0, :, 0]
    changes = np.where(points[:, :, 1:] >= limits.fewest, np.abs(np.diff(share, axis=2)), 0.0)
    explained = np.maximum(np.abs(several[1] - several[0])[:, 0], changes.max(axis=(0, 2)))
    jumps = (np.abs(step) > limits.share) & (np.abs(step) > 2 * explained)
    up, down = (int(np.count_nonzero(jumps & way)) for way in (step > 0, step < 0))
    whole = surface[:, :, 0].sum(axis=1) / np.maximum(1, points[:, :, 0].sum(axis=1))
    return Jump(int(np.count_nonzero(judged)), up, down, *whole.tolist())
