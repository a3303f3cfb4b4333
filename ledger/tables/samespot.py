"""Points of one table that lie on one spot: a mark that stands there twice, or a slip of a row."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ledger.model.surveypoints import SurveyPoint

SAME_SPOT_M = 0.05
"""Two points nearer than this are one (common practice, no source)."""


def list_same_spots(
    points: Sequence[SurveyPoint], metres_east: float, metres_north: float
) -> Iterator[tuple[SurveyPoint, SurveyPoint, float]]:
    """Yield each point with the first one before it on its spot, and their distance, metres.

    Args:
        points: in the order of the file.
        metres_east: metres in one unit of easting or longitude, there.
        metres_north: metres in one unit of northing or latitude.
    """
    cells: dict[tuple[int, int], list[tuple[float, float, SurveyPoint]]] = {}
    for point in points:
        east, north = float(point.east) * metres_east, float(point.north) * metres_north
        column, row = math.floor(east / SAME_SPOT_M), math.floor(north / SAME_SPOT_M)
        near = (
            (other, math.hypot(east - x, north - y))
            for i in (column - 1, column, column + 1)
            for j in (row - 1, row, row + 1)
            for x, y, other in cells.get((i, j), ())
        )
        found = min((each for each in near if each[1] < SAME_SPOT_M), key=_rank, default=None)
        if found is not None:
            yield point, found[0], found[1]
        cells.setdefault((column, row), []).append((east, north, point))


def _rank(found: tuple[SurveyPoint, float]) -> int:
    return found[0].row
