"""The error of the checkpoints themselves: what their tables say of how well they were surveyed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ledger.model.surveypoints import PointTable
from lidar_checks.ground.residuals import Residual


def find_height_error(points: Sequence[Residual]) -> float | None:
    """Return the root mean square of the stated standard deviations in height, metres.

    Returns:
        None where any of the points has none: a part would make the survey look better than it is.
    """
    known = [each.sigma_vertical_m for each in points if each.sigma_vertical_m is not None]
    if not known or len(known) < len(points):
        return None
    return math.sqrt(math.fsum(sigma * sigma for sigma in known) / len(known))


def find_plan_error(tables: Sequence[PointTable], points: Sequence[Residual]) -> float | None:
    """Return the root mean square of the stated standard deviations in plan, metres.

    Returns:
        None where any of the points has none.
    """
    stated = {
        (table.path, point.id): point.sigma_horizontal_m
        for table in tables
        for point in table.points
    }
    known = [stated.get((each.table, each.id)) for each in points]
    if not known or any(sigma is None for sigma in known):
        return None
    return math.sqrt(math.fsum(float(sigma or 0) ** 2 for sigma in known) / len(known))
