"""When the scanner came by a surveyed point, from the times of the points that lie round it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

# Between two passes of one strip lies a turn (common practice, no source).
_BETWEEN_S = 5.0


@dataclass(frozen=True)
class Pass:
    """One flight past a surveyed point.

    Args:
        file: that holds its points.
        source: point source id.
        time_s: median of the GPS times of its points, as stored.
        count: points of it among those kept: its weight beside other passes.
    """

    file: str
    source: int
    time_s: float
    count: int


def find_passes(file: str, source: NDArray[np.uint16], time: NDArray[np.float64]) -> Iterator[Pass]:
    """Yield the passes that points are of, by strip and time.

    Args:
        file: that holds them.
        source: point source ids, (n,).
        time: GPS times as stored, (n,).
    """
    order = np.lexsort((time, source))
    strips, times = source[order].astype(np.int64), time[order]
    starts = (np.diff(strips) != 0) | (np.diff(times) > _BETWEEN_S)
    edges = [0, *(np.flatnonzero(starts) + 1).tolist(), len(times)]
    for begin, end in itertools.pairwise(edges):
        if end > begin:
            yield Pass(file, int(strips[begin]), float(np.median(times[begin:end])), end - begin)
