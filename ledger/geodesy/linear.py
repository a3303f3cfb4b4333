"""Units of length as coordinate systems write them: a name and a size, which may disagree."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from ledger.dataclass import dataclass
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT, Unit, find_linear_unit

_NAMES = {
    "metre": METRE,
    "meter": METRE,
    "m": METRE,
    "us survey foot": US_SURVEY_FOOT,
    "foot us": US_SURVEY_FOOT,
    "ftus": US_SURVEY_FOOT,
    "us ft": US_SURVEY_FOOT,
    "u s foot": US_SURVEY_FOOT,
    "foot": INTERNATIONAL_FOOT,
    "feet": INTERNATIONAL_FOOT,
    "ft": INTERNATIONAL_FOOT,
    "international foot": INTERNATIONAL_FOOT,
}


_DEGREE = 1e-12


@dataclass(frozen=True)
class Length:
    """A unit of length as understood.

    Args:
        unit: the known unit; None when it is another one.
        metres: size in metres.
        note: how name and size contradict each other; empty when they do not.
    """

    unit: Unit | None
    metres: float
    note: str = ""


def read_length(written: Any, what: str) -> Length | None:  # noqa: ANN401 - text or mapping
    """Return a unit of length of PROJJSON, None where it is an angle.

    A foot of 1 metre is a known fault of writers that convert nothing and keep the name: the name
    is what was meant. Where both name a foot, the size is what was computed with.

    Args:
        written: `metre`, or a mapping with `type`, `name` and `conversion_factor`.
        what: whose unit it is, for the note.
    """
    if isinstance(written, str):
        return Length(METRE, 1.0) if written == "metre" else None
    name, size = str(written.get("name", "")), written.get("conversion_factor")
    if written.get("type") not in ("LinearUnit", "Unit") or not isinstance(size, int | float):
        return None
    named, sized = find_named_unit(name), find_linear_unit(float(size))
    if named in (None, sized):
        return Length(sized, float(sized.factor) if sized else float(size))
    note = f"the {what} is called {name} but its size is written as {size!r} m"
    if size == 1:
        return Length(named, float(named.factor) if named else 1.0, note)
    return Length(sized, float(sized.factor) if sized else float(size), note)


def find_named_unit(name: str) -> Unit | None:
    """Return the known unit of length with this name, in any of its usual spellings."""
    return _NAMES.get(" ".join(name.replace("_", " ").replace(".", " ").casefold().split()))


def to_si(value: float, unit: Any) -> float:  # noqa: ANN401 - text or mapping
    """Return a parameter in metres, degrees or as a plain ratio.

    Args:
        value: the number as written.
        unit: its unit in PROJJSON.
    """
    if not isinstance(unit, Mapping):
        return value
    factor = float(unit.get("conversion_factor", 1.0))
    if unit.get("type") != "AngularUnit":
        return value * factor
    # A degree written out as radians has no more digits than its writer gave it.
    return value if abs(math.degrees(factor) - 1.0) < _DEGREE else math.degrees(value * factor)


def write_units(found: Iterable[tuple[str, str, float]], kind: str) -> dict[str, dict[str, Any]]:
    """Return registered units as PROJJSON by their code; the feet with their exact size.

    Args:
        found: code, name and factor of each.
        kind: `LinearUnit` or `AngularUnit`.
    """
    units = {}
    for code, name, factor in found:
        known = find_named_unit(name) if kind == "LinearUnit" else None
        size = float(known.factor) if known is not None else factor
        units[code] = {"type": kind, "name": name, "conversion_factor": size}
    return units
