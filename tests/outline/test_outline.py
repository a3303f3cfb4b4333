"""The outline of a site as written: GeoJSON and WKT, and what is refused in one line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.boundary import read_boundary
from ledger.crs import describe
from ledger.errors import SpecificationError, UnreadableFileError
from ledger.model.specification import Specification
from ledger.outline import MOST_CORNERS, read_outline

SQUARE = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
HOLE = [[1, 1], [1, 2], [2, 2], [2, 1], [1, 1]]
POLYGON = {"type": "Polygon", "coordinates": [SQUARE, HOLE]}
RINGS = "(0 0,4 0,4 4,0 4,0 0),(1 1,1 2,2 2,2 1,1 1)"
PLACES = tuple((float(x), float(y)) for x, y in SQUARE)
HOLES = tuple((float(x), float(y)) for x, y in HOLE)


def write(folder: Path, text: str | bytes) -> Path:
    """Write an outline."""
    path = folder / "site.geojson"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    ("content", "number"),
    [
        (POLYGON, 1),
        ({"type": "Feature", "properties": {}, "geometry": POLYGON}, 1),
        ({"type": "MultiPolygon", "coordinates": [[SQUARE, HOLE]] * 2}, 2),
        (
            {
                "type": "FeatureCollection",
                "features": [
                    {"type": "Feature", "geometry": POLYGON},
                    {"type": "Feature", "geometry": None},
                    {
                        "type": "Feature",
                        "geometry": {"type": "GeometryCollection", "geometries": [POLYGON]},
                    },
                ],
            },
            2,
        ),
    ],
)
def test_geojson_polygons_are_read(tmp_path: Path, content: Any, number: int) -> None:
    """Each of the forms of RFC 7946 that holds polygons, with their holes."""
    outline = read_outline(write(tmp_path, json.dumps(content)))
    assert outline.polygons == ((PLACES, HOLES),) * number
    assert outline.is_geojson


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("POLYGON ((0 0, 4 0, 4 4, 0 4, 0 0), (1 1, 1 2, 2 2, 2 1, 1 1))", 1),
        ("polygon z((0 0 9,4 0 9,4 4 9,0 4 9,0 0 9),(1 1 9,1 2 9,2 2 9,2 1 9,1 1 9));\n", 1),
        (
            f"SRID=6346;MULTIPOLYGON (({RINGS}),({RINGS}))",
            2,
        ),
    ],
)
def test_wkt_polygons_are_read(tmp_path: Path, text: str, number: int) -> None:
    """As in OGC 06-103r4, with heights too."""
    outline = read_outline(write(tmp_path, text))
    assert outline.polygons == ((PLACES, HOLES),) * number
    assert not outline.is_geojson


def polygon(*ring: Any) -> str:
    """Return a GeoJSON polygon of one ring."""
    return json.dumps({"type": "Polygon", "coordinates": [list(ring)]})


HOSTILE: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", "neither GeoJSON nor a polygon"),
    "cut": ("{", "cannot be read"),
    "nested lists": ("[" * 100_000, "neither GeoJSON"),
    "nested objects": ('{"type":' * 100_000, "cannot be read"),
    "no text": (b"\xff\xfe\x00", "cannot be read"),
    "a list": ("[1, 2]", "neither GeoJSON"),
    "no type": ("{}", "no GeoJSON"),
    "no feature": ('{"type": "FeatureCollection", "features": []}', "no polygon"),
    "no features": ('{"type": "FeatureCollection"}', "where a list"),
    "a point": ('{"type": "Point", "coordinates": [1, 2]}', "what is no polygon"),
    "two corners": (polygon([0, 0], [1, 0], [0, 0]), "too short"),
    "open": (polygon([0, 0], [1, 0], [1, 1], [0, 1]), "not closed"),
    "nan": (polygon([0, 0], [1, float("nan")], [1, 1], [0, 0]), "no number of a place"),
    "huge": (polygon([0, 0], [1, 10**400], [1, 1], [0, 0]), "no number of a place"),
    "true": (polygon([0, 0], [1, True], [1, 1], [0, 0]), "no number of a place"),
    "text": (polygon([0, 0], [1, "1"], [1, 1], [0, 0]), "no number of a place"),
    "one number": (polygon([0, 0], [1], [1, 1], [0, 0]), "no pair"),
    "no ring": ('{"type": "Polygon", "coordinates": []}', "no ring"),
    "many": (polygon(*[[0, 0]] * (MOST_CORNERS + 1)), "too many corners"),
    "WKT point": ("POINT (1 2)", "neither GeoJSON"),
    "WKT empty": ("POLYGON EMPTY", "neither GeoJSON"),
    "WKT cut": ("POLYGON ((0 0, 1 0, 1 1, 0 0)", "ends within a bracket"),
    "WKT twice": ("POLYGON ((0 0, 1 0, 1 1, 0 0)) POLYGON ((", "cannot be read"),
    "WKT word": ("POLYGON ((0 0, 1 0, x 1, 0 0))", "cannot be read"),
    "WKT infinite": ("POLYGON ((0 0, 1 0, 1 1, 0 inf))", "no number of a place"),
    "WKT mark": ("POLYGON ((0 0, 1 0, 1 1, 0 ;))", "no polygon in WKT"),
    "WKT nested": ("POLYGON " + "(" * 100_000, "too many brackets"),
    "WKT flat": ("POLYGON (0 0, 1 0, 1 1, 0 0)", "no pair"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_polygon_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    """With the file; nothing is waited for and nothing grows."""
    text, told = HOSTILE[name]
    path = write(tmp_path, text)
    with pytest.raises(UnreadableFileError, match=told) as refusal:
        read_outline(path)
    assert len(str(refusal.value).splitlines()) == 1
    assert str(path) in str(refusal.value)


def specify(**delivery: Any) -> Specification:
    """Return a specification that names the outline."""
    return Specification.model_validate({"delivery": {"boundary": "site.geojson", **delivery}})


def test_geojson_is_longitude_and_latitude(tmp_path: Path) -> None:
    """A degree of longitude east of the central meridian of zone 17 and back on it.

    On the central meridian easting is 500,000 m whatever the latitude (EPSG method 9807); the best
    operation of the registry from WGS 84 to NAD83(2011) moves a place by less than two metres.
    """
    ring = [[-81, 39], [-80, 39], [-80, 39.01], [-81, 39]]
    path = write(tmp_path, polygon(*ring))
    found = read_boundary(specify(), describe("EPSG:6346"), tmp_path)
    assert found is not None
    assert found.sha256 == read_outline(path).sha256
    west, east = found.polygons[0][0][:2]
    assert west[0] == pytest.approx(500_000, abs=2)
    # One degree at 39° is 86.6 km (cos 39° · 111.3 km), less the scale of 0.9996.
    assert east[0] - west[0] == pytest.approx(86_600, abs=200)


def test_the_job_may_say_otherwise(tmp_path: Path) -> None:
    """Plane coordinates in GeoJSON, with their system stated; without it they are refused."""
    ring = [[500_000, 4_300_000], [500_100, 4_300_000], [500_100, 4_300_100], [500_000, 4_300_000]]
    write(tmp_path, polygon(*ring))
    system = describe("EPSG:6346")
    found = read_boundary(specify(boundary_crs="EPSG:6346"), system, tmp_path)
    assert found is not None
    assert found.box == (500_000, 4_300_000, 500_100, 4_300_100)
    with pytest.raises(SpecificationError, match="coordinates are no degrees"):
        read_boundary(specify(), system, tmp_path)


def test_wkt_is_in_the_system_of_the_job(tmp_path: Path) -> None:
    """It states none of its own."""
    write(tmp_path, "POLYGON ((5 5, 9 5, 9 9, 5 5))")
    found = read_boundary(specify(), describe("EPSG:6346"), tmp_path)
    assert found is not None
    assert found.box == (5, 5, 9, 9)


def test_what_cannot_be_placed_says_why(tmp_path: Path) -> None:
    """Blank, not there, or without a system."""
    system = describe("EPSG:6346")
    assert read_boundary(Specification(), system, tmp_path) is None
    assert read_boundary(specify(), system, tmp_path) is None
    write(tmp_path, json.dumps(POLYGON))
    found = read_boundary(specify(), None, tmp_path)
    assert found is not None
    assert "coordinates.horizontal is blank" in found.fault
    wrong = read_boundary(specify(boundary_crs="EPSG:5703"), system, tmp_path)
    assert wrong is not None
    assert "heights alone" in wrong.fault
