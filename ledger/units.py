"""Linear units with exact factors.

Factors are rational numbers: a foot that is 2 ppm wrong moves a northing of 4 000 km by 8 m.
Sources: the international foot is 0.3048 m by definition; the US survey foot is 1200/3937 m
(EPSG unit of measure 9003, EPSG 9002 for the international foot).

This module imports nothing of ours.
"""

from __future__ import annotations

from fractions import Fraction

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Unit:
    """A unit of length or angle.

    Args:
        name: the name used in `job.toml` and on screens.
        factor: size of one unit in metres; for an angle, in degrees.
        symbol: the short form beside a number.
        epsg: code of the unit in the EPSG registry.
    """

    name: str
    factor: Fraction
    symbol: str
    epsg: int


METRE = Unit("metre", Fraction(1), "m", 9001)
INTERNATIONAL_FOOT = Unit("international-foot", Fraction(3048, 10000), "ft", 9002)
US_SURVEY_FOOT = Unit("us-survey-foot", Fraction(1200, 3937), "ftUS", 9003)
DEGREE = Unit("degree", Fraction(1), "deg", 9102)

LINEAR_UNITS = {unit.name: unit for unit in (METRE, US_SURVEY_FOOT, INTERNATIONAL_FOOT)}

# The two feet differ by 2 parts in a million, so a match must be closer than that.
_SAME_UNIT = Fraction(1, 10_000_000)


def find_linear_unit(metres_per_unit: float) -> Unit | None:
    """Return the known unit whose size is `metres_per_unit` within 0.1 ppm, or None."""
    if not metres_per_unit > 0 or metres_per_unit == float("inf"):
        return None
    size = Fraction(metres_per_unit)
    for unit in LINEAR_UNITS.values():
        if abs(size / unit.factor - 1) < _SAME_UNIT:
            return unit
    return None
