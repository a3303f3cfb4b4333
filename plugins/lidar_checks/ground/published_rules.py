"""Rules of published standards for checkpoints, as functions: each says which document states it.

What is known from memory only is marked so in what is returned, and decides nothing.
"""

from __future__ import annotations

from ledger.dataclass import dataclass

VERTICAL_95 = 1.9600
"""Accuracy_z = 1.9600 x RMSEz at 95 % (FGDC-STD-007.3-1998, 3-A.2)."""

RADIAL_95 = 1.7308
"""Accuracy_r = 1.7308 x RMSEr at 95 % where RMSEx = RMSEy (the same, 3-A.1)."""

CIRCULAR_95 = 2.4477
"""Accuracy_r = 2.4477 x 0.5 x (RMSEx + RMSEy) at 95 % where they are not far apart (the same)."""

ALIKE_MIN = 0.6
"""RMSEmin / RMSEmax from which on there is a radial figure (the same)."""

COUNT_MIN_1 = 20
"""Fewest checkpoints of ASPRS Edition 1 (as accounts of Edition 2 say, which asks for more) and of
FGDC-STD-007.3-1998, 3.2.2."""

COUNT_MIN_2 = 30
"""Fewest checkpoints of an assessment of ASPRS Edition 2, 7.13."""

COUNT_MAX_2 = 120
"""The most that Edition 2 asks for, however large the area (7.13)."""

# Edition 1, table C.1, recalled: up to so many km², points without and with vegetation.
_COUNTS_1 = (
    (500, 20, 5),
    (750, 20, 10),
    (1000, 25, 15),
    (1250, 30, 20),
    (1500, 35, 25),
    (1750, 40, 30),
    (2000, 45, 35),
    (2250, 50, 40),
    (2500, 55, 45),
)
_STEP_KM2, _STEP_OPEN, _STEP_VEGETATED = 500, 3, 2


@dataclass(frozen=True)
class LeastCount:
    """How many checkpoints an edition asks for.

    Args:
        without_vegetation: of open and hard ground.
        vegetated: of ground under vegetation; 0 where the edition asks for none there.
        is_read: whether somebody read it in the document or an account of it; what is recalled
            decides nothing.
    """

    without_vegetation: int
    vegetated: int
    is_read: bool


def find_least_count(edition: int, area_km2: float) -> LeastCount:
    """Return how many checkpoints ASPRS Edition 1 or 2 asks for over an area.

    The table of Edition 2 beyond 30 was read in two versions that contradict each other, so that
    only its ends are known: at least 30, and never more than 120.

    Args:
        edition: 1 or 2.
        area_km2: area of the project, km².

    Raises:
        ValueError: there is no such edition.
    """
    small = area_km2 <= _COUNTS_1[0][0]
    if edition == 2:
        return LeastCount(COUNT_MIN_2, COUNT_MIN_2, is_read=small)
    if edition != 1:
        raise ValueError(f"no edition {edition}")
    for up_to, open_ground, vegetated in _COUNTS_1:
        if area_km2 <= up_to:
            # The 20 without vegetation are told by accounts of the document, the rest is recalled.
            return LeastCount(open_ground, vegetated, is_read=False)
    last, open_ground, vegetated = _COUNTS_1[-1]
    steps = -int(-(area_km2 - last) // _STEP_KM2)
    return LeastCount(
        open_ground + steps * _STEP_OPEN, vegetated + steps * _STEP_VEGETATED, is_read=False
    )


def compute_vertical_95(rmse: float) -> float:
    """Return the vertical accuracy at 95 %, in the unit of the RMSE (FGDC-STD-007.3-1998)."""
    return VERTICAL_95 * rmse


def compute_horizontal_95(rmse_x: float, rmse_y: float) -> float | None:
    """Return the horizontal accuracy at 95 % (FGDC-STD-007.3-1998, 3-A.1).

    Returns:
        The radius in the unit of the arguments; None where one is less than 0.6 of the other: the
        standard gives no radial figure then.
    """
    largest = max(rmse_x, rmse_y)
    if largest == 0:
        return 0.0
    if min(rmse_x, rmse_y) / largest < ALIKE_MIN:
        return None
    return CIRCULAR_95 * 0.5 * (rmse_x + rmse_y)
