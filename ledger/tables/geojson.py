"""Points of a GeoJSON file as a table: a column for each property, and three for the position.

RFC 7946: positions are longitude and latitude on WGS 84, degrees, unless somebody says otherwise.
"""

from __future__ import annotations

import json
from typing import Any

from ledger.errors import MalformedFileError
from ledger.tables.columns import EAST, HEIGHT, NORTH
from ledger.tables.rows import Row, TableText

SEPARATOR = "geojson"
SYSTEM, SOURCE = "EPSG:4326", "RFC 7946"
POSITION = {EAST: "position 1", NORTH: "position 2", HEIGHT: "position 3"}
_MOST_FEATURES = 100_000


def looks_like_geojson(text: str) -> bool:
    """Say whether a text begins as a GeoJSON object does."""
    return text.lstrip()[:1] == "{"


def take_apart_geojson(text: str, where: str) -> TableText:
    """Return the points of a GeoJSON object as rows, numbers with the digits that the file has.

    The line of a row is the number of its feature.

    Raises:
        MalformedFileError: it is no GeoJSON, or has no point.
    """
    try:
        content = json.loads(text, parse_float=str, parse_int=str)
    except (ValueError, RecursionError) as error:
        told = str(error).splitlines()[0][:80]
        raise MalformedFileError("the file is no JSON", found=told, where=where) from error
    features = content.get("features", [content]) if isinstance(content, dict) else None
    if not isinstance(features, list) or len(features) > _MOST_FEATURES:
        raise MalformedFileError("the file holds no GeoJSON features", where=where)
    found = [(n, each, _read_point(each)) for n, each in enumerate(features, start=1)]
    points = [(number, *point) for number, _, point in found if point is not None]
    if not points:
        raise MalformedFileError("the GeoJSON file holds no point", where=where)
    names = sorted({name for _, _, properties in points for name in properties})
    columns = (*names, *POSITION.values())
    rows = tuple(
        Row(number, (*(properties.get(name, "") for name in names), *position))
        for number, position, properties in points
    )
    other = tuple(Row(n, (_name_geometry(each),)) for n, each, point in found if point is None)
    return TableText(SEPARATOR, columns, 0, len(columns), rows, other, ())


def _name_geometry(feature: Any) -> str:  # noqa: ANN401 - any JSON
    """Return what a feature that is no point says it is; empty where it says nothing."""
    geometry = feature.get("geometry", feature) if isinstance(feature, dict) else None
    return _write(geometry.get("type")) if isinstance(geometry, dict) else ""


def _read_point(feature: Any) -> tuple[tuple[str, str, str], dict[str, str]] | None:  # noqa: ANN401 - any JSON
    """Return position and properties of a feature; None where it is no point."""
    if not isinstance(feature, dict):
        return None
    geometry = feature.get("geometry", feature)
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return None
    position = geometry.get("coordinates")
    if not isinstance(position, list) or not 2 <= len(position) <= len(POSITION):
        return None
    east, north, height = (*map(_write, position), "")[: len(POSITION)]
    given = feature.get("properties")
    properties = given if isinstance(given, dict) else {}
    return (east, north, height), {str(name): _write(value) for name, value in properties.items()}


def _write(value: object) -> str:
    """Return a value as a cell would hold it; what is no text and no number is blank."""
    return value if isinstance(value, str) else ""
