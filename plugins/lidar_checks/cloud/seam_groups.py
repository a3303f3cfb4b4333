"""Which tiles stand off from the others, and which steps are real ground.

A tile with other heights than its neighbours steps at every border, by about the same amount. A
cliff or a wall along one border does not: a way round it over other tiles shows no step. So:

- a step is *ground* when its two tiles are also joined over seams that show none, each of which
  would have shown a step of that size, or that show none along a stretch: the heights of a tile
  are wrong as a whole, and a pit or a bank ends somewhere along its borders;
- a tile *stands off* when it steps against two or more neighbours on different sides by about the
  same amount, and the tiles it is level with are the smaller part;
- a step that is neither is *open*: with one seam alone a cliff and a wrong height look alike.

What was made with other heights steps by one amount. So the seams of a tile that stands off agree,
and are more than half of those at which it steps at all. The faces of a quarry differ from edge to
edge, and stay open. A pit with an even floor whose upright faces stand within a cell of edges of a
tile, and leave less than five windows of each edge level, is not told from a wrong height.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class JudgedSeam:
    """One seam whose step could be measured.

    Args:
        number: number of the seam.
        low: path of the tile on the west or south side.
        high: path of the other tile.
        axis: direction across.
        delta_m: height of the low tile less that of the high tile, metres.
        gate_m: a step below this is not told from noise, metres.
        is_step: whether the step is above the gate along enough of the seam.
        level_m: the least step that a stretch of the seam would have shown, and does not show,
            metres.
    """

    number: int
    low: str
    high: str
    axis: Literal["x", "y"]
    delta_m: float
    gate_m: float
    is_step: bool
    level_m: float = math.inf

    def joins(self, size: float) -> bool:
        """Say whether it would have shown a step of a size, and shows none or not all along."""
        is_even = self.gate_m < size and abs(self.delta_m) <= size / 2
        return is_even or self.level_m <= size / 2

    def other(self, path: str) -> str:
        """Return the tile on the other side."""
        return self.high if path == self.low else self.low

    def rise_of(self, path: str) -> float:
        """Return how much a tile lies above the other side, metres."""
        return self.delta_m if path == self.low else -self.delta_m

    def side_of(self, path: str) -> tuple[str, bool]:
        """Return on which side of a tile the seam lies."""
        return self.axis, path == self.low


@dataclass(frozen=True)
class StandingOff:
    """A tile whose heights differ from its neighbours'.

    Args:
        path: the tile.
        rise_m: how much it lies above them, metres.
        seams: its seams with that step.
        judged: its seams that could be judged.
        group: tiles that stand off with it, itself included.
        is_even: as many tiles lie on the other side, so that either may be wrong.
    """

    path: str
    rise_m: float
    seams: tuple[JudgedSeam, ...]
    judged: int
    group: int
    is_even: bool


@dataclass(frozen=True)
class Grouping:
    """What the steps come to."""

    standing_off: tuple[StandingOff, ...]
    ground: tuple[JudgedSeam, ...]
    open: tuple[JudgedSeam, ...]


def group_tiles(seams: Sequence[JudgedSeam]) -> Grouping:
    """Sort all steps into tiles that stand off, ground, and open ones."""
    sizes = {seam: _compute_size(seam) for seam in seams if seam.is_step}
    parts = {size: _Parts(seams, size) for size in set(sizes.values())}
    ground = [s for s, size in sizes.items() if parts[size].root(s.low) == parts[size].root(s.high)]
    parting = [seam for seam in sizes if seam not in set(ground)]
    by_tile: defaultdict[str, list[JudgedSeam]] = defaultdict(list)
    for seam in parting:
        by_tile[seam.low].append(seam)
        by_tile[seam.high].append(seam)
    judged = Counter(path for seam in seams for path in (seam.low, seam.high))
    found: dict[str, StandingOff] = {}
    for path in sorted(by_tile):
        alike = _find_alike(path, by_tile[path])
        sides = {seam.side_of(path) for seam in alike}
        if path not in found and len(sides) > 1 and 2 * len(alike) > len(by_tile[path]):
            levels = _Levels(path, alike, by_tile, parts[sizes[alike[0]]])
            for tile in levels.list_standing_off(judged):
                found.setdefault(tile.path, tile)
    still_open = [seam for seam in parting if seam.low not in found and seam.high not in found]
    return Grouping(tuple(found[path] for path in sorted(found)), tuple(ground), tuple(still_open))


class _Parts:
    """Tiles joined over seams that would have shown a step of one size, and show none."""

    def __init__(self, seams: Iterable[JudgedSeam], size: float) -> None:
        self._root: dict[str, str] = {}
        self._members: dict[str, list[str]] = {}
        for seam in seams:
            low, high = self.root(seam.low), self.root(seam.high)
            if low != high and seam.joins(size):
                few, many = sorted((low, high), key=lambda root: len(self._members[root]))
                for path in self._members[few]:
                    self._root[path] = many
                self._members[many] += self._members.pop(few)

    def root(self, path: str) -> str:
        """Return the name of the part that a tile belongs to."""
        if path not in self._root:
            self._root[path] = path
            self._members[path] = [path]
        return self._root[path]

    def list_members(self, roots: Iterable[str]) -> list[str]:
        """Return all tiles of some parts."""
        return [path for root in roots for path in self._members[root]]


class _Levels:
    """The parts that lie as one tile does, and the parts that they all step against."""

    def __init__(
        self,
        path: str,
        alike: Sequence[JudgedSeam],
        by_tile: Mapping[str, Sequence[JudgedSeam]],
        parts: _Parts,
    ) -> None:
        self._by_tile, self._parts = by_tile, parts
        self._rise = statistics.median(seam.rise_of(path) for seam in alike)
        self._gate = max(seam.gate_m for seam in alike)
        self._ours, self._theirs = {parts.root(path)}, set[str]()
        reached = [(parts.root(path), True)]
        while reached:
            root, is_ours = reached.pop()
            for member in parts.list_members([root]):
                for seam in self._list_steps(member, 1 if is_ours else -1):
                    across = parts.root(seam.other(member))
                    side = self._theirs if is_ours else self._ours
                    if across not in side:
                        side.add(across)
                        reached.append((across, not is_ours))

    def list_standing_off(self, judged: Mapping[str, int]) -> list[StandingOff]:
        """Return the tiles on this level, when they are not the larger part."""
        ours = self._parts.list_members(self._ours)
        theirs = self._parts.list_members(self._theirs)
        # A part on both levels is ground that climbs by equal steps, not a shifted tile.
        if len(ours) > len(theirs) or self._ours & self._theirs:
            return []
        tiles = []
        for path in ours:
            seams = tuple(self._list_steps(path, 1))
            rises = [seam.rise_of(path) for seam in seams] or [self._rise]
            rise, even = statistics.median(rises), len(ours) == len(theirs)
            tiles.append(StandingOff(path, rise, seams, judged[path], len(ours), is_even=even))
        return tiles

    def _list_steps(self, path: str, sign: int) -> list[JudgedSeam]:
        """Return the steps of a tile that are this one, seen from its own side or from across."""
        return [
            seam
            for seam in self._by_tile.get(path, ())
            if abs(sign * seam.rise_of(path) - self._rise) <= max(seam.gate_m, self._gate)
        ]


def _compute_size(seam: JudgedSeam) -> float:
    """Return the size of a step, a little rounded down so that few sizes have to be looked at."""
    return float(2.0 ** (math.floor(math.log2(abs(seam.delta_m)) * 16) / 16))


def _compute_width(a: JudgedSeam, b: JudgedSeam) -> float:
    """Return how far two steps of one cause may differ, metres.

    The gate of a seam is a multiple of its scatter; the medians of two seams differ by far less.
    """
    gate = max(a.gate_m, b.gate_m)
    size = max(abs(a.delta_m), abs(b.delta_m))
    return min(gate, max(_LEAST_WIDTH_M, _OF_GATE * gate, _OF_STEP * size))


# Common practice, no source.
_LEAST_WIDTH_M = 0.1
_OF_GATE = 0.25
_OF_STEP = 0.02


def _find_alike(path: str, seams: Iterable[JudgedSeam]) -> list[JudgedSeam]:
    """Return the most seams of a tile whose steps agree."""
    listed = sorted(seams, key=lambda seam: (seam.rise_of(path), seam.low, seam.high))
    best: list[JudgedSeam] = []
    for middle in listed:
        alike = [
            seam
            for seam in listed
            if abs(seam.rise_of(path) - middle.rise_of(path)) <= _compute_width(seam, middle)
        ]
        if len(alike) > len(best):
            best = alike
    return best
