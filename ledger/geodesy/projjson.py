"""From PROJJSON, the form in which the coordinate library hands a definition over, to our parts.

Pure: no registry is asked, so that what a text says and what a registry knows stay apart.

Source: the PROJJSON schema 0.7 (OSGeo), which spells out ISO 19111.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ledger.geodesy.linear import Length, read_length, to_si
from ledger.geodesy.zones import find_projected_zone
from ledger.model.georeferencing import Area, Crs, CrsKind, VerticalCrs

Json = Mapping[str, Any]

_KINDS = {
    "ProjectedCRS": CrsKind.PROJECTED,
    "DerivedProjectedCRS": CrsKind.PROJECTED,
    "GeographicCRS": CrsKind.GEOGRAPHIC,
    "DerivedGeographicCRS": CrsKind.GEOGRAPHIC,
    "EngineeringCRS": CrsKind.ENGINEERING,
    "DerivedEngineeringCRS": CrsKind.ENGINEERING,
}
_VERTICAL_TYPES = ("VerticalCRS", "DerivedVerticalCRS")

_GEOID_NAME = re.compile(r"\b(GEOID\s?\d{2}[A-Z]?|EGM\s?(?:84|96|08|2008|2020))\b", re.IGNORECASE)
_GEOID_FILE = "Geoid (height correction) model file"
_ZONE_NAME = re.compile(r"\bUTM[\s_]+zone[\s_]*(\d{1,2})", re.IGNORECASE)


def understand(definition: Json, dialect: str, wkt: str) -> tuple[Crs, tuple[str, ...]]:
    """Return the parts of a definition, and its contradictions.

    Args:
        definition: PROJJSON of any coordinate reference system.
        dialect: how it was written, as in `Crs.dialect`.
        wkt: the same as WKT2 text.
    """
    parts = [definition]
    whole = _unwrap(definition)
    if whole["type"] == "CompoundCRS":
        parts = list(whole["components"])
    horizontal = next((p for p in parts if _unwrap(p)["type"] not in _VERTICAL_TYPES), None)
    written = next((p for p in parts if _unwrap(p)["type"] in _VERTICAL_TYPES), None)
    vertical, notes = (None, ()) if written is None else understand_vertical(written)
    if horizontal is None:
        name = vertical.name if vertical else str(whole.get("name", ""))
        return (
            Crs(name, CrsKind.NONE, vertical=vertical, dialect=dialect, wkt=wkt),
            notes,
        )
    return _understand_horizontal(_unwrap(horizontal), vertical, notes, dialect, wkt)


def _unwrap(definition: Json) -> Json:
    """Return the system itself where it comes bound to another one by a transformation."""
    while definition["type"] == "BoundCRS":
        definition = definition["source_crs"]
    return definition


def _understand_horizontal(
    node: Json, vertical: VerticalCrs | None, notes: tuple[str, ...], dialect: str, wkt: str
) -> tuple[Crs, tuple[str, ...]]:
    axes = node["coordinate_system"]["axis"]
    length = read_length(axes[0].get("unit", "metre"), "unit")
    datum = _find_datum(node)
    ellipsoid = datum.get("ellipsoid", {})
    parameters = _list_parameters(node)
    method = str(node.get("conversion", {}).get("method", {}).get("name", ""))
    if vertical is None and len(axes) == 3 and node["type"] in _KINDS:
        height = read_length(axes[2].get("unit", "metre"), "unit of height")
        vertical = _describe_ellipsoidal(datum, height)
    crs = Crs(
        name=str(node.get("name", "")),
        kind=_find_kind(node),
        code=read_code(node),
        datum=str(datum.get("name", "")),
        datum_code=read_code(datum),
        ellipsoid=str(ellipsoid.get("name", "")),
        semi_major_m=_read_quantity(ellipsoid.get("semi_major_axis", ellipsoid.get("radius", 0.0))),
        inverse_flattening=_read_flattening(ellipsoid),
        projection=method,
        parameters=tuple(sorted(parameters.items())),
        utm_zone=find_projected_zone(method, parameters),
        unit=length.unit if length else None,
        metres_per_unit=length.metres if length else None,
        vertical=vertical,
        area=_read_area(node),
        axes_reversed=[axis["direction"] for axis in axes[:2]]
        in (["north", "east"], ["south", "west"]),
        dialect=dialect,
        wkt=wkt,
    )
    told = (length.note if length else "", _contradict_zone(crs))
    return crs, (*filter(None, told), *notes)


def _find_kind(node: Json) -> CrsKind:
    if node["type"] == "GeodeticCRS":
        is_cartesian = node["coordinate_system"].get("subtype") == "Cartesian"
        return CrsKind.GEOCENTRIC if is_cartesian else CrsKind.GEOGRAPHIC
    return _KINDS.get(node["type"], CrsKind.NONE)


def _find_datum(node: Json) -> Json:
    """Return the datum or ensemble of a system or of the one it is derived from."""
    while "base_crs" in node:
        node = node["base_crs"]
    datum: Json = node.get("datum") or node.get("datum_ensemble") or {}
    return datum


def read_code(node: Json) -> str:
    """Return the authority code of a part, empty for none."""
    written = node.get("id")
    return f"{written['authority']}:{written['code']}" if written else ""


def _read_quantity(written: Any) -> float:  # noqa: ANN401 - number or mapping
    if isinstance(written, Mapping):
        return to_si(float(written["value"]), written.get("unit"))
    return float(written)


def _read_flattening(ellipsoid: Json) -> float:
    """Return 1/f, from the semi-minor axis where that defines it; 0 for a sphere."""
    if "inverse_flattening" in ellipsoid:
        return _read_quantity(ellipsoid["inverse_flattening"])
    if "semi_minor_axis" not in ellipsoid:
        return 0.0
    major = _read_quantity(ellipsoid["semi_major_axis"])
    minor = _read_quantity(ellipsoid["semi_minor_axis"])
    return major / (major - minor) if major != minor else 0.0


def _list_parameters(node: Json) -> dict[str, float]:
    """Return the projection parameters; a prime meridian other than Greenwich counts as one."""
    parameters = {
        str(parameter["name"]): to_si(float(parameter["value"]), parameter.get("unit"))
        for parameter in node.get("conversion", {}).get("parameters", ())
        if isinstance(parameter.get("value"), int | float)
    }
    meridian = _find_datum(node).get("prime_meridian")
    if meridian and (longitude := _read_quantity(meridian["longitude"])):
        parameters["Prime meridian longitude"] = longitude
    return parameters


def _read_area(node: Json) -> Area | None:
    box = node.get("bbox") or next((u["bbox"] for u in node.get("usages", ()) if "bbox" in u), None)
    if not box:
        return None
    return Area(
        float(box["west_longitude"]),
        float(box["south_latitude"]),
        float(box["east_longitude"]),
        float(box["north_latitude"]),
    )


def _contradict_zone(crs: Crs) -> str:
    match = _ZONE_NAME.search(crs.name)
    if match is None or crs.kind is not CrsKind.PROJECTED or crs.utm_zone[:-1] == match.group(1):
        return ""
    is_zone = f"zone {crs.utm_zone}" if crs.utm_zone else "no UTM zone"
    return f"it is called {crs.name} but its parameters are those of {is_zone}"


def _describe_ellipsoidal(datum: Json, height: Length | None) -> VerticalCrs:
    return VerticalCrs(
        name="ellipsoidal height",
        datum=str(datum.get("name", "")),
        unit=height.unit if height else None,
        metres_per_unit=height.metres if height else None,
        is_ellipsoidal=True,
    )


def understand_vertical(definition: Json) -> tuple[VerticalCrs, tuple[str, ...]]:
    """Return the parts of a vertical system, and its contradictions."""
    node = _unwrap(definition)
    axis = node["coordinate_system"]["axis"][0]
    length = read_length(axis.get("unit", "metre"), "unit of height")
    datum = _find_datum(node)
    name, datum_name = str(node.get("name", "")), str(datum.get("name", ""))
    vertical = VerticalCrs(
        name=name,
        datum=datum_name,
        code=read_code(node),
        unit=length.unit if length else None,
        metres_per_unit=length.metres if length else None,
        geoid=_find_geoid(definition, node, f"{name} {datum_name}"),
    )
    return vertical, (length.note,) if length and length.note else ()


def _find_geoid(definition: Json, node: Json, names: str) -> str:
    """Return the geoid that a vertical system names: as a model, as a file, or in its own name."""
    models = [node["geoid_model"]] if "geoid_model" in node else list(node.get("geoid_models", ()))
    if models:
        return str(models[0].get("name", ""))
    named = _GEOID_NAME.search(names)
    if named:
        return named.group(1).upper().replace(" ", "")
    parameters = definition.get("transformation", {}).get("parameters", ())
    return next((str(p["value"]) for p in parameters if p.get("name") == _GEOID_FILE), "")
