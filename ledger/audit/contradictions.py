"""Where the coordinates section of a specification asks for two things that cannot both be met.

A deliverable can meet one of them only, so no audit against both is worth anything.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.dataclass import dataclass
from ledger.model.georeferencing import Crs, CrsKind, VerticalCrs
from ledger.model.specification import Coordinates
from ledger.units import LINEAR_UNITS

REMEDY = "correct one of the two, or put # before it"

# Closer than the two feet are to each other (2 ppm), looser than the rounding of written factors.
_SAME_UNIT = 1e-7


@dataclass(frozen=True)
class Contradiction:
    """Two keys that contradict each other.

    Args:
        path: the key that is told.
        what: the end of a sentence that begins with its name.
        found: its value.
        expected: what the other key asks for.
    """

    path: tuple[str, ...]
    what: str
    found: str
    expected: str


def find_contradictions(
    coordinates: Coordinates, horizontal: Crs | None, vertical: Crs | None
) -> Iterator[Contradiction]:
    """Yield every contradiction.

    Args:
        coordinates: the section as read.
        horizontal: the system of `horizontal`, understood; None when blank or not understood.
        vertical: the system of `vertical_crs`, likewise.
    """
    yield from _judge_flat_unit(coordinates.unit.horizontal, horizontal)
    for key, crs in (("vertical_crs", vertical), ("horizontal", horizontal)):
        if crs is not None and crs.vertical is not None:
            yield from _judge_height_unit(coordinates.unit.vertical, crs.vertical, key)
            yield from _judge_heights(coordinates.vertical, crs.vertical, key)
            return  # the key of its own counts before the second half of a compound system


def _judge_flat_unit(name: str | None, crs: Crs | None) -> Iterator[Contradiction]:
    if name is None or crs is None:
        return
    asked = ""
    if crs.kind is CrsKind.GEOGRAPHIC:
        asked = "degrees"
    elif crs.metres_per_unit is not None and _differ(name, crs.metres_per_unit):
        asked = crs.unit.name if crs.unit is not None else f"units of {crs.metres_per_unit:g} m"
    if asked:
        yield Contradiction(
            ("coordinates", "unit", "horizontal"),
            "contradicts coordinates.horizontal",
            f'"{name}"',
            f"{asked}, the unit of {crs.name}",
        )


def _judge_height_unit(name: str | None, crs: VerticalCrs, key: str) -> Iterator[Contradiction]:
    size = crs.metres_per_unit
    if name is None or size is None or not _differ(name, size):
        return
    asked = crs.unit.name if crs.unit is not None else f"units of {size:g} m"
    yield Contradiction(
        ("coordinates", "unit", "vertical"),
        f"contradicts coordinates.{key}",
        f'"{name}"',
        f"{asked}, the unit of {crs.name}",
    )


def _judge_heights(kind: str | None, crs: VerticalCrs, key: str) -> Iterator[Contradiction]:
    right = "ellipsoidal" if crs.is_ellipsoidal else "orthometric"
    if kind not in (None, right):
        yield Contradiction(
            ("coordinates", "vertical"),
            f"contradicts coordinates.{key}",
            f'"{kind}"',
            f"{right}, as {crs.name} is",
        )


def _differ(name: str, metres: float) -> bool:
    return abs(float(LINEAR_UNITS[name].factor) / metres - 1) > _SAME_UNIT
