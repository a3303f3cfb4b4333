"""Which strips and which minutes the points of a file are from, whatever lies near a checkpoint.

Times that spread over more minutes than a flight can have are no clock's, and tell no minutes; that
is judged of all points of a file together, so that their order and portions leave no trace.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass

MINUTE_S = 60.0

_SOURCES = 1 << 16
# More minutes than this, seven days, are no clock's.
_MOST_MINUTES = 10_080
_WIDE = 1 << 20
_FEW = 1 << 10

Minutes = frozenset[int] | None
"""Whole minutes of GPS time as stored, from its origin; None where the times are no clock's."""


@dataclass(frozen=True)
class Flown:
    """Strips and minutes.

    Args:
        sources: point source ids.
        minutes: minutes of GPS time; None where the times are no clock's.
    """

    sources: frozenset[int] = frozenset()
    minutes: Minutes = frozenset()

    def join(self, other: Flown) -> Flown:
        """Return the strips and minutes of both."""
        return Flown(self.sources | other.sources, join_minutes(self.minutes, other.minutes))


class FlownTally:
    """Strips and minutes of some points."""

    def __init__(self) -> None:
        """Start with none."""
        self.sources = np.zeros(_SOURCES, dtype=np.bool_)
        self.minutes: Minutes = frozenset()

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if not len(points):
            return
        self._add_sources(points["point_source_id"])
        if "gps_time" in points.names:
            found = find_minutes(points["gps_time"].astype(np.float64, copy=False))
            self.minutes = join_minutes(self.minutes, found)

    def _add_sources(self, sources: NDArray[Any]) -> None:
        least = int(sources.min())
        if least == int(sources.max()):
            self.sources[least] = True
            return
        # Counting is five times as fast as marking each place of an array.
        counts = np.bincount(sources)
        self.sources[: len(counts)] |= counts > 0

    def merge(self, other: FlownTally) -> None:
        """Take in another part of the same file."""
        self.sources |= other.sources
        self.minutes = join_minutes(self.minutes, other.minutes)

    def close(self) -> Flown:
        """Return what there is."""
        return Flown(frozenset(np.flatnonzero(self.sources).tolist()), self.minutes)


def join_minutes(one: Minutes, other: Minutes) -> Minutes:
    """Return the minutes of both; None where those of either, or of both, are no clock's."""
    if one is None or other is None:
        return None
    both = one | other
    return None if len(both) > _MOST_MINUTES else both


def find_minutes(times: NDArray[np.float64]) -> Minutes:
    """Return the minutes that GPS times lie in; what is no number lies in none.

    Args:
        times: seconds as stored, (n,).
    """
    if not times.size:
        return frozenset()
    first, last = (
        math.floor(each / MINUTE_S) if math.isfinite(each) else math.nan
        for each in (float(times.min()), float(times.max()))
    )
    if first == last:  # most slices are flown within a minute
        return frozenset((int(first),))
    minutes = times / MINUTE_S
    np.floor(minutes, out=minutes)
    if math.isnan(first) or math.isnan(last):
        minutes = minutes[np.isfinite(minutes)]
        if not minutes.size:
            return frozenset()
        first, last = float(minutes.min()), float(minutes.max())
    if minutes.size > _FEW and last - first < _WIDE:  # counting is ten times as fast as sorting
        minutes -= first
        places = np.flatnonzero(np.bincount(minutes.astype(np.int64)))
        return join_minutes(frozenset(), frozenset((places + int(first)).tolist()))
    return join_minutes(frozenset(), frozenset(int(each) for each in np.unique(minutes)))


def join_flown(parts: Iterable[Flown]) -> Flown:
    """Return the strips and minutes of several files."""
    return reduce(Flown.join, parts, Flown())
