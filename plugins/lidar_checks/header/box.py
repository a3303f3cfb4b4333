"""Boxes of points: the one that a header states and the one that its points have."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ledger.contract.evidence import DeliveredFile
from ledger.dataclass import dataclass
from ledger.model.header import LasHeader

AXES = ("X", "Y", "Z")


@dataclass(frozen=True)
class Box:
    """An upright box in file units.

    Args:
        low: least X, Y, Z.
        high: greatest X, Y, Z.
    """

    low: tuple[float, float, float]
    high: tuple[float, float, float]

    def bounds(self, axis: int) -> tuple[float, float]:
        """Return both ends along an axis."""
        return self.low[axis], self.high[axis]

    def corners(self) -> tuple[tuple[float, float], ...]:
        """Return the four corners in X and Y, and the centre last."""
        (west, south, _), (east, north, _) = self.low, self.high
        centre = ((west + east) / 2, (south + north) / 2)
        return (west, south), (east, south), (east, north), (west, north), centre


def find_header_box(header: LasHeader) -> Box | None:
    """Return the box that the header states; None when it is no box."""
    low, high = header.minimum, header.maximum
    # Asked of every file by several checks, so without a loop; NaN is not below anything.
    upright = low[0] <= high[0] and low[1] <= high[1] and low[2] <= high[2]
    if not upright or not all(map(math.isfinite, (*low, *high))):
        return None
    return Box(low, high)


def is_whole(file: DeliveredFile) -> bool:
    """Say whether all points that a file states were read, and it held still meanwhile."""
    reading = file.reading
    return (
        file.header is not None
        and reading is not None
        and not reading.fault
        and not reading.changed
        and reading.decoded >= file.header.point_count
    )


def find_point_box(file: DeliveredFile) -> Box | None:
    """Return the box of the points; None when they were not all read, or there are none."""
    reading = file.reading
    if reading is None or not is_whole(file) or reading.minimum is None or reading.maximum is None:
        return None
    return Box(reading.minimum, reading.maximum)


def find_best_box(file: DeliveredFile) -> Box | None:
    """Return the box of the points when all were read, else the one of the header."""
    if file.header is None or file.header.point_count == 0:
        return None
    return find_point_box(file) or find_header_box(file.header)


def compute_excess(stated: Box, counted: Box, tolerance: Sequence[float]) -> tuple[int, float]:
    """Return the axis and amount by which a stated box is most wrong.

    Args:
        stated: the box of the header.
        counted: the box of the points.
        tolerance: what is allowed along X, Y and Z, file units.

    Returns:
        The axis and the distance in file units: positive where the stated box reaches beyond
        the points, negative where it stops short of them, 0 when it fits.
    """
    worst, axis_of_worst, weight = 0.0, 0, 0.0
    for axis, allowed in enumerate(tolerance):
        sides = (
            counted.low[axis] - stated.low[axis],
            stated.high[axis] - counted.high[axis],
        )
        for off in sides:
            slack = allowed + 4 * math.ulp(max(map(abs, counted.bounds(axis))))
            if abs(off) > slack and abs(off) > weight:
                worst, axis_of_worst, weight = off, axis, abs(off)
    return axis_of_worst, worst


def find_factors(stated: Box, counted: Box) -> dict[float, list[int]]:
    """Return by what factors a stated box is a multiple of the counted one, each with its axes.

    A box written in another unit is such a multiple. Axes along which both are about the same
    size, or which are no multiple, are left out; a factor counts to six figures.
    """
    factors: dict[float, list[int]] = {}
    for axis in range(len(AXES)):
        pairs = list(zip(stated.bounds(axis), counted.bounds(axis), strict=True))
        if any(real == 0 for _, real in pairs):
            continue
        low, high = (told / real for told, real in pairs)
        if low > 0 and abs(low - 1) > 1e-3 and abs(low / high - 1) < 1e-6:
            factors.setdefault(float(f"{low:.6g}"), []).append(axis)
    return factors
