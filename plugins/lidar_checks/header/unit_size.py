"""Units as header and specification state them, by size: names do not count."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.georeferencing import Crs, CrsKind
from ledger.units import INTERNATIONAL_FOOT, LINEAR_UNITS, US_SURVEY_FOOT, Unit
from lidar_checks.header.specified import find_specified_vertical

# Closer than the two feet are to each other (2 ppm), looser than the rounding of written factors.
_SAME = 1e-7

_WORDS = {
    "metre": "metres",
    "us-survey-foot": "US survey feet",
    "international-foot": "international feet",
}


@dataclass(frozen=True)
class UnitSize:
    """A linear unit as somebody stated it.

    Args:
        words: its name in the plural, for a sentence.
        metres: metres in one unit.
    """

    words: str
    metres: float

    @property
    def is_metre(self) -> bool:
        """Say whether it is the metre."""
        return abs(self.metres - 1) < _SAME

    def is_same(self, other: UnitSize) -> bool:
        """Say whether both are one unit."""
        return abs(self.metres / other.metres - 1) < _SAME

    def is_other_foot(self, other: UnitSize) -> bool:
        """Say whether the two are the two kinds of foot."""
        return {_find_foot(self), _find_foot(other)} == {INTERNATIONAL_FOOT, US_SURVEY_FOOT}


def _find_foot(size: UnitSize) -> Unit | None:
    for unit in (INTERNATIONAL_FOOT, US_SURVEY_FOOT):
        if abs(size.metres / float(unit.factor) - 1) < _SAME:
            return unit
    return None


def describe_size(unit: Unit | None, metres_per_unit: float | None) -> UnitSize | None:
    """Return a unit by size; None for an angle or where no size is stated."""
    if unit is not None:
        return UnitSize(_WORDS[unit.name], float(unit.factor))
    if metres_per_unit is None or not metres_per_unit > 0:
        return None
    return UnitSize(f"units of {metres_per_unit:.12g} m", metres_per_unit)


def find_flat_unit(crs: Crs | None) -> UnitSize | None:
    """Return the linear unit of X and Y; None for degrees or where it is not stated."""
    if crs is None or crs.kind is CrsKind.GEOGRAPHIC:
        return None
    return describe_size(crs.unit, crs.metres_per_unit)


def find_height_unit(crs: Crs | None) -> UnitSize | None:
    """Return the unit of Z; None where no vertical part states one."""
    if crs is None or crs.vertical is None:
        return None
    return describe_size(crs.vertical.unit, crs.vertical.metres_per_unit)


def find_asked_flat(evidence: Evidence) -> UnitSize | None:
    """Return the unit of X and Y that the job asks for; None when blank."""
    named = evidence.specification.coordinates.unit.horizontal
    if named is not None:
        return describe_size(LINEAR_UNITS[named], None)
    return find_flat_unit(evidence.specified_crs)


def find_asked_height(evidence: Evidence) -> UnitSize | None:
    """Return the unit of Z that the job asks for; None when blank."""
    named = evidence.specification.coordinates.unit.vertical
    if named is not None:
        return describe_size(LINEAR_UNITS[named], None)
    vertical = find_specified_vertical(evidence)
    return describe_size(vertical.unit, vertical.metres_per_unit) if vertical is not None else None
