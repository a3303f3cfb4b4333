"""The horizontal part of GeoTIFF keys: a code, or a projection and a datum spelt out."""

from __future__ import annotations

import re

from ledger.errors import CrsError
from ledger.geodesy.keyreader import (
    CONVERSION,
    DATUM,
    ELLIPSOID,
    FLATTENING,
    GEOGRAPHIC,
    GEOGRAPHIC_NAME,
    LINEAR_SIZE,
    LINEAR_UNIT,
    MAJOR,
    MERIDIAN,
    MERIDIAN_LONGITUDE,
    METHOD,
    MINOR,
    MODEL,
    NAME,
    PROJECTED,
    PROJECTED_NAME,
    USER_DEFINED,
    Json,
    KeyReader,
)
from ledger.geodesy.methods import ANGLE, LENGTH, RATIO, write_conversion

_PROJECTED_MODEL = 1


def read_horizontal(reader: KeyReader) -> Json | None:
    """Return the projected or geographic system; None when no key names one."""
    projected, geographic = reader.code(PROJECTED), reader.code(GEOGRAPHIC)
    if projected is not None:
        return _read_coded(reader, projected, geographic)
    described = reader.keys.keys() & {METHOD, CONVERSION}
    if described or reader.keys.get(PROJECTED) == USER_DEFINED:
        return _build_projected(reader)
    if geographic is not None or reader.keys.get(GEOGRAPHIC) == USER_DEFINED:
        return _build_geographic(reader)
    if reader.keys.get(MODEL) == _PROJECTED_MODEL:
        _note_misplaced_code(reader)
    return None


def _note_misplaced_code(reader: KeyReader) -> None:
    unit = reader.code(LINEAR_UNIT)
    found = reader.registry.crs(unit) if unit is not None else None
    if found is not None and reader.registry.unit(unit or 0) is None:
        reader.notes.append(
            f"key 3076, which is for the unit, holds {unit}, the code of {found['name']}"
        )


def _read_coded(reader: KeyReader, code: int, geographic: int | None) -> Json:
    definition = reader.require(reader.registry.crs(code), PROJECTED, code)
    if definition["type"] != "ProjectedCRS":
        raise CrsError(
            "GeoTIFF key 3072 holds no projected system",
            found=f"EPSG:{code}, {definition['name']}",
        )
    base = definition["base_crs"].get("id", {}).get("code")
    if geographic is not None and base is not None and geographic != base:
        reader.notes.append(
            f"key 3072 says EPSG:{code}, which is based on EPSG:{base}, "
            f"but key 2048 says EPSG:{geographic}"
        )
    return reader.with_unit(definition, reader.read_unit(LINEAR_UNIT, LINEAR_SIZE), code, 3076)


def _build_projected(reader: KeyReader) -> Json:
    unit = reader.read_unit(LINEAR_UNIT, LINEAR_SIZE) or "metre"
    conversion = reader.code(CONVERSION)
    if conversion is not None:
        found = reader.require(reader.registry.conversion(conversion), CONVERSION, conversion)
        body = {part: value for part, value in found.items() if part not in ("$schema", "type")}
    else:
        angle = reader.read_angle()
        body = write_conversion(reader.keys, {ANGLE: angle, LENGTH: unit, RATIO: "unity"})
    return {
        "type": "ProjectedCRS",
        "name": reader.text(PROJECTED_NAME) or reader.text(NAME) or "unnamed",
        "base_crs": _build_geographic(reader),
        "conversion": body,
        "coordinate_system": {
            "subtype": "Cartesian",
            "axis": [
                {"name": "Easting", "abbreviation": "E", "direction": "east", "unit": unit},
                {"name": "Northing", "abbreviation": "N", "direction": "north", "unit": unit},
            ],
        },
    }


def _build_geographic(reader: KeyReader) -> Json:
    code = reader.code(GEOGRAPHIC)
    if code is not None:
        return reader.require(reader.registry.crs(code), GEOGRAPHIC, code)
    citation = reader.text(GEOGRAPHIC_NAME)
    return {
        "type": "GeographicCRS",
        "name": citation or "unnamed",
        "datum": _build_datum(reader, citation),
        "coordinate_system": {
            "subtype": "ellipsoidal",
            "axis": [
                {"name": name, "abbreviation": short, "direction": way, "unit": "degree"}
                for name, short, way in (
                    ("Longitude", "lon", "east"),
                    ("Latitude", "lat", "north"),
                )
            ],
        },
    }


def _build_datum(reader: KeyReader, citation: str) -> Json:
    code = reader.code(DATUM)
    if code is not None:
        return reader.require(reader.registry.datum(code), DATUM, code)
    named = re.search(r"Datum\s*=\s*([^|]+)", citation)
    datum = {
        "type": "GeodeticReferenceFrame",
        "name": named.group(1).strip() if named else "unknown",
        "ellipsoid": _build_ellipsoid(reader),
    }
    meridian = reader.code(MERIDIAN)
    if meridian is not None:
        datum["prime_meridian"] = reader.require(
            reader.registry.meridian(meridian), MERIDIAN, meridian
        )
    elif reader.number(MERIDIAN_LONGITUDE):
        datum["prime_meridian"] = {
            "name": "unnamed",
            "longitude": {
                "value": reader.number(MERIDIAN_LONGITUDE),
                "unit": reader.read_angle(),
            },
        }
    return datum


def _build_ellipsoid(reader: KeyReader) -> Json:
    code = reader.code(ELLIPSOID)
    if code is not None:
        return reader.require(reader.registry.ellipsoid(code), ELLIPSOID, code)
    major, minor = reader.number(MAJOR), reader.number(MINOR)
    flattening = reader.number(FLATTENING)
    if not major or not (minor or flattening):
        raise CrsError("the GeoTIFF keys define no datum and no ellipsoid")
    shape = {"inverse_flattening": flattening} if flattening else {"semi_minor_axis": minor}
    return {"name": "unnamed", "semi_major_axis": major, **shape}
