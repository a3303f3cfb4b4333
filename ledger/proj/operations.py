"""Operations between coordinate systems: places, scale factors, geoid heights.

The functions do what those of `ledger.crs` with their names say.
"""

from __future__ import annotations

import math
import warnings
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
from numpy.typing import ArrayLike, NDArray
from pyproj.enums import TransformDirection
from pyproj.exceptions import ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]
from pyproj.transformer import TransformerGroup

from ledger.errors import CrsError, MissingGridError
from ledger.geodesy.geoidgrid import require_heights, write_pipeline
from ledger.loading import load_part
from ledger.model.georeferencing import Crs, CrsKind
from ledger.proj.definitions import TEXTS_REMEMBERED, tell

Floats = NDArray[np.float64]


def _strip(found: pyproj.CRS) -> pyproj.CRS:
    """Return the system without a transformation bound to it."""
    while found.is_bound and found.source_crs is not None:
        found = found.source_crs
    return found


@lru_cache(maxsize=TEXTS_REMEMBERED)
def take_up(wkt: str) -> pyproj.CRS:
    """Return the horizontal part of a system as the library's object."""
    try:
        found = _strip(pyproj.CRS.from_wkt(wkt))
    except ProjError as error:
        raise CrsError("the coordinate system cannot be used") from error
    if found.is_compound:
        found = _strip(found.sub_crs_list[0])
    return found


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _make_transformer(source: str, target: str) -> pyproj.Transformer:
    """Return the best operation between two systems; the only place that makes one."""
    set_network_enabled(active=False)
    systems = pyproj.CRS.from_wkt(source), pyproj.CRS.from_wkt(target)
    where = f"{systems[0].name} to {systems[1].name}"
    try:
        with warnings.catch_warnings():
            # That a grid is missing is told by the group itself, and raised below.
            warnings.simplefilter("ignore", UserWarning)
            group = TransformerGroup(*systems, always_xy=True, allow_ballpark=False)
    except (ProjError, IndexError) as error:  # both are met where a definition makes no sense
        raise CrsError("no operation can be made", found=tell(error), where=where) from error
    if group.unavailable_operations and not group.best_available:
        best = group.unavailable_operations[0]
        missing = sorted(grid.short_name for grid in best.grids if not grid.available)
        raise MissingGridError(
            "the operation between these systems needs a grid that is not on this machine",
            found=", ".join(missing) or best.name,
            where=where,
            remedy="put the grid into the PROJ data folder",
        )
    if not group.transformers:
        raise CrsError("no exact operation is known between these systems", where=where)
    return group.transformers[0]


def transform(
    source: Crs, target: Crs, x: ArrayLike, y: ArrayLike, z: ArrayLike | None = None
) -> tuple[Floats, Floats, Floats | None]:
    """Return places of one system in another."""
    operation = _make_transformer(source.wkt, target.wkt)
    heights = np.zeros(np.shape(x)) if z is None else z
    found = [np.atleast_1d(np.asarray(v)) for v in operation.transform(x, y, heights)]
    if not all(np.isfinite(values).all() for values in found):
        raise CrsError(
            "a place lies outside the reach of the operation",
            where=f"{source.name} to {target.name}",
        )
    return found[0], found[1], None if z is None else found[2]


def to_lonlat(crs: Crs, x: float, y: float) -> tuple[float, float]:
    """Return longitude and latitude of a place, on the system's own datum."""
    operation, to_degrees = _require_way(crs)
    lon, lat = operation.transform(x, y)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise CrsError(
            "the place lies outside the reach of the coordinate system",
            found=f"{x}, {y}",
            where=crs.name,
        )
    meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
    return lon * to_degrees + meridian, lat * to_degrees


def from_lonlat(crs: Crs, lon: float, lat: float) -> tuple[float, float]:
    """Return the coordinates of a place in degrees, on the system's own datum."""
    operation, to_degrees = _require_way(crs)
    meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
    x, y = operation.transform(
        (lon - meridian) / to_degrees, lat / to_degrees, direction=TransformDirection.INVERSE
    )
    if not (math.isfinite(x) and math.isfinite(y)):
        raise CrsError(
            "the place lies outside the reach of the coordinate system",
            found=f"{lon}, {lat}",
            where=crs.name,
        )
    return x, y


def to_lonlat_at(crs: Crs, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Return longitudes and latitudes of many places, on the system's own datum; NaN for none."""
    operation, to_degrees = _require_way(crs)
    lon, lat = operation.transform(np.asarray(x, np.float64), np.asarray(y, np.float64))
    meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
    return _drop_unreached(lon) * to_degrees + meridian, _drop_unreached(lat) * to_degrees


def from_lonlat_at(crs: Crs, lon: ArrayLike, lat: ArrayLike) -> tuple[Floats, Floats]:
    """Return the coordinates of many places in degrees, on the system's own datum; NaN for none."""
    operation, to_degrees = _require_way(crs)
    meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
    x, y = operation.transform(
        (np.asarray(lon, np.float64) - meridian) / to_degrees,
        np.asarray(lat, np.float64) / to_degrees,
        direction=TransformDirection.INVERSE,
    )
    return _drop_unreached(x), _drop_unreached(y)


def _drop_unreached(values: Any) -> Floats:  # noqa: ANN401 - an array of the library
    found = np.asarray(values, dtype=np.float64)
    return np.where(np.isfinite(found), found, np.nan)


def _require_way(crs: Crs) -> tuple[pyproj.Transformer, float]:
    """Return the way to longitude and latitude, and refuse a system that has none."""
    way = _reach_lonlat(crs.wkt) if crs.kind in (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC) else None
    if way is None:
        raise CrsError(
            "places cannot be computed in this coordinate system",
            found=f"{crs.name} ({crs.kind})",
            expected="a projected or geographic one",
        )
    return way


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _reach_lonlat(wkt: str) -> tuple[pyproj.Transformer, float] | None:
    """Return the operation to a system's own longitude and latitude, and their unit in degrees."""
    system = take_up(wkt)
    if system.geodetic_crs is None:
        return None
    flat = system.geodetic_crs.to_2d()
    operation = _make_transformer(system.to_2d().to_wkt(), flat.to_wkt())
    return operation, math.degrees(flat.axis_info[0].unit_conversion_factor)


def compute_factors(crs: Crs, lon: float, lat: float) -> Any:  # noqa: ANN401 - a plain holder
    """Return the factors of a projected system at a place in degrees."""
    if crs.kind is not CrsKind.PROJECTED:
        raise CrsError("only a projected system has a scale factor", found=crs.name)
    try:
        factors = pyproj.Proj(take_up(crs.wkt)).get_factors(lon, lat, errcheck=True)
    except ProjError as error:
        raise CrsError(
            "the place lies outside the reach of the projection",
            found=f"{lon}, {lat}",
            where=crs.name,
        ) from error
    if not math.isfinite(factors.meridional_scale):
        raise CrsError("the projection has no scale factor there", found=f"{lon}, {lat}")
    return factors


def sample_geoid_at(grid: Path, lon: ArrayLike, lat: ArrayLike) -> Floats:
    """Return the geoid heights of a grid file at many places in degrees."""
    return require_heights(_look_up(grid, lon, lat, errcheck=True), grid)


def try_geoid_at(grid: Path, lon: ArrayLike, lat: ArrayLike) -> Floats:
    """Return the geoid heights at many places, NaN where there is none."""
    heights = _look_up(grid, lon, lat, errcheck=False)
    return np.where(np.isfinite(heights), heights, np.nan)


def _look_up(grid: Path, lon: ArrayLike, lat: ArrayLike, *, errcheck: bool) -> Floats:
    set_network_enabled(active=False)
    places = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    words = write_pipeline(grid)
    load_part("ledger.rastertags", "require_rows_told")(grid)
    try:
        pipeline = pyproj.Transformer.from_pipeline(words)
        heights = pipeline.transform(*places, np.zeros(places[0].shape), errcheck=errcheck)[2]
    except ProjError as error:
        what = "the geoid grid cannot be used, or does not cover a place"
        raise CrsError(what, found=tell(error), where=str(grid)) from error
    return np.asarray(heights, dtype=np.float64)
