"""What the GPS times of a file come to: span, unusable values, and how finely they are divided.

Least and greatest are floats as stored, never summed, so that order leaves no trace.
"""

from __future__ import annotations

import math
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass

DISTINCT_CAP = 4096
"""More distinct times than this are not kept; their number is then only known to be greater."""

# Enough values to see that there are more than the cap, without sorting a whole slice.
_LOOK_FIRST = 2 * DISTINCT_CAP

# A 32-bit float has 24 bits of mantissa (IEEE 754 binary32).
_SINGLE_MANTISSA = 24

Float64Array = NDArray[np.float64]


@dataclass(frozen=True)
class TimeSummary:
    """The times of one file.

    Args:
        points: points read.
        timed: those whose format carries GPS time.
        unusable: times that are not finite.
        first: least finite time; NaN when there is none.
        last: greatest finite time.
        distinct: number of distinct finite times; None for more than `DISTINCT_CAP`.
        is_single_precision: every finite time survives a 32-bit float unchanged.
    """

    points: int
    timed: int
    unusable: int
    first: float
    last: float
    distinct: int | None
    is_single_precision: bool

    @property
    def single_step(self) -> float:
        """Return the step of 32-bit floats at the greatest time, seconds."""
        exponent = math.frexp(max(abs(self.first), abs(self.last)))[1]
        return math.ldexp(1.0, exponent - _SINGLE_MANTISSA)


class TimeTally:
    """Span and fineness of the times of one file."""

    def __init__(self) -> None:
        """Start with no time."""
        self.points = self.timed = self.unusable = 0
        self.first, self.last = math.inf, -math.inf
        self.is_single_precision = True
        self.distinct: Float64Array | None = np.empty(0, dtype=np.float64)

    def chunk(self, points: PointChunk) -> None:
        """Take in the times of some points."""
        self.points += len(points)
        if not len(points) or "gps_time" not in points.names:
            return
        times = cast("Float64Array", points["gps_time"])
        self.timed += len(times)
        least, most = float(times.min()), float(times.max())
        if not (math.isfinite(least) and math.isfinite(most)):
            finite = times[np.isfinite(times)]
            self.unusable += len(times) - len(finite)
            times = finite
            if not len(times):
                return
            least, most = float(times.min()), float(times.max())
        # Adding zero makes one zero of both, whichever came first.
        self.first, self.last = min(self.first, least + 0.0), max(self.last, most + 0.0)
        if self.is_single_precision:
            self.is_single_precision = _survives_single(times)
        self._add_distinct(times)

    def merge(self, other: TimeTally) -> None:
        """Take in another part of the same file."""
        self.points += other.points
        self.timed += other.timed
        self.unusable += other.unusable
        self.first, self.last = min(self.first, other.first), max(self.last, other.last)
        self.is_single_precision &= other.is_single_precision
        if other.distinct is None:
            self.distinct = None
        else:
            self._add_distinct(other.distinct)

    def close(self) -> TimeSummary:
        """Return what is judged."""
        known = self.first <= self.last
        return TimeSummary(
            points=self.points,
            timed=self.timed,
            unusable=self.unusable,
            first=self.first if known else math.nan,
            last=self.last if known else math.nan,
            distinct=None if self.distinct is None else len(self.distinct),
            is_single_precision=self.is_single_precision,
        )

    def _add_distinct(self, times: Float64Array) -> None:
        for part in (times[:_LOOK_FIRST], times[_LOOK_FIRST:]):
            if self.distinct is None:
                return
            if len(part):
                joined = np.union1d(self.distinct, part)
                self.distinct = joined if len(joined) <= DISTINCT_CAP else None


def _survives_single(times: Float64Array) -> bool:
    # Few values settle it for nearly all files; what a single cannot hold becomes infinite.
    with np.errstate(over="ignore"):
        for part in (times[:16], times[16:]):
            if not np.array_equal(part.astype(np.float32).astype(np.float64), part):
                return False
    return True
