"""Where the site lies: coordinates that were typed, a file, or the boundary of the job."""

from __future__ import annotations

import math
import re
from pathlib import Path

from ledger.audit.boundary import find_outline_system
from ledger.crs import describe, read_crs, to_lonlat
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError, UsageError
from ledger.lasheader import read_las_header
from ledger.model.artefact import POINT_SUFFIXES, Role
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.phrases import count_things
from ledger.model.specification import Specification
from ledger.outline import read_outline
from ledger.store.reading import Book

_OUTLINES = (".geojson", ".json", ".wkt")
_MOST_DEG = 180.0
_SEPARATORS = re.compile(r"\s*[,;\s]\s*")
_REMEDY = "give --at LON,LAT (degrees, west and south negative)"


@dataclass(frozen=True, slots=True)
class Found:
    """A place that was found.

    Args:
        lon: degrees east.
        lat: degrees north.
        known_from: what it was taken from, as words.
        crs: map system that came with it; None where none did.
        height_m: height that came with it, metres, above whatever; None where none did.
        is_typed: two numbers in degrees, typed by somebody.
    """

    lon: float
    lat: float
    known_from: str
    crs: Crs | None = None
    height_m: float | None = None
    is_typed: bool = False


def read_typed_place(typed: str, crs: Crs | None) -> Found:
    """Return a place that was typed: longitude and latitude, or easting and northing.

    Two numbers that can be degrees are degrees.

    Args:
        typed: two numbers with a comma between.
        crs: system of easting and northing; None where nobody named one.

    Raises:
        UsageError: it is not two numbers, or nothing says in which system they are.
        CrsError: they lie outside the reach of the system.
    """
    numbers = _read_numbers(typed)
    if len(numbers) != 2:
        raise UsageError("--at takes two numbers", found=typed, expected="LON,LAT or EAST,NORTH")
    x, y = numbers
    if max(abs(x), abs(y)) <= _MOST_DEG:
        return Found(x, y, "typed", is_typed=True)
    if crs is None or crs.kind is not CrsKind.PROJECTED:
        raise UsageError(
            "these are no degrees, and nothing says in which system they are",
            found=typed,
            expected="longitude, then latitude, in degrees; or --crs",
            remedy="name the system, such as --crs EPSG:6346",
        )
    return Found(*to_lonlat(crs, x, y), f"typed, in {crs.name}")


def _read_numbers(typed: str) -> list[float]:
    try:
        numbers = [float(part) for part in _SEPARATORS.split(typed.strip()) if part]
    except ValueError:
        return []
    return numbers if all(math.isfinite(number) for number in numbers) else []


def read_place_of(path: Path, specification: Specification, crs: Crs | None) -> Found:
    """Return the middle of what a file covers: a point cloud, or an outline.

    Args:
        path: a LAS or LAZ file, or a GeoJSON or WKT polygon.
        specification: `job.toml`; a blank one outside a job.
        crs: system of a file that states none; None where nobody named one.

    Raises:
        UsageError: it is neither, or says not where it lies.
        FileError: it cannot be read.
        SpecificationError: the coordinates of an outline are not what they have to be.
        CrsError: they lie outside the reach of their system.
    """
    suffix = path.suffix.lower()
    if suffix in POINT_SUFFIXES:
        return _read_points(path, crs)
    if suffix in _OUTLINES:
        return _read_outline(path, specification, crs)
    raise UsageError(
        "a place is taken from a point cloud or an outline",
        found=path.name,
        expected="a name that ends in .las, .laz, .geojson or .wkt",
        remedy=_REMEDY,
    )


def _read_points(path: Path, crs: Crs | None) -> Found:
    header = read_las_header(path)
    record = read_crs(header).governing
    system = record.crs or crs
    if system is None or header.point_count == 0:
        raise UsageError(
            f"the file does not say where it lies{f' ({record.fault})' if record.fault else ''}",
            where=str(path),
            remedy=f"name its system with --crs, or {_REMEDY}",
        )
    x, y, z = ((low + high) / 2 for low, high in zip(header.minimum, header.maximum, strict=True))
    unit = system.vertical.metres_per_unit if system.vertical is not None else None
    height = z * (unit or system.metres_per_unit or 1.0)
    middle = to_lonlat(system, x, y)
    return Found(*middle, f"the middle of {path.name}", _keep_map(system), height)


def _read_outline(path: Path, specification: Specification, crs: Crs | None) -> Found:
    outline = read_outline(path)
    system = find_outline_system(specification, outline, crs, path)
    xs, ys = zip(*(place for polygon in outline.polygons for place in polygon[0]), strict=True)
    middle = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    return Found(*to_lonlat(system, *middle), f"the middle of {path.name}", _keep_map(system))


def _keep_map(system: Crs) -> Crs | None:
    """Return a system that is one of a map; degrees are none."""
    return system if system.kind is CrsKind.PROJECTED else None


def read_boundary_of(job: Path | None, specification: Specification, crs: Crs | None) -> Found:
    """Return the middle of the boundary that a job names, else of the clouds registered in it.

    Args:
        job: the job folder; None outside a job.
        specification: its `job.toml`.
        crs: system of an outline that states none; None where nobody named one.

    Raises:
        UsageError: it names none, or the file is not there.
        FileError: the file cannot be read.
    """
    name = specification.delivery.boundary
    clouds = None if job is None or name is not None else _read_clouds(job, crs)
    if clouds is not None:
        return clouds
    if job is None or name is None:
        told = ", and this is no job" if job is None else ": job.toml names no boundary"
        raise UsageError(
            f"nothing says where the site lies{told}",
            remedy=f"{_REMEDY}, or name a point cloud or an outline",
        )
    if not (job / name).is_file():
        raise UsageError(
            "the boundary that job.toml names is not there", where=name, remedy=_REMEDY
        )
    return read_place_of(job / name, specification, crs)


def _read_clouds(job: Path, crs: Crs | None) -> Found | None:
    """Return the middle of the registered clouds; None where none tells its place."""
    with Book.open(job) as book:
        paths = [job / each.path for each in book.files_last_seen(Role.POINTS)]
    found = []
    for path in paths:
        try:
            found.append(_read_points(path, crs))
        except SwathbookError:
            continue  # absent, or without a system: the others may tell
    if not found:
        return None
    lons, lats = [each.lon for each in found], [each.lat for each in found]
    middle = (min(lons) + max(lons)) / 2, (min(lats) + max(lats)) / 2
    clouds = count_things(len(found), "registered cloud")
    told = f"the middle of {clouds}, as no boundary is named"
    return Found(*middle, told, found[0].crs, found[0].height_m)


def read_system(text: str) -> Crs:
    """Return the map system that was typed.

    Raises:
        CrsError: it is unknown.
        UsageError: it is no map system.
    """
    found = describe(text)
    if found.kind is not CrsKind.PROJECTED:
        raise UsageError(
            "a site card needs a map system",
            found=found.name,
            expected="a projected one, such as EPSG:6346",
        )
    return found
