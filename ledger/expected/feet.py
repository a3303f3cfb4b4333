"""What it costs to read one kind of foot as the other: 2 parts in a million of the coordinate.

US survey foot 1200/3937 m, international foot 0.3048 m: EPSG units of measure 9003 and 9002.
"""

from __future__ import annotations

from fractions import Fraction

from ledger.expected.records import Vector
from ledger.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT

_LONGER_BY = US_SURVEY_FOOT.factor - INTERNATIONAL_FOOT.factor


def compute_misread_foot(feet: float | Fraction) -> Fraction:
    """Return by how many metres a number of feet is longer in US survey than in international feet.

    Args:
        feet: a coordinate as it is written.
    """
    return Fraction(feet) * _LONGER_BY


def find_foot_shift(east_m: float, north_m: float) -> Vector:
    """Return how far a place moves whose coordinates in international feet are read as US survey.

    The other way round it moves back by the same, to 2 parts in a million.

    Args:
        east_m: easting, metres.
        north_m: northing, metres.
    """
    east, north = (
        float(compute_misread_foot(Fraction(each) / INTERNATIONAL_FOOT.factor))
        for each in (east_m, north_m)
    )
    return Vector(east, north, how="1200/3937 m against 0.3048 m")
