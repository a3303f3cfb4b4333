"""In which parts two coordinate systems differ: by what they do, not by what they are called.

Angles agree within 1e-9 rad. Lengths agree within 0.2 mm, since the EPSG registry itself writes a
false easting of 500 000 m as 1 640 416.667 US survey feet, which is 0.1 mm off. GRS 1980 against
WGS 84 is 0.1 mm in the polar radius: a datum that differs says it all, so the ellipsoid is named
only where the datum is the same.
"""

from __future__ import annotations

import math
import re

from ledger.geodesy.wkttext import list_ensemble_members
from ledger.model.georeferencing import Crs, CrsDifference, CrsKind, VerticalCrs

_ANGLE_TOLERANCE_DEG = math.degrees(1e-9)
_LENGTH_TOLERANCE_M = 2e-4
_SCALE_TOLERANCE = 1e-10
_FLATTENING_TOLERANCE = 1e-7
# The two feet differ by 2e-6.
_UNIT_TOLERANCE = 1e-9

_ANGULAR = ("latitude", "longitude", "parallel", "azimuth", "angle", "meridian")
_NONE = "none"


def compare(a: Crs, b: Crs) -> tuple[CrsDifference, ...]:
    """Return the parts in which two systems differ; empty when they place points alike.

    Vertical parts are compared where both state one; `compare_vertical` also tells absent from
    present. A member of a datum ensemble agrees with its ensemble, because whoever writes the
    ensemble says no more than that.
    """
    found = []
    if a.kind is not b.kind:
        found.append(CrsDifference("kind", str(a.kind), str(b.kind)))
    if CrsKind.NONE not in (a.kind, b.kind):
        found += _compare_datums(a, b)
        if a.kind is b.kind:
            found += _compare_projections(a, b)
        found += _compare_units("unit", a, b)
    if a.vertical is not None and b.vertical is not None:
        found += compare_vertical(a.vertical, b.vertical)
    return tuple(found)


def compare_vertical(a: VerticalCrs | None, b: VerticalCrs | None) -> tuple[CrsDifference, ...]:
    """Return the parts in which two vertical systems differ; an absent one differs from any."""
    if a is None or b is None:
        if a is b:
            return ()
        return (
            CrsDifference(
                "vertical datum",
                _NONE if a is None else _name_vertical(a),
                _NONE if b is None else _name_vertical(b),
            ),
        )
    found = []
    same_kind = a.is_ellipsoidal is b.is_ellipsoidal
    same_code = bool(a.code) and a.code == b.code
    if not same_kind or not (same_code or _normalise(a.datum) == _normalise(b.datum)):
        found.append(CrsDifference("vertical datum", _name_vertical(a), _name_vertical(b)))
    found += _compare_units("vertical unit", a, b)
    if a.geoid and b.geoid and _normalise(a.geoid) != _normalise(b.geoid):
        found.append(CrsDifference("geoid", a.geoid, b.geoid))
    return tuple(found)


def _name_vertical(vertical: VerticalCrs) -> str:
    if vertical.is_ellipsoidal:
        return f"height above the ellipsoid of {vertical.datum}"
    return vertical.datum or vertical.name or "unnamed"


def _compare_datums(a: Crs, b: Crs) -> list[CrsDifference]:
    if not _is_same_datum(a, b):
        return [CrsDifference("datum", a.datum or _NONE, b.datum or _NONE)]
    if _has_same_ellipsoid(a, b):
        return []
    return [CrsDifference("ellipsoid", _name_ellipsoid(a), _name_ellipsoid(b))]


def _name_ellipsoid(crs: Crs) -> str:
    return f"{crs.ellipsoid} ({crs.semi_major_m} m, 1/{crs.inverse_flattening})"


def _is_same_datum(a: Crs, b: Crs) -> bool:
    if a.datum_code and a.datum_code == b.datum_code:
        return True
    names = _normalise(a.datum), _normalise(b.datum)
    if names[0] == names[1]:
        return True
    members = ({_normalise(name) for name in list_ensemble_members(crs.wkt)} for crs in (a, b))
    return any(name in ensemble for name, ensemble in zip(reversed(names), members, strict=True))


def _has_same_ellipsoid(a: Crs, b: Crs) -> bool:
    return (
        abs(a.semi_major_m - b.semi_major_m) < _LENGTH_TOLERANCE_M
        and abs(a.inverse_flattening - b.inverse_flattening) < _FLATTENING_TOLERANCE
    )


def _normalise(name: str) -> str:
    """Return a name without what only spelling changes: case, marks, "of", "ensemble", "D_"."""
    plain = re.sub(r"[^a-z0-9]+", " ", name.casefold()).strip()
    return "".join(word for word in plain.split() if word not in ("of", "ensemble", "d", "datum"))


def _compare_projections(a: Crs, b: Crs) -> list[CrsDifference]:
    if a.utm_zone and b.utm_zone:
        same = a.utm_zone == b.utm_zone
        return [] if same else [CrsDifference("zone", a.utm_zone, b.utm_zone)]
    if _normalise(a.projection) != _normalise(b.projection):
        return [CrsDifference("projection", a.projection or _NONE, b.projection or _NONE)]
    mine, theirs = _order_parallels(a), _order_parallels(b)
    differing = [
        name for name in sorted(mine.keys() | theirs.keys()) if not _agrees(name, mine, theirs)
    ]
    if not differing:
        return []
    told = (
        # Twelve digits tell all that counts as a difference, and none that a unit's factor leaves.
        ", ".join(f"{name} {values.get(name, _default(name)):.12g}" for name in differing)
        for values in (mine, theirs)
    )
    return [CrsDifference("projection", *told)]


def _order_parallels(crs: Crs) -> dict[str, float]:
    """Return the parameters with the smaller standard parallel first: their order means nothing."""
    parameters = dict(crs.parameters)
    pair = [name for name in parameters if name.endswith("standard parallel")]
    ordered = sorted(parameters[name] for name in pair)
    return {**parameters, **dict(zip(sorted(pair), ordered, strict=True))}


def _default(name: str) -> float:
    return 1.0 if "scale" in name.casefold() else 0.0


def _agrees(name: str, mine: dict[str, float], theirs: dict[str, float]) -> bool:
    difference = abs(mine.get(name, _default(name)) - theirs.get(name, _default(name)))
    plain = name.casefold()
    if "scale" in plain:
        return difference < _SCALE_TOLERANCE
    if any(word in plain for word in _ANGULAR):
        return min(difference % 360.0, -difference % 360.0) < _ANGLE_TOLERANCE_DEG
    return difference < _LENGTH_TOLERANCE_M


def _compare_units(part: str, a: Crs | VerticalCrs, b: Crs | VerticalCrs) -> list[CrsDifference]:
    if a.metres_per_unit is None or b.metres_per_unit is None:
        return []
    if abs(a.metres_per_unit / b.metres_per_unit - 1.0) < _UNIT_TOLERANCE:
        return []
    return [CrsDifference(part, _name_unit(a), _name_unit(b))]


def _name_unit(crs: Crs | VerticalCrs) -> str:
    return crs.unit.name if crs.unit is not None else f"{crs.metres_per_unit!r} m"
