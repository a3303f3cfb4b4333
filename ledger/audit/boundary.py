"""The boundary that `job.toml` names, placed in the coordinate system that it asks for."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.crs import describe, to_lonlat, transform
from ledger.errors import CrsError, SpecificationError
from ledger.model.boundary import Boundary, Polygon
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.specification import Specification
from ledger.outline import Outline, read_outline

# RFC 7946, section 4: longitude and latitude on WGS 84.
_GEOJSON = "EPSG:4326"
_MOST_LON, _MOST_LAT = 180.0, 90.0


def read_boundary(
    specification: Specification, horizontal: Crs | None, job: Path
) -> Boundary | None:
    """Return the boundary; None where none is named, or there is no such file.

    Args:
        specification: `job.toml` as read.
        horizontal: the system that it asks for; None when blank.
        job: the job folder, absolute.

    Raises:
        UnreadableFileError: the file holds no polygons.
        SpecificationError: its coordinates are not what they have to be.
    """
    name = specification.delivery.boundary
    if name is None or not os.path.exists(job / name):
        return None  # what is not there is told by the checks that need it
    outline = read_outline(job / name)
    if horizontal is None:
        fault = "coordinates.horizontal is blank, so that the boundary has no place"
        return Boundary(name, outline.sha256, fault=fault)
    try:
        source = find_outline_system(specification, outline, horizontal, job / name)
        polygons = tuple(_place(polygon, source, horizontal) for polygon in outline.polygons)
    except CrsError as error:
        told = str(error).splitlines()[0]
        return Boundary(name, outline.sha256, fault=f"it cannot be placed: {told}")
    return Boundary(name, outline.sha256, polygons)


def find_corners(specification: Specification, path: Path) -> tuple[tuple[float, float], ...]:
    """Return longitude and latitude of the corners of a boundary's box, degrees.

    The first and the last are opposite each other.

    Args:
        specification: `job.toml` as read.
        path: the boundary.

    Raises:
        FileError: the file cannot be read.
        SpecificationError: its coordinates are not what they have to be.
        CrsError: its system is unknown, or has no way to longitude and latitude.
    """
    asked = specification.coordinates.horizontal
    outline = read_outline(path)
    horizontal = describe(asked) if asked is not None else None
    source = find_outline_system(specification, outline, horizontal, path)
    xs, ys = zip(*(place for polygon in outline.polygons for place in polygon[0]), strict=True)
    box = ((x, y) for x in (min(xs), max(xs)) for y in (min(ys), max(ys)))
    return tuple(to_lonlat(source, x, y) for x, y in box)


def find_outline_system(
    specification: Specification, outline: Outline, horizontal: Crs | None, path: Path
) -> Crs:
    """Return the system in which an outline is written.

    Args:
        specification: `job.toml` as read.
        outline: what the file says.
        horizontal: the system that counts where nothing else is said; None where there is none.
        path: the file, for messages.

    Raises:
        SpecificationError: coordinates that are to be degrees are none, or nothing names a system.
        CrsError: `delivery.boundary_crs` names none.
    """
    stated = specification.delivery.boundary_crs
    if stated is not None:
        return describe(stated)
    if not outline.is_geojson:
        if horizontal is None:
            raise SpecificationError(
                "nothing says in which coordinate system the boundary is written",
                where=str(path),
                remedy="fill in coordinates.horizontal or delivery.boundary_crs in job.toml",
            )
        return horizontal
    for polygon in outline.polygons:
        for ring in polygon:
            for x, y in ring:
                if abs(x) > _MOST_LON or abs(y) > _MOST_LAT:
                    raise SpecificationError(
                        "the boundary is GeoJSON, and its coordinates are no degrees",
                        found=f"{x:g}, {y:g}",
                        expected="longitude and latitude (RFC 7946)",
                        where=str(path),
                        remedy="state their system as delivery.boundary_crs in job.toml",
                    )
    return describe(_GEOJSON)


def _place(polygon: Polygon, source: Crs, target: Crs) -> Polygon:
    if source.kind is CrsKind.NONE:
        raise CrsError("delivery.boundary_crs names a system of heights alone")
    if source.wkt == target.wkt:
        return polygon
    placed = []
    for ring in polygon:
        x, y, _ = transform(source, target, [p[0] for p in ring], [p[1] for p in ring])
        placed.append(tuple(zip(x.tolist(), y.tolist(), strict=True)))
    return tuple(placed)
