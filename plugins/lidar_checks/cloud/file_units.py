"""How long one unit of a file's coordinates is, in metres.

A criterion in metres says nothing about coordinates of unknown unit, and a file in degrees has no
length at all, so both are answers here and not numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.georeferencing import Crs, CrsKind
from ledger.units import LINEAR_UNITS, Unit

# Keys of job.toml that the two functions below may fall back on.
PLAN_KEYS = ("coordinates.horizontal", "coordinates.unit.horizontal")
HEIGHT_KEYS = ("coordinates.unit.vertical", "coordinates.vertical_crs")


@dataclass(frozen=True)
class Scale:
    """A known unit of length.

    Args:
        metres: metres in one unit, exact.
    """

    metres: Fraction


@dataclass(frozen=True)
class NoScale:
    """Why there is no length.

    Args:
        reason: a clause that follows the name of the file.
        needs: what would have to be known.
    """

    reason: str
    needs: tuple[str, ...]


_DEGREES = NoScale(
    "is in degrees, which are no lengths: export it in a projected system",
    ("projected coordinates",),
)
_GEOCENTRIC = NoScale(
    "is in geocentric coordinates, whose X and Y are no plan: export it in a projected system",
    ("projected coordinates",),
)
_UNKNOWN = NoScale(
    "does not say its unit of length, and neither does the specification",
    ("coordinates.unit.horizontal",),
)
_NO_PLAN = {CrsKind.GEOGRAPHIC: _DEGREES, CrsKind.GEOCENTRIC: _GEOCENTRIC}


def find_horizontal_scale(file: DeliveredFile, evidence: Evidence) -> Scale | NoScale:
    """Return the size of a unit of X and Y.

    What the file says of itself comes first, since its numbers were written with it; where it is
    silent, what the specification asks for.
    """
    stated = _read_plan(file.crs.governing.crs) if file.crs is not None else None
    if stated is not None:
        return stated
    named = evidence.specification.coordinates.unit.horizontal
    if named is not None:
        return Scale(LINEAR_UNITS[named].factor)
    return _read_plan(evidence.specified_crs) or _UNKNOWN


def find_vertical_scale(file: DeliveredFile, evidence: Evidence, plan: Scale) -> Scale:
    """Return the size of a unit of Z: of the file, else specified, else that of X and Y.

    Heights without a vertical system are stored, by common practice, in the unit of the plan.
    """
    crs = file.crs.governing.crs if file.crs is not None else None
    stated = _read_heights(crs)
    if stated is not None:
        return stated
    named = evidence.specification.coordinates.unit.vertical
    if named is not None:
        return Scale(LINEAR_UNITS[named].factor)
    return _read_heights(evidence.specified_vertical) or plan


def find_common_scale(scales: Iterable[Scale | NoScale]) -> Scale | None:
    """Return the unit that most files have; None when none has one.

    Of two that are equally frequent the shorter, so that the answer does not hang on file order.
    """
    counts = Counter(scale.metres for scale in scales if isinstance(scale, Scale))
    if not counts:
        return None
    return Scale(min(counts, key=lambda metres: (-counts[metres], metres)))


def _read_plan(crs: Crs | None) -> Scale | NoScale | None:
    if crs is None:
        return None
    if crs.kind in _NO_PLAN:
        return _NO_PLAN[crs.kind]
    return _make_scale(crs.unit, crs.metres_per_unit)


def _read_heights(crs: Crs | None) -> Scale | None:
    if crs is None or crs.vertical is None:
        return None
    return _make_scale(crs.vertical.unit, crs.vertical.metres_per_unit)


def _make_scale(unit: Unit | None, metres: float | None) -> Scale | None:
    if unit is not None:
        return Scale(unit.factor)
    if metres is None or not 0 < metres < float("inf"):
        return None
    return Scale(Fraction(metres))
