"""Two made-up geoid grids in the GeoTIFF form that open geodesy libraries read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import tifffile

from ledger.crs import describe, to_lonlat
from ledger.demo import site

_STEP_DEG = 0.0005
_MARGIN_STEPS = 6
_METADATA = (
    '<GDALMetadata><Item name="TYPE">VERTICAL_OFFSET_GEOGRAPHIC_TO_VERTICAL</Item>'
    '<Item name="target_crs_epsg_code">5703</Item>'
    '<Item name="DESCRIPTION" sample="0" role="description">geoid_undulation</Item>'
    '<Item name="UNITTYPE" sample="0" role="unittype">metre</Item></GDALMetadata>'
)
# GeoKeys: geographic (1024=2), value at the node (1025=2), EPSG:6318 (2048).
_KEYS = (1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2, 2048, 0, 1, 6318)

Surface = Callable[[site.Floats, site.Floats], site.Floats]


def write_geoids(folder: Path) -> None:
    """Write `demo-geoid-A.tif` and `demo-geoid-B.tif`."""
    folder.mkdir(parents=True, exist_ok=True)
    _write_grid(folder / "demo-geoid-A.tif", site.compute_geoid_a)
    _write_grid(folder / "demo-geoid-B.tif", site.compute_geoid_b)


def _write_grid(path: Path, surface: Surface) -> None:
    to_easting_northing, west, north, columns, rows = _fit_lattice()
    lon, lat = np.meshgrid(
        west + np.arange(columns) * _STEP_DEG, north - np.arange(rows) * _STEP_DEG
    )
    terms = np.column_stack([np.ones(lon.size), lon.ravel(), lat.ravel()])
    places = terms @ to_easting_northing
    heights = surface(places[:, 0], places[:, 1]).reshape(rows, columns).astype(np.float32)
    tifffile.imwrite(
        path,
        heights,
        photometric="minisblack",
        metadata=None,
        extratags=[
            (33550, "d", 3, (_STEP_DEG, _STEP_DEG, 0.0), True),
            (33922, "d", 6, (0.0, 0.0, 0.0, west, north, 0.0), True),
            (34735, "H", len(_KEYS), _KEYS, True),
            (42112, "s", 0, _METADATA, True),
        ],
    )


def _fit_lattice() -> tuple[site.Floats, float, float, int, int]:
    """Return the plane from longitude and latitude to easting and northing, and the grid's frame.

    Over half a kilometre the projection is flat to centimetres, and these geoids tilt by
    millimetres in that distance: a plane is exact enough by four orders.
    """
    crs = describe("EPSG:6346")
    width, depth = site.COLUMNS * site.TILE_SIDE_M, site.ROWS * site.TILE_SIDE_M
    corners = np.array(
        [(site.WEST + x * width, site.SOUTH + y * depth) for x in (0, 0.5, 1) for y in (0, 0.5, 1)]
    )
    places = np.array([to_lonlat(crs, float(x), float(y)) for x, y in corners])
    terms = np.column_stack([np.ones(len(places)), places])
    plane = np.linalg.lstsq(terms, corners, rcond=None)[0]
    west = _round_down(places[:, 0].min())
    north = _round_down(places[:, 1].max()) + 2 * _MARGIN_STEPS * _STEP_DEG
    columns = int(np.ceil((places[:, 0].max() - west) / _STEP_DEG)) + _MARGIN_STEPS
    rows = int(np.ceil((north - places[:, 1].min()) / _STEP_DEG)) + _MARGIN_STEPS
    return plane, west, north, columns, rows


def _round_down(degrees: float) -> float:
    return float(np.floor(degrees / _STEP_DEG) - _MARGIN_STEPS) * _STEP_DEG
