"""Which settings of a run can move its result: how two runs are held against each other."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from enum import StrEnum

from ledger.model.known import KnownValue

# Settings that say where the numbers are; those that say how the points were made. Common
# practice, no source. Every other setting leaves the points where they are.
_GEODETIC = frozenset(
    {
        "crs",
        "frame",
        "epoch",
        "zone",
        "unit_horizontal",
        "unit_vertical",
        "input_height_type",
        "output_height_type",
        "vertical_datum",
        "geoid_name",
        "geoid_version",
        "geoid_file",
        "geoid_frame",
        "geoid_applications",
    }
)
_COSMETIC = frozenset(
    {
        "started",
        "ended",
        "folder",
        "exit_status",
        "purpose",
        "decision",
        "reason",
        "build",
        "installer",
    }
)


class Weight(StrEnum):
    """What a difference can do to the result, worst first. Common practice, no source."""

    GEODETIC = "geodetic"
    GEOMETRIC = "geometric"
    COSMETIC = "cosmetic"


def is_equal(first: KnownValue, second: KnownValue) -> bool:
    """Say whether two values say the same: 0.10 m is 0.1 m, whoever wrote it."""
    if first.unit != second.unit:
        return False
    return _read(first.value) == _read(second.value)


def _read(value: object) -> object:
    if isinstance(value, list):
        return [_read(part) for part in value]
    if isinstance(value, str):
        try:
            return Decimal(value)
        except InvalidOperation:
            return value
    return value


def weigh(name: str) -> Weight:
    """Return what a setting can do to the result, by its name without the kind of record."""
    if name in _GEODETIC:
        return Weight.GEODETIC
    return Weight.COSMETIC if name in _COSMETIC else Weight.GEOMETRIC
