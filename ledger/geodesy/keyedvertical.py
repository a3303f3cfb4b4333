"""The vertical part of GeoTIFF keys: a code, a datum alone, or codes under each other's keys."""

from __future__ import annotations

from ledger.geodesy.keyreader import (
    USER_DEFINED,
    VERTICAL,
    VERTICAL_DATUM,
    VERTICAL_NAME,
    VERTICAL_UNIT,
    Json,
    KeyReader,
)

# GeoTIFF 1.0 numbered heights above an ellipsoid by the ellipsoid.
OLD_ELLIPSOIDAL = range(5001, 5034)


def read_vertical(reader: KeyReader) -> Json | None:
    """Return the vertical system, None when no key names one; contradictions become notes."""
    system, datum = reader.code(VERTICAL), reader.code(VERTICAL_DATUM)
    unit = reader.read_unit(VERTICAL_UNIT, None)
    if system in OLD_ELLIPSOIDAL:
        return None
    found = _find_system(reader, system)
    if found is not None and system is not None:
        _compare_datum(reader, found, system, datum)
        return reader.with_unit(found, unit, system, VERTICAL_UNIT)
    if system is not None and (swapped := _find_system(reader, datum)) is not None:
        reader.notes.append(
            f"keys 4096 and 4098 are swapped: {system} is a datum, EPSG:{datum} the system"
            if _find_datum(reader, system) is not None
            else f"key 4098 holds EPSG:{datum}, a system, where a datum belongs"
        )
        return reader.with_unit(swapped, unit, datum or 0, VERTICAL_UNIT)
    frame = _find_datum(reader, system) or _find_datum(reader, datum)
    if frame is None:
        frame = _describe_unknown(reader, system)
    return None if frame is None else _build_system(reader, frame, unit)


def _find_system(reader: KeyReader, code: int | None) -> Json | None:
    found = reader.registry.crs(code) if code is not None else None
    return found if found is not None and found["type"] == "VerticalCRS" else None


def _find_datum(reader: KeyReader, code: int | None) -> Json | None:
    found = reader.registry.datum(code) if code is not None else None
    return found if found is not None and "Vertical" in found["type"] else None


def _compare_datum(reader: KeyReader, system: Json, code: int, datum: int | None) -> None:
    stated = _find_datum(reader, datum)
    own = system.get("datum") or system.get("datum_ensemble") or {}
    if stated is not None and stated["name"] != own.get("name"):
        reader.notes.append(
            f"key 4096 says EPSG:{code}, on {own.get('name')}, but key 4098 says {stated['name']}"
        )
    elif datum is not None and stated is None:
        reader.notes.append(f"key 4098 holds {datum}, which is no vertical datum")


def _describe_unknown(reader: KeyReader, code: int | None) -> Json | None:
    """Return a datum that is only named, or None with a note where a code means nothing."""
    if reader.keys.get(VERTICAL) == USER_DEFINED:
        name = reader.text(VERTICAL_NAME) or "unknown"
        return {"type": "VerticalReferenceFrame", "name": name}
    if code is not None:
        reader.notes.append(f"key 4096 holds {code}, which is no vertical system or datum")
    return None


def _build_system(reader: KeyReader, datum: Json, unit: Json | str | None) -> Json:
    """Return a vertical system on a datum; metres where no key states a unit."""
    frame = {part: value for part, value in datum.items() if part != "$schema"}
    return {
        "type": "VerticalCRS",
        "name": reader.text(VERTICAL_NAME) or f"{datum['name']} height",
        "datum": frame,
        "coordinate_system": {
            "subtype": "vertical",
            "axis": [
                {
                    "name": "Gravity-related height",
                    "abbreviation": "H",
                    "direction": "up",
                    "unit": unit or "metre",
                }
            ],
        },
    }
