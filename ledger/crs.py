"""Coordinate reference systems: read, described part by part, compared, and used.

The only module that imports pyproj; what needs no library is in `ledger.geodesy`. Invariants:

- The network is off, and no operation is replaced by an approximate one: a missing grid is an
  error that names the grid (PROJ itself returns the height unchanged; measured with PROJ 9.5.1).
- X is always easting or longitude, Y northing or latitude, whatever order an authority defines.
- Absent, unreadable and not understood are three results: `CrsRecord` keeps them apart.
- What is remembered between calls is a pure function of the text that was given.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Callable, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
from numpy.typing import ArrayLike, NDArray
from pyproj.crs import (  # type: ignore[attr-defined]
    CoordinateOperation,
    Datum,
    Ellipsoid,
    PrimeMeridian,
)
from pyproj.database import get_database_metadata, get_units_map
from pyproj.exceptions import ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]
from pyproj.transformer import TransformerGroup

from ledger.errors import CrsError, MissingGridError
from ledger.geodesy.difference import compare, compare_vertical
from ledger.geodesy.geoidgrid import require_heights, write_pipeline
from ledger.geodesy.keyreader import Json
from ledger.geodesy.linear import write_units
from ledger.geodesy.projjson import read_code
from ledger.geodesy.reading import describe_definition, read_keys, read_wkt
from ledger.geodesy.zones import find_utm_zone
from ledger.model.georeferencing import Crs, CrsKind, CrsReading, CrsRecord
from ledger.model.header import LasHeader

__all__ = [
    "compare",
    "compare_vertical",
    "compute_convergence",
    "compute_scale_factor",
    "database_versions",
    "describe",
    "find_utm_zone",
    "read_crs",
    "sample_geoid",
    "sample_geoid_at",
    "to_lonlat",
    "transform",
]

Floats = NDArray[np.float64]

_CODE = re.compile(r"^[A-Za-z]+:\w+(\+([A-Za-z]+:)?\w+)?$")
_TEXTS_REMEMBERED = 256  # 500 tiles carry one text: each distinct text is read once
_ABSENT = CrsRecord(present=False)


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def describe(text: str) -> Crs:
    """Return the parts of a system given as `EPSG:6346`, `EPSG:6346+5703` or WKT.

    A vertical system alone gives a `Crs` of kind `NONE` with its vertical part.

    Raises:
        CrsError: the text is neither, or the code is not known.
    """
    written = text.strip()
    if _CODE.match(written):
        found = _look_up(written.upper())
        if found is None:
            raise CrsError(
                "this coordinate system code is not known",
                found=written,
                remedy="give an EPSG code such as EPSG:6346, or the WKT text",
            )
        return found
    record = _read_wkt(written)
    if record.crs is None:
        raise CrsError(record.fault, remedy="give an EPSG code such as EPSG:6346, or the WKT text")
    return record.crs


def read_crs(header: LasHeader) -> CrsReading:
    """Return both coordinate system records of a point file, and the one that counts."""
    keys = header.geo_keys
    wkt = _ABSENT if header.wkt is None else _read_wkt(header.wkt)
    geotiff = _ABSENT if keys is None else _read_keys(tuple(sorted(keys.items())))
    governing = wkt if header.has_wkt_flag or not geotiff.present else geotiff
    return CrsReading(wkt, geotiff, governing)


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _read_wkt(text: str) -> CrsRecord:
    return read_wkt(text, _Proj())


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _read_keys(keys: tuple[tuple[int, int | float | str], ...]) -> CrsRecord:
    return read_keys(dict(keys), _Proj())


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _look_up(code: str) -> Crs | None:
    found = _ask(pyproj.CRS.from_user_input, code)
    return None if found is None else describe_definition(found, "code", _Proj())


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _find_datum_code(name: str) -> str:
    found = _ask(Datum.from_name, name)
    return "" if found is None else read_code(found)


@cache
def _list_units() -> Mapping[str, Json]:
    """Return the units of length and angle by EPSG code, as PROJJSON."""
    units: dict[str, Json] = {}
    for category, kind in (("linear", "LinearUnit"), ("angular", "AngularUnit")):
        found = get_units_map(auth_name="EPSG", category=category).values()
        units |= write_units(((u.code, u.name, u.conv_factor) for u in found), kind)
    return units


def _ask(maker: Callable[[Any], Any], given: int | str) -> Json | None:
    """Return as PROJJSON what the library makes of a code or name; None when that is nothing."""
    try:
        found: Json = maker(given).to_json_dict()
    except ProjError:
        return None
    found.pop("$schema", None)
    return found


class _Proj:
    """The library and its registry, as `ledger.geodesy.reading` asks for them."""

    def crs(self, code: int) -> Json | None:
        return _ask(pyproj.CRS.from_epsg, code)

    def datum(self, code: int) -> Json | None:
        return _ask(Datum.from_epsg, code)

    def ellipsoid(self, code: int) -> Json | None:
        return _ask(Ellipsoid.from_epsg, code)

    def meridian(self, code: int) -> Json | None:
        return _ask(PrimeMeridian.from_epsg, code)

    def conversion(self, code: int) -> Json | None:
        return _ask(CoordinateOperation.from_epsg, code)

    def unit(self, code: int) -> Json | None:
        return _list_units().get(str(code))

    def parse(self, text: str) -> Json:
        try:
            found: Json = pyproj.CRS.from_wkt(text).to_json_dict()
        except ProjError as error:
            raise CrsError(_tell(error)) from error
        return found

    def write(self, definition: Json) -> str:
        return _take_up_definition(definition).to_wkt()

    def raise_to_3d(self, definition: Json) -> Json:
        raised: Json = _take_up_definition(definition).to_3d().to_json_dict()
        return raised

    def find_datum_code(self, name: str) -> str:
        return _find_datum_code(name)

    def look_up(self, code: str) -> Crs | None:
        return _look_up(code)


def _take_up_definition(definition: Json) -> pyproj.CRS:
    try:
        return pyproj.CRS.from_json_dict(definition)
    except ProjError as error:
        raise CrsError(_tell(error)) from error


def _tell(error: Exception) -> str:
    told = str(error).rpartition("Internal Proj Error: ")[2]  # without the text that was refused
    return " ".join(told.split()).removesuffix(")")[:160]


def _strip(found: pyproj.CRS) -> pyproj.CRS:
    """Return the system without a transformation bound to it."""
    while found.is_bound and found.source_crs is not None:
        found = found.source_crs
    return found


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _take_up(wkt: str) -> pyproj.CRS:
    """Return the horizontal part of a system as the library's object."""
    try:
        found = _strip(pyproj.CRS.from_wkt(wkt))
    except ProjError as error:
        raise CrsError("the coordinate system cannot be used") from error
    if found.is_compound:
        found = _strip(found.sub_crs_list[0])
    return found


@lru_cache(maxsize=_TEXTS_REMEMBERED)
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
        raise CrsError("no operation can be made", found=_tell(error), where=where) from error
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
    """Return places of one system in another.

    Args:
        source: system of the places.
        target: system wanted.
        x: easting or longitude, in the unit of `source`, (n,).
        y: northing or latitude, (n,).
        z: height, (n,); None to transform horizontally, and returned as None.

    Raises:
        MissingGridError: the best operation needs a grid that is not here.
        CrsError: there is no exact operation, or a place lies outside its reach.
    """
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
    """Return longitude and latitude of a place, on the system's own datum.

    No datum is changed, so that no grid is needed; between modern datums that is a metre or two.

    Args:
        crs: projected or geographic.
        x: easting or longitude, in the unit of `crs`.
        y: northing or latitude.

    Returns:
        Degrees east of Greenwich and degrees north.

    Raises:
        CrsError: the system has no geodetic datum, or the place lies outside its reach.
    """
    way = _reach_lonlat(crs.wkt) if crs.kind in (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC) else None
    if way is None:
        raise CrsError(
            "places cannot be computed in this coordinate system",
            found=f"{crs.name} ({crs.kind})",
            expected="a projected or geographic one",
        )
    operation, to_degrees = way
    lon, lat = operation.transform(x, y)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise CrsError(
            "the place lies outside the reach of the coordinate system",
            found=f"{x}, {y}",
            where=crs.name,
        )
    meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
    return lon * to_degrees + meridian, lat * to_degrees


@lru_cache(maxsize=_TEXTS_REMEMBERED)
def _reach_lonlat(wkt: str) -> tuple[pyproj.Transformer, float] | None:
    """Return the operation to a system's own longitude and latitude, and their unit in degrees."""
    system = _take_up(wkt)
    if system.geodetic_crs is None:
        return None
    flat = system.geodetic_crs.to_2d()
    operation = _make_transformer(system.to_2d().to_wkt(), flat.to_wkt())
    return operation, math.degrees(flat.axis_info[0].unit_conversion_factor)


def compute_scale_factor(crs: Crs, lon: float, lat: float) -> float:
    """Return the point scale factor k of a projected system along the meridian.

    Conformal projections have one factor in every direction.

    Args:
        crs: projected.
        lon: degrees east, on the system's datum.
        lat: degrees north.

    Raises:
        CrsError: not projected, or the place lies outside its reach.
    """
    return float(_compute_factors(crs, lon, lat).meridional_scale)


def compute_convergence(crs: Crs, lon: float, lat: float) -> float:
    """Return the meridian convergence of a projected system, degrees.

    Positive where grid north lies east of true north: about (lon - lon0) sin(lat). Some manuals use
    the other sign. Takes and raises what `compute_scale_factor` does.
    """
    return float(_compute_factors(crs, lon, lat).meridian_convergence)


def _compute_factors(crs: Crs, lon: float, lat: float) -> Any:  # noqa: ANN401 - a plain holder
    if crs.kind is not CrsKind.PROJECTED:
        raise CrsError("only a projected system has a scale factor", found=crs.name)
    try:
        factors = pyproj.Proj(_take_up(crs.wkt)).get_factors(lon, lat, errcheck=True)
    except ProjError as error:
        raise CrsError(
            "the place lies outside the reach of the projection",
            found=f"{lon}, {lat}",
            where=crs.name,
        ) from error
    if not math.isfinite(factors.meridional_scale):
        raise CrsError("the projection has no scale factor there", found=f"{lon}, {lat}")
    return factors


def sample_geoid(grid: Path, lon: float, lat: float) -> float:
    """Return the geoid height of a grid file at one place, metres above its ellipsoid.

    Args:
        grid: GeoTIFF, GTX or another form that PROJ reads; bilinear between its nodes.
        lon: degrees east.
        lat: degrees north.

    Raises:
        MissingGridError: there is no such file.
        CrsError: the file is broken, or the place is outside it or has no value.
    """
    return float(sample_geoid_at(grid, [lon], [lat])[0])


def sample_geoid_at(grid: Path, lon: ArrayLike, lat: ArrayLike) -> Floats:
    """Return the geoid heights of a grid file at many places; see `sample_geoid`.

    Args:
        grid: as there.
        lon: degrees east, (n,).
        lat: degrees north, (n,).
    """
    set_network_enabled(active=False)
    places = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    try:
        pipeline = pyproj.Transformer.from_pipeline(write_pipeline(grid))
        heights = pipeline.transform(*places, np.zeros(places[0].shape), errcheck=True)[2]
    except ProjError as error:
        what = "the geoid grid cannot be used, or does not cover a place"
        raise CrsError(what, found=_tell(error), where=str(grid)) from error
    return require_heights(np.asarray(heights, dtype=np.float64), grid)


def database_versions() -> dict[str, str]:
    """Return the versions of what decides about coordinates, for the record."""
    return {
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
        "EPSG": str(get_database_metadata("EPSG.VERSION") or ""),
    }
