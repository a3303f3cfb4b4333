"""Errors in plan of targets that were picked in the cloud."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.error_statistics import compute_interval, compute_rmse
from lidar_checks.ground.published_rules import compute_horizontal_95
from lidar_checks.ground.residuals import Residual


@dataclass(frozen=True)
class PlanErrors:
    """What a sample of errors in plan says; metres, `count` apart.

    Args:
        count: number of targets, at least 1.
        mean_x, mean_y: averages, east and north.
        rmse_x, rmse_y: root mean squares of each axis, bias included.
        interval: limits of the radial RMSE at 95 %; None beside a bias that is more than chance.
    """

    count: int
    mean_x: float
    mean_y: float
    rmse_x: float
    rmse_y: float
    interval: tuple[float, float] | None = None

    @property
    def radial(self) -> float:
        """Return the RMSE of both axes together (FGDC-STD-007.3-1998, 3-A.1)."""
        return math.hypot(self.rmse_x, self.rmse_y)

    @property
    def at_95(self) -> float | None:
        """Return the radius at 95 %; None where the axes differ too much for one."""
        return compute_horizontal_95(self.rmse_x, self.rmse_y)


def compute_plan_errors(picked: Sequence[Residual]) -> PlanErrors:
    """Return the errors in plan of targets that were all picked.

    Raises:
        ValueError: there is none.
    """
    pairs = [(each.dx, each.dy) for each in picked if each.dx is not None and each.dy is not None]
    if not pairs:
        raise ValueError("no targets, no errors in plan")
    x, y = np.array(pairs, dtype=np.float64).T
    return PlanErrors(
        len(pairs),
        float(x.mean()),
        float(y.mean()),
        compute_rmse(x),
        compute_rmse(y),
        compute_interval(x, y),
    )
