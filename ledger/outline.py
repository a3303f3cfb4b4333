"""Reading the outline of a site: polygons of a GeoJSON or a WKT file, as they are written.

Invariants:

- A file that holds anything but closed rings of finite numbers is refused in one line.
- GeoJSON as in RFC 7946: rings of four positions and more whose first is also the last, an outer
  ring and its holes. WKT as in OGC 06-103r4, section 7: POLYGON and MULTIPOLYGON.
- What is read is small: neither a large file nor a large number of corners is taken up.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any, NoReturn

from ledger.dataclass import dataclass
from ledger.errors import SwathbookError, UnreadableFileError
from ledger.model.boundary import Polygon, Ring
from ledger.shortfile import read_short_file

MOST_CORNERS = 100_000
"""Corners of all rings together; an outline of a site has some tens."""

_SMALLEST_RING = 4
_DEEPEST = 8  # collections within collections
_LARGEST = 1e9  # no plane coordinate on Earth has more, in any unit
_WKT = re.compile(r"^\s*(?:SRID=\d+;)?\s*(MULTI)?POLYGON(?:\s+(?:Z|M|ZM))?\s*(?=\()", re.IGNORECASE)
_TOKEN = re.compile(r"\s*([(),]|[-+.\w]+)")
_REMEDY = "write the outline as a polygon in GeoJSON or WKT"


@dataclass(frozen=True)
class Outline:
    """What an outline file says.

    Args:
        sha256: digest of its bytes.
        polygons: as written, each an outer ring and its holes.
        is_geojson: GeoJSON, whose positions are longitude and latitude unless somebody says
            otherwise.
    """

    sha256: str
    polygons: tuple[Polygon, ...]
    is_geojson: bool


def read_outline(path: Path) -> Outline:
    """Return the polygons of a GeoJSON or WKT file.

    Raises:
        UnreadableFileError: absent, too large, or no polygons; one line with the file.
    """
    content = read_short_file(path, "the boundary")
    try:
        text = content.decode("utf-8-sig")
        is_geojson = text.lstrip()[:1] == "{"
        polygons = tuple(_read_geojson(text) if is_geojson else _read_wkt(text))
        if not polygons:
            _refuse("the boundary holds no polygon")
        if sum(len(ring) for polygon in polygons for ring in polygon) > MOST_CORNERS:
            _refuse("the boundary has too many corners", expected=f"at most {MOST_CORNERS:,}")
    except SwathbookError as error:
        (fault,) = error.faults[:1]
        raise UnreadableFileError(
            fault.what, found=fault.found, expected=fault.expected, where=str(path), remedy=_REMEDY
        ) from None
    except (ValueError, RecursionError) as error:
        raise UnreadableFileError(
            "the boundary cannot be read",
            found=str(error).splitlines()[0][:80],
            where=str(path),
            remedy=_REMEDY,
        ) from error
    return Outline(sha256(content).hexdigest(), polygons, is_geojson)


def _refuse(what: str, found: str = "", expected: str = "") -> NoReturn:
    raise SwathbookError(what, found=found[:60], expected=expected)


def _read_geojson(text: str) -> Iterator[Polygon]:
    return _list_polygons(json.loads(text), 0)


def _list_polygons(value: Any, depth: int) -> Iterator[Polygon]:  # noqa: ANN401 - parsed JSON
    kind = value.get("type") if isinstance(value, dict) else None
    if depth > _DEEPEST or not isinstance(kind, str):
        _refuse("the boundary is no GeoJSON", expected="an object with a type")
    if kind in ("FeatureCollection", "GeometryCollection"):
        for each in _require_list(value.get("features" if kind[0] == "F" else "geometries")):
            yield from _list_polygons(each, depth + 1)
    elif kind == "Feature":
        if value.get("geometry") is not None:
            yield from _list_polygons(value["geometry"], depth + 1)
    elif kind == "Polygon":
        yield _make_polygon(_require_list(value.get("coordinates")))
    elif kind == "MultiPolygon":
        for each in _require_list(value.get("coordinates")):
            yield _make_polygon(_require_list(each))
    else:
        _refuse("the boundary holds what is no polygon", kind, "Polygon or MultiPolygon")


def _require_list(value: Any) -> list[Any]:  # noqa: ANN401 - parsed JSON
    if not isinstance(value, list):
        _refuse("the boundary has something else where a list has to stand", repr(value)[:60])
    return value


def _make_polygon(rings: list[Any]) -> Polygon:
    if not rings:
        _refuse("a polygon of the boundary has no ring")
    return tuple(_make_ring(_require_list(ring)) for ring in rings)


def _make_ring(positions: Iterable[Any]) -> Ring:
    ring = tuple(_make_place(position) for position in positions)
    if len(ring) < _SMALLEST_RING:
        _refuse("a ring of the boundary is too short", str(len(ring)), "4 positions or more")
    if ring[0] != ring[-1]:
        _refuse("a ring of the boundary is not closed", expected="its first position last again")
    return ring


def _make_place(position: Any) -> tuple[float, float]:  # noqa: ANN401 - parsed JSON
    if not isinstance(position, list) or len(position) < 2:
        _refuse("a position of the boundary is no pair of numbers", repr(position)[:60])
    return _make_number(position[0]), _make_number(position[1])


def _make_number(value: Any) -> float:  # noqa: ANN401 - parsed JSON
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not -_LARGEST <= value <= _LARGEST:
        _refuse("a coordinate of the boundary is no number of a place", repr(value)[:60])
    return float(value)


def _read_wkt(text: str) -> Iterator[Polygon]:
    found = _WKT.match(text)
    if found is None:
        _refuse("the boundary is neither GeoJSON nor a polygon in WKT", text.strip()[:40])
    value = _read_lists(text[found.end() :])
    for each in value if found[1] else [value]:
        yield _make_polygon(_require_list(each))


def _read_lists(text: str) -> list[Any]:
    """Return the brackets of a WKT geometry as lists, positions as lists of numbers."""
    stack: list[list[Any]] = [[]]
    position: list[float] = []
    place = 0
    text = text.rstrip().rstrip(";")
    while place < len(text):
        token = _TOKEN.match(text, place)
        if token is None:
            _refuse("the boundary is no polygon in WKT", text[place : place + 20])
        place = token.end()
        mark = token[1]
        if mark not in "(),":
            position.append(_make_number(float(mark)))
            continue
        if position and mark != "(":
            stack[-1].append(position)
            position = []
        if mark == "(":
            stack.append([])
            if len(stack) > _SMALLEST_RING:
                _refuse("the boundary has too many brackets for a polygon")
        elif mark == ")":
            if len(stack) == 1:
                _refuse("the boundary closes a bracket that it does not open")
            closed = stack.pop()
            stack[-1].append(closed)
    if len(stack) != 1 or len(stack[0]) != 1 or position:
        _refuse("the boundary ends within a bracket, or goes on after its polygon")
    geometry: list[Any] = stack[0][0]
    return geometry
