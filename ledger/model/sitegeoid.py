"""A geoid known by what it says at the site, as well as by the bytes of its file.

One grid goes by many names and is cut, resampled and packed anew on its way to a program. What
counts is which heights it gives here.
"""

from __future__ import annotations

from enum import StrEnum

from ledger.dataclass import dataclass

SAME_M = 0.0005
"""Grids that agree so closely give the same heights to the millimetre."""

ALIKE_M = 0.005
"""A grid that was resampled agrees with the one it was made of about so closely (common practice,
no source)."""


class Likeness(StrEnum):
    """How two grids compare at the places of a site."""

    BYTES = "same bytes"
    VALUES = "same values"
    RESAMPLED = "alike"
    DIFFERENT = "different"
    UNKNOWN = "not comparable"


@dataclass(frozen=True)
class SiteGeoid:
    """One geoid grid at the site of a job.

    Args:
        sha256: digest of its bytes.
        path: where a file with these bytes lies, absolute; empty where none is at hand.
        places: longitude and latitude of the places, degrees: the middle of the site and its
            corners.
        heights_m: height of the geoid at each place, metres above the ellipsoid; empty where the
            grid gives no answer.
        reason: why there are no heights; empty when there are.
    """

    sha256: str
    path: str = ""
    places: tuple[tuple[float, float], ...] = ()
    heights_m: tuple[float, ...] = ()
    reason: str = ""

    @property
    def heights_mm(self) -> tuple[int, ...]:
        """Return the heights in whole millimetres, by which a grid is known."""
        return tuple(round(height * 1000) for height in self.heights_m)


@dataclass(frozen=True)
class GeoidComparison:
    """Two grids held against each other.

    Args:
        likeness: what was found.
        largest_m: the largest difference at any of the places, metres; None when not comparable,
            and 0 for the same bytes.
        reason: why they cannot be compared; empty when they can.
    """

    likeness: Likeness
    largest_m: float | None = None
    reason: str = ""


def compare_site_geoids(first: SiteGeoid, second: SiteGeoid) -> GeoidComparison:
    """Hold two grids against each other: by their bytes, then by what they say at the same places.

    Args:
        first: a grid.
        second: another, asked at the same places.
    """
    if first.sha256 and first.sha256 == second.sha256:
        return GeoidComparison(Likeness.BYTES, 0.0)
    for each in (first, second):
        if not each.heights_m:
            return GeoidComparison(Likeness.UNKNOWN, reason=each.reason or "there are no heights")
    if first.places != second.places:
        return GeoidComparison(Likeness.UNKNOWN, reason="they were asked at different places")
    pairs = zip(first.heights_m, second.heights_m, strict=True)
    largest = max(abs(a - b) for a, b in pairs)
    return GeoidComparison(_name(largest), largest)


def _name(largest_m: float) -> Likeness:
    if largest_m <= SAME_M:
        return Likeness.VALUES
    return Likeness.RESAMPLED if largest_m <= ALIKE_M else Likeness.DIFFERENT
