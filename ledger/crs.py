"""Coordinate reference systems: read, described part by part, compared, and used.

The one door to the coordinate library, which is loaded at the first call that needs it: comparing
needs none, nor does a file that states no system. Invariants:

- The network is off, and no operation is replaced by an approximate one: a missing grid is an
  error that names the grid (PROJ itself returns the height unchanged; measured with PROJ 9.5.1).
- X is always easting or longitude, Y northing or latitude, whatever order an authority defines.
- Absent, unreadable and not understood are three results: `CrsRecord` keeps them apart.
- What is remembered between calls is a pure function of the text that was given.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ledger.errors import CrsError
from ledger.geodesy.difference import compare, compare_vertical
from ledger.geodesy.zones import find_utm_zone, has_uneven_zones
from ledger.loading import load_part
from ledger.model.georeferencing import Crs, CrsReading, CrsRecord, FrameShift
from ledger.model.header import LasHeader

if TYPE_CHECKING:  # arrays are for who hands them in
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "change_frame_at",
    "compare",
    "compare_vertical",
    "compute_convergence",
    "compute_frame_shift",
    "compute_scale_factor",
    "database_versions",
    "describe",
    "describe_ellipsoid",
    "describe_frame",
    "find_utm_zone",
    "from_lonlat",
    "from_lonlat_at",
    "has_uneven_zones",
    "name_frame",
    "read_crs",
    "sample_geoid",
    "sample_geoid_at",
    "to_lonlat",
    "to_lonlat_at",
    "transform",
    "try_geoid_at",
]

_CODE = re.compile(r"^[A-Za-z]+:\w+(\+([A-Za-z]+:)?\w+)?$")
_ABSENT = CrsRecord(present=False)


def describe(text: str) -> Crs:
    """Return the parts of a system given as `EPSG:6346`, `EPSG:6346+5703` or WKT.

    A vertical system alone gives a `Crs` of kind `NONE` with its vertical part.

    Raises:
        CrsError: the text is neither, or the code is not known.
    """
    written = text.strip()
    if _CODE.match(written):
        found: Crs | None = load_part("ledger.proj.definitions", "look_up")(written.upper())
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


def describe_frame(name: str) -> Crs | None:
    """Return the geodetic system that bears a frame's name (`NAD83(2011)`, `ITRF2020`).

    Marks, blanks and case do not count; a name that is only like one does not count either.

    Returns:
        Its horizontal part; None where the registry knows no such name.
    """
    found: Crs | None = load_part("ledger.proj.names", "look_up_frame")(name.strip())
    return found


def describe_zone(frame: str, zone: str) -> Crs | None:
    """Return the system of a UTM zone in a frame, as the registry names it.

    Args:
        frame: `NAD83(2011)`.
        zone: `17N`; Australia's Map Grid has the same zones under its own name.

    Returns:
        None where the registry has none, as for many frames outside their country.
    """
    found: Crs | None = load_part("ledger.proj.names", "look_up_zone")(frame, zone)
    return found


def name_frame(crs: Crs) -> str:
    """Return the name of the frame behind a system, as people write it: `NAD83(2011)`.

    The name of the datum where the library has no shorter one; empty for a local system.
    """
    return str(load_part("ledger.proj.names", "name_geodetic")(crs.wkt) or crs.datum)


def describe_ellipsoid(name: str) -> tuple[float, float] | None:
    """Return semi-major axis, metres, and 1/f of an ellipsoid by its name; None for an unknown one.

    Args:
        name: such as `GRS 80`, `GRS 1980` or `WGS84`.
    """
    found: tuple[float, float] | None = load_part("ledger.proj.names", "look_up_ellipsoid")(
        name.strip()
    )
    return found


def read_crs(header: LasHeader) -> CrsReading:
    """Return both coordinate system records of a point file, and the one that counts."""
    wkt = _ABSENT if header.wkt is None else _read_wkt(header.wkt)
    geotiff = _ABSENT if header.geo_keys is None else _read_keys(header.geo_keys)
    governing = wkt if header.has_wkt_flag or not geotiff.present else geotiff
    return CrsReading(wkt, geotiff, governing)


class CrsReader:
    """Reads the systems of many headers; those that hold the same records get the same reading."""

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self._known: dict[tuple[int, int, bool], tuple[LasHeader, CrsReading]] = {}

    def read(self, header: LasHeader) -> CrsReading:
        """Return what `read_crs` does."""
        key = id(header.wkt), id(header.geo_keys), header.has_wkt_flag
        known = self._known.get(key)
        if known is None:  # the header is kept, so that no other record gets its number
            known = self._known[key] = header, read_crs(header)
        return known[1]


def _read_wkt(text: str) -> CrsRecord:
    record: CrsRecord = load_part("ledger.proj.definitions", "read_wkt_record")(text)
    return record


def _read_keys(keys: Mapping[int, int | float | str]) -> CrsRecord:
    record: CrsRecord = load_part("ledger.proj.definitions", "read_key_record")(
        tuple(sorted(keys.items()))
    )
    return record


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
    found: tuple[Floats, Floats, Floats | None] = load_part("ledger.proj.operations", "transform")(
        source, target, x, y, z
    )
    return found


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
    place: tuple[float, float] = load_part("ledger.proj.operations", "to_lonlat")(crs, x, y)
    return place


def from_lonlat(crs: Crs, lon: float, lat: float) -> tuple[float, float]:
    """Return the coordinates of a place given in degrees on the system's own datum.

    The way back of `to_lonlat`; a place far outside the system's area has coordinates, too.

    Args:
        crs: projected or geographic.
        lon: degrees east of Greenwich.
        lat: degrees north.

    Returns:
        Easting and northing, or longitude and latitude, in the unit of `crs`.

    Raises:
        CrsError: the system has no geodetic datum, or the place lies outside its reach.
    """
    place: tuple[float, float] = load_part("ledger.proj.operations", "from_lonlat")(crs, lon, lat)
    return place


def to_lonlat_at(crs: Crs, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Return longitudes and latitudes of many places, as `to_lonlat` does of one.

    Args:
        crs: projected or geographic.
        x: easting or longitude, in the unit of `crs`, (n,).
        y: northing or latitude, (n,).

    Returns:
        Degrees east of Greenwich and degrees north, (n,); NaN for a place out of reach.

    Raises:
        CrsError: the system has no geodetic datum.
    """
    places: tuple[Floats, Floats] = load_part("ledger.proj.operations", "to_lonlat_at")(crs, x, y)
    return places


def from_lonlat_at(crs: Crs, lon: ArrayLike, lat: ArrayLike) -> tuple[Floats, Floats]:
    """Return the coordinates of many places, as `from_lonlat` does of one.

    Args:
        crs: projected or geographic.
        lon: degrees east of Greenwich, on the system's datum, (n,).
        lat: degrees north, (n,).

    Returns:
        Easting or longitude and northing or latitude, in the unit of `crs`, (n,); NaN for a place
        out of reach.

    Raises:
        CrsError: the system has no geodetic datum.
    """
    places: tuple[Floats, Floats] = load_part("ledger.proj.operations", "from_lonlat_at")(
        crs, lon, lat
    )
    return places


def compute_frame_shift(
    source: Crs, target: Crs, mark: tuple[float, float, float], epoch: float
) -> FrameShift:
    """Return the coordinates of a mark in one frame less those in another.

    By a registered operation that is good for the place and the epoch: an approximate one, one that
    is rougher than 0.25 m, and a frame that is known to metres only are refused.

    Args:
        source: its frame is the one whose coordinates are taken off.
        target: its frame is the one whose coordinates count.
        mark: in the frame of `source`: degrees east and north, metres above the ellipsoid.
        epoch: year of the coordinates in whichever of the frames moves, 2026.37.

    Raises:
        MissingGridError: the best operation needs a grid that is not here.
        CrsError: there is no exact operation, or a frame is not one.
    """
    shift: FrameShift = load_part("ledger.proj.frames", "compute_frame_shift")(
        source, target, mark, epoch
    )
    return shift


def change_frame_at(
    source: Crs, target: Crs, lon: ArrayLike, lat: ArrayLike, epoch: float | None
) -> tuple[Floats, Floats]:
    """Return places of one frame in another, by an operation as `compute_frame_shift` takes.

    Args:
        source: its frame is that of the places.
        target: its frame is the one wanted.
        lon: degrees east of Greenwich, (n,); one site, since one operation serves all.
        lat: degrees north, (n,).
        epoch: year of the coordinates in whichever of the frames moves; None where nobody said.

    Returns:
        Degrees east and north in the frame of `target`, (n,).

    Raises:
        MissingGridError: the best operation needs a grid that is not here.
        CrsError: there is no exact operation, a frame is not one, or the places move from year to
            year and no epoch was given.
    """
    places: tuple[Floats, Floats] = load_part("ledger.proj.frames", "change_frame_at")(
        source, target, lon, lat, epoch
    )
    return places


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
    return load_part("ledger.proj.operations", "compute_factors")(crs, lon, lat)


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
    heights: Floats = load_part("ledger.proj.operations", "sample_geoid_at")(grid, lon, lat)
    return heights


def try_geoid_at(grid: Path, lon: ArrayLike, lat: ArrayLike) -> Floats:
    """Return the geoid heights of a grid file at many places, NaN where it has none.

    A place outside the grid, a node without a value and a damaged node are one and the same here.

    Args:
        grid: as for `sample_geoid`.
        lon: degrees east, (n,).
        lat: degrees north, (n,).

    Raises:
        MissingGridError: there is no such file.
        CrsError: the file cannot be used at all.
    """
    heights: Floats = load_part("ledger.proj.operations", "try_geoid_at")(grid, lon, lat)
    return heights


def database_versions() -> dict[str, str]:
    """Return the versions of what decides about coordinates, for the record."""
    versions: dict[str, str] = load_part("ledger.proj.definitions", "database_versions")()
    return versions
