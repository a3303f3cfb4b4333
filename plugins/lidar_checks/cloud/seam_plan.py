"""Where tiles meet: pairs of neighbouring boxes, and the strips along their borders.

All places are whole lattice steps. The boxes are those of the headers, since the strips have to be
known before the points; `seams` compares them with the points afterwards.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Literal

from ledger.dataclass import dataclass
from ledger.model.chunk import Lattice
from ledger.model.header import LasHeader

Axis = Literal["x", "y"]

# Boxes are looked up in squares of about their own size; one that fills more squares than this has
# a header that cannot be right.
_MOST_SQUARES = 10_000
# Cells along a strip; beyond this (with cells of 0.5 m some 130 km) a header cannot be right.
_MOST_CELLS_ALONG = 1 << 18


@dataclass(frozen=True)
class Box:
    """A box, lattice steps, both ends inside."""

    x0: int
    y0: int
    x1: int
    y1: int

    def span(self, axis: Axis) -> tuple[int, int]:
        """Return both ends along an axis."""
        return (self.x0, self.x1) if axis == "x" else (self.y0, self.y1)

    def list_sides(self) -> tuple[int, int, int, int]:
        """Return west, south, east and north."""
        return self.x0, self.y0, self.x1, self.y1


@dataclass(frozen=True)
class Zone:
    """The part of one tile that is kept for one seam, lattice steps, both ends inside.

    Args:
        seam: number of the seam.
        axis: direction across the seam.
        low: least place across.
        high: greatest place across.
        start: least place along.
        stop: greatest place along.
        cell: side of a cell.
    """

    seam: int
    axis: Axis
    low: int
    high: int
    start: int
    stop: int
    cell: int

    @property
    def columns(self) -> int:
        """Return the number of cells across."""
        return (self.high - self.low) // self.cell + 1

    @property
    def rows(self) -> int:
        """Return the number of cells along."""
        return (self.stop - self.start) // self.cell + 1


@dataclass(frozen=True)
class Seam:
    """The common border of two tiles.

    Args:
        number: place in the list of seams.
        low: path of the tile on the west or south side.
        high: path of the other tile.
        axis: direction across: `x` for a border that runs north.
        line: place of the border across, lattice steps; the middle of a gap or an overlap.
        start: where it begins along, lattice steps.
        stop: where it ends.
        zones: what is kept of the low and of the high tile.
    """

    number: int
    low: str
    high: str
    axis: Axis
    line: int
    start: int
    stop: int
    zones: tuple[Zone, Zone]


@dataclass(frozen=True)
class Sizes:
    """Lengths that decide what a seam is, lattice steps.

    Args:
        cell: side of a cell.
        strip: width of the strip on each side.
        gap: widest gap across which two tiles are still neighbours.
        shortest: shortest seam.
    """

    cell: int
    strip: int
    gap: int
    shortest: int


def compute_box(header: LasHeader, lattice: Lattice) -> Box | None:
    """Return the box that a header states; None when it holds no usable numbers."""
    corners = (*header.minimum[:2], *header.maximum[:2])
    if not all(math.isfinite(value) for value in corners):
        return None
    steps = [Fraction(value) * lattice.steps_xy for value in corners]
    box = Box(*map(math.floor, steps[:2]), *map(math.ceil, steps[2:]))
    return box if box.x0 <= box.x1 and box.y0 <= box.y1 else None


def plan_seams(boxes: Mapping[str, Box], sizes: Sizes) -> tuple[Seam, ...]:
    """Return every seam between two tiles, in order of their paths.

    Two tiles share a seam when their boxes touch, leave a small gap or overlap by no more than
    half of the narrower one, along at least `sizes.shortest`. Files that lie on each other further
    than that (flight lines, one file a class) are no tiles, and an overlap that is not twice as
    long as wide is a corner.
    """
    seams: list[Seam] = []
    for a, b in sorted(set(find_pairs(boxes, sizes.gap))):
        seam = _join(len(seams), (a, boxes[a]), (b, boxes[b]), sizes)
        if seam is not None:
            seams.append(seam)
    return tuple(seams)


def find_pairs(boxes: Mapping[str, Box], gap: int) -> Iterator[tuple[str, str]]:
    """Yield pairs of paths whose boxes may be neighbours, by a grid of squares; some come twice."""
    sides = sorted(max(box.x1 - box.x0, box.y1 - box.y0) for box in boxes.values())
    square = max(1, gap, sides[len(sides) // 2] if sides else 1)
    filled: defaultdict[tuple[int, int], list[str]] = defaultdict(list)
    for path in sorted(boxes):
        for place in _list_squares(boxes[path], gap, square):
            for other in filled[place]:
                yield other, path
            filled[place].append(path)


def _list_squares(box: Box, gap: int, square: int) -> Iterable[tuple[int, int]]:
    across = range((box.x0 - gap) // square, (box.x1 + gap) // square + 1)
    along = range((box.y0 - gap) // square, (box.y1 + gap) // square + 1)
    # Not len(), which fails on a span as long as a broken header can state.
    if (across.stop - across.start) * (along.stop - along.start) > _MOST_SQUARES:
        return ()
    return ((x, y) for x in across for y in along)


def _join(number: int, a: tuple[str, Box], b: tuple[str, Box], sizes: Sizes) -> Seam | None:
    """Return the seam of two tiles, or None when they have none."""
    shared = {axis: _overlap(a[1].span(axis), b[1].span(axis)) for axis in ("x", "y")}
    axis: Axis = "x" if _width(shared["x"]) <= _width(shared["y"]) else "y"
    across = shared[axis]
    start, stop = shared["y" if axis == "x" else "x"]
    narrow = min(_width(a[1].span(axis)), _width(b[1].span(axis)))
    if _width(across) < -sizes.gap or 2 * _width(across) > min(narrow, stop - start):
        return None
    if not sizes.shortest <= stop - start <= _MOST_CELLS_ALONG * sizes.cell:
        return None
    low, high = sorted((a, b), key=lambda tile: (sum(tile[1].span(axis)), tile[0]))
    line = (across[0] + across[1]) // 2
    low_end, high_end = low[1].span(axis)[1], high[1].span(axis)[0]
    ranges = (
        (min(line, low_end) - sizes.strip, min(line + sizes.strip, low_end)),
        (max(line - sizes.strip, high_end), max(line, high_end) + sizes.strip),
    )
    first, second = (Zone(number, axis, *ends, start, stop, sizes.cell) for ends in ranges)
    return Seam(number, low[0], high[0], axis, line, start, stop, (first, second))


def measure_overlap(a: Box, b: Box) -> int:
    """Return by how much two boxes lie on each other, the narrow way; negative for a gap."""
    return min(_width(_overlap(a.span(axis), b.span(axis))) for axis in ("x", "y"))


def _overlap(a: tuple[int, int], b: tuple[int, int]) -> tuple[int, int]:
    """Return where two spans overlap; turned round, where the gap between them lies."""
    return max(a[0], b[0]), min(a[1], b[1])


def _width(span: tuple[int, int]) -> int:
    return span[1] - span[0]
