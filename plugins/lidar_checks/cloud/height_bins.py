"""How many points lie at which height, in coarse cells: what stands alone far below or above.

Cells and steps of height are powers of two of the lattice, so that a place is found by shifting
bits. Points that are noise by their class, wires and masts, and withheld points are left out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import HIGH_NOISE, LOW_NOISE
from lidar_checks.cloud.slice_cells import NEAR, share_offsets

# Wires and what carries them may stand alone high above the ground: class 13 to 16 (LAS 1.4 R15,
# table 17).
_FIRST_WIRE, _WIRE_CODES = 13, 4

# More places than this are no survey; beyond it nothing is kept.
_MOST_PLACES = 200_000

# Counting in a row of numbers is quickest; a box that takes more than this cannot be right.
_LONGEST_ROW = 1 << 21

# A row up to this length is added whole.
_SHORT_ROW = 1 << 14

# Points whose places stay in the nearer cache while they are worked out (measured).
_BLOCK = 16_384

Int64Array = NDArray[np.int64]
Cell = tuple[int, int]
Place = tuple[int, int, int]


@dataclass(frozen=True)
class HeightBins:
    """What is left of a file.

    Args:
        points: points read.
        counts: points by cell and step of height.
        scattered: whether the points lie in too many places to be kept.
    """

    points: int
    counts: Mapping[Place, int]
    scattered: bool


@dataclass(frozen=True)
class Frame:
    """The places in the box that a header states.

    Args:
        bits: a cell is 2^bits[0] by 2^bits[1] lattice steps wide, a step 2^bits[2] high.
        low: cell and step of the lowest corner.
        width: cells and steps along each axis; zeros for a box that cannot be counted in.
    """

    bits: tuple[int, int, int]
    low: Place = (0, 0, 0)
    width: Place = (0, 0, 0)

    @property
    def length(self) -> int:
        """Return the number of places."""
        return self.width[0] * self.width[1] * self.width[2]


def lay_frame(corners: tuple[Place, Place] | None, cell_bits: int, step_bits: int) -> Frame:
    """Return the frame of a box, lattice steps, both corners inside; None for no usable box."""
    bits = (cell_bits, cell_bits, step_bits)
    if corners is None:
        return Frame(bits)
    low, high = (
        (corner[0] >> bits[0], corner[1] >> bits[1], corner[2] >> bits[2]) for corner in corners
    )
    width = (high[0] - low[0] + 1, high[1] - low[1] + 1, high[2] - low[2] + 1)
    frame = Frame(bits, low, width)
    return frame if min(width) > 0 and frame.length <= _LONGEST_ROW else Frame(bits)


class HeightTally:
    """Points by cell and step of height in one file.

    Points in the stated box are counted in a row; what lies outside is few, and sorted.
    """

    def __init__(self, frame: Frame) -> None:
        """Take the frame of the file."""
        self.frame = frame
        self.points = 0
        # One place more, for points that are left out.
        self.inside: Int64Array = np.zeros(frame.length + 1, dtype=np.int64)
        self.outside: Counter[Place] = Counter()
        self.scattered = False

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        self.points += len(points)
        if not len(points):
            return
        codes = cast("NDArray[np.uint8]", points["classification"])
        away = (codes == LOW_NOISE) | (codes == HIGH_NOISE)
        away |= codes - np.uint8(_FIRST_WIRE) < _WIRE_CODES
        away |= points["withheld"].astype(np.bool_, copy=False)
        if self._holds(points):
            self._add_inside(self._number(points), away)
            return
        for start in range(0, len(points), _BLOCK):
            part = slice(start, start + _BLOCK)
            self._count((points.x[part], points.y[part], points.z[part]), away[part])

    def _holds(self, points: PointChunk) -> bool:
        """Say whether all points lie in the box that the header states."""
        frame = self.frame
        parts = zip("xyz", frame.bits, frame.low, frame.width, strict=True)
        return frame.length > 0 and all(
            points.span(axis)[0] >= low << bits
            and points.span(axis)[1] < low + width << bits
            and width << bits < NEAR
            for axis, bits, low, width in parts
        )

    def _number(self, points: PointChunk) -> NDArray[np.uint32]:
        """Return the place of each point, all in the box, (n,)."""
        frame = self.frame
        row: NDArray[np.uint32] | None = None
        for axis, bits, low, width in zip("xyz", frame.bits, frame.low, frame.width, strict=True):
            start = points.span(axis)[0] - (low << bits)
            along = share_offsets(points, axis) + np.uint32(start)
            along >>= np.uint32(bits)
            if row is not None:
                along += row * np.uint32(width)
            row = along
        return cast("NDArray[np.uint32]", row)

    def _count(self, axes: tuple[Int64Array, ...], away: NDArray[np.bool_]) -> None:
        """Count some points, but for those that are away."""
        frame = self.frame
        row, strange = None, np.zeros(len(away), dtype=np.bool_)
        for axis, bits, low, width in zip(axes, frame.bits, frame.low, frame.width, strict=True):
            along = axis >> bits
            along -= low
            # Below the box is a great number where there is no sign.
            strange |= along.view(np.uint64) >= np.uint64(width)
            if row is None:
                row = along
            else:
                row *= width
                row += along
        if strange.any():
            self._add_outside(axes, strange & ~away)
            away = away | strange
        if row is not None:
            self._add_inside(row, away)

    def _add_inside(self, row: Int64Array | NDArray[np.uint32], away: NDArray[np.bool_]) -> None:
        if len(self.inside) <= _SHORT_ROW:
            if away.any():
                np.putmask(row, away, self.frame.length)
            self.inside += np.bincount(row, minlength=len(self.inside))
            return
        row = row.take(np.flatnonzero(~away)) if away.any() else row
        if len(row):
            first = int(row.min())
            counts = np.bincount(row - first)
            self.inside[first : first + len(counts)] += counts

    def merge(self, other: HeightTally) -> None:
        """Take in another part of the same file."""
        self.points += other.points
        self.inside += other.inside
        self.outside.update(other.outside)
        self.scattered |= other.scattered
        self._limit()

    def close(self) -> HeightBins:
        """Keep the counts in order of their places."""
        counts = Counter(self.outside)
        _, columns, steps = self.frame.width
        for number in np.flatnonzero(self.inside[:-1]).tolist():
            rest, up = divmod(number, steps)
            east, north = divmod(rest, columns)
            low = self.frame.low
            counts[low[0] + east, low[1] + north, low[2] + up] += int(self.inside[number])
        scattered = self.scattered or len(counts) > _MOST_PLACES
        return HeightBins(self.points, {} if scattered else dict(sorted(counts.items())), scattered)

    def _add_outside(self, axes: tuple[Int64Array, ...], chosen: NDArray[np.bool_]) -> None:
        if self.scattered or not chosen.any():
            return
        places = [axis[chosen] >> bits for axis, bits in zip(axes, self.frame.bits, strict=True)]
        stacked = np.stack(places, axis=1)
        rows, counts = np.unique(stacked, axis=0, return_counts=True)
        for row, count in zip(rows.tolist(), counts.tolist(), strict=True):
            self.outside[row[0], row[1], row[2]] += count
        self._limit()

    def _limit(self) -> None:
        self.scattered |= len(self.outside) > _MOST_PLACES
        if self.scattered:
            self.outside.clear()


@dataclass(frozen=True)
class Limits:
    """What makes points stand alone; heights in steps.

    Args:
        low: least empty steps above low points.
        high: least empty steps below high points.
        share: greatest share of the points around that they may be.
        fewest: fewest points around that are a ground to stand apart from.
    """

    low: int
    high: int
    share: float
    fewest: int


@dataclass(frozen=True)
class Cuts:
    """Between which steps of height the points of a cell belong together.

    Args:
        low: lowest step of what belongs together; points below it stand alone.
        high: highest step of it; points above it stand alone.
    """

    low: int
    high: int


def find_cuts(files: Iterable[HeightBins], limits: Limits) -> dict[Cell, Cuts]:
    """Return the cuts of every cell that has points alone, judged with the eight cells around.

    All files are one surface, so that a pit at the edge of one tile is seen in the next.
    """
    columns: defaultdict[Cell, Counter[int]] = defaultdict(Counter)
    for file in files:
        for (east, north, up), count in file.counts.items():
            columns[east, north][up] += count
    span = {cell: (min(column), max(column)) for cell, column in columns.items()}
    cuts: dict[Cell, Cuts] = {}
    for cell in sorted(columns):
        around = [near for near in _list_around(cell) if near in columns]
        low, high = min(span[near][0] for near in around), max(span[near][1] for near in around)
        if high - low > min(limits.low, limits.high):
            joined: Counter[int] = Counter()
            for near in around:
                joined.update(columns[near])
            found = _cut(joined, limits)
            if found is not None and (span[cell][0] < found.low or span[cell][1] > found.high):
                cuts[cell] = found
    return cuts


def _list_around(cell: Cell) -> Iterable[Cell]:
    return ((cell[0] + dx, cell[1] + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1))


def _cut(column: Mapping[int, int], limits: Limits) -> Cuts | None:
    total = sum(column.values())
    if total < limits.fewest:
        return None
    steps, most = sorted(column), limits.share * total
    low = _find_edge(steps, column, limits.low, most)
    high = -_find_edge(
        [-step for step in reversed(steps)],
        {-step: count for step, count in column.items()},
        limits.high,
        most,
    )
    return Cuts(low, high) if low <= high else None


def _find_edge(steps: list[int], column: Mapping[int, int], gap: int, most: float) -> int:
    """Return the first step, going up, above the last gap below which few enough points lie."""
    edge, below = steps[0], 0
    for step, following in pairwise(steps):
        below += column[step]
        if below > most:
            break
        if following - step - 1 >= gap:
            edge = following
    return edge
