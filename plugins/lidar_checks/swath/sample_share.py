"""How sparse the patches of a delivery are looked at, so that all files together stay bounded.

Each file has a limit of its own; of many files the limits add up. What is kept of a patch are rows
of its cells, so that patches are bounded. How many there are is told by headers alone, before any
point is read: the share is the same whoever reads which file, and in which order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from statistics import median_high

from ledger.model.header import LasHeader

MOST_PATCHES = 1 << 13
"""Patches of a delivery that are looked at: half a square kilometre where they are 8 m wide."""
FEWEST_POINTS = 1 << 17
"""So many points of a delivery stay, however large its files say they are; a file alone may keep as
many."""

DENSE = 32
"""Points a square metre, of all passes, that stay of a denser cloud; up to twice as many do."""


def choose_level(headers: Iterable[LasHeader], side: float) -> int:
    """Return the level of sampling at which no more than `MOST_PATCHES` patches stay.

    The area comes from all points and the usual density of a file, so that a box that one far
    point has widened does not thin out the rest.

    Args:
        headers: those of the files to look at.
        side: side of a patch, units of the files.
    """
    filled = [header for header in headers if header.point_count]
    densities = [d for d in (_compute_density(header, side) for header in filled) if d]
    if not densities:
        return 0
    points = sum(header.point_count for header in filled)
    patches = points / median_high(densities)
    wanted = math.ceil(math.log2(max(1.0, patches / MOST_PATCHES)))
    return min(wanted, max(0, (points // FEWEST_POINTS).bit_length() - 1))


def choose_bits(header: LasHeader | None, side: float) -> int:
    """Return how many low bits of its hash have to be zero for a point of a patch to be kept.

    Patches of a dense cloud hold so many points that a file could keep one or two patches, or none:
    more patches say more than more points in each. As many stay as a plane needs in every pass.

    Args:
        header: of the file.
        side: units of the file in a metre.
    """
    if header is None or not header.point_count:
        return 0
    return max(0, (int(_compute_density(header, side)) // DENSE).bit_length() - 1)


def _compute_density(header: LasHeader, side: float) -> float:
    """Return points a patch as a header has it; 0 where its box is none."""
    wide, deep = (header.maximum[axis] - header.minimum[axis] for axis in (0, 1))
    area = wide / side * (deep / side)
    return header.point_count / max(1.0, area) if math.isfinite(area) else 0.0
