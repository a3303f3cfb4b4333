"""Where on Earth the points of a file would lie, and where its CRS allows them to lie.

Areas of use are boxes in degrees, rounded by the EPSG registry to a hundredth.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ledger.crs import to_lonlat, to_lonlat_at
from ledger.dataclass import dataclass
from ledger.errors import CrsError
from ledger.model.georeferencing import Area, Crs, CrsKind
from ledger.units import INTERNATIONAL_FOOT
from lidar_checks.header.box import Box

# One degree of latitude on a sphere of 6 371 km; used to say how coarse a step in degrees is.
METRES_PER_DEGREE = math.pi * 6_371_000 / 180

# A CRS that is valid nearly round the Earth cannot be contradicted by a position.
_WORLD_WIDTH_DEG = 350.0

# The UTM system covers 80° S to 84° N (areas of use of EPSG 32600 to 32760).
UTM_SOUTH_DEG, UTM_NORTH_DEG = -80.0, 84.0

# Added to northings south of the equator in UTM (EPSG 32701 to 32760).
SOUTHERN_FALSE_NORTHING_M = 10_000_000.0

_FOOT = float(INTERNATIONAL_FOOT.factor)


@dataclass(frozen=True)
class Place:
    """A box on Earth.

    Args:
        corners: longitude and latitude of the corners, degrees.
        centre: longitude and latitude of the middle.
    """

    corners: tuple[tuple[float, float], ...]
    centre: tuple[float, float]

    def sentence(self) -> str:
        """Return the middle as words: `41.157° N, 75.879° W`."""
        lon, lat = self.centre
        return (
            f"{abs(lat):.3f}° {'N' if lat >= 0 else 'S'}, "
            f"{abs(lon):.3f}° {'E' if lon >= 0 else 'W'}"
        )


Turn = Callable[[float, float], tuple[float, float]]


def keep(x: float, y: float) -> tuple[float, float]:
    """Return coordinates as they are."""
    return x, y


@dataclass(frozen=True)
class OtherReading:
    """Another way to read the coordinates of a file, which would name the fault.

    Args:
        words: "with X and Y swapped".
        catalogue: id in the catalogue of failures.
        remedy: what to do when it is right.
        turn: the coordinates as they would be read, file units.
        crs: the system to read them in; None for the one that the file states.
        area: where they would have to lie; None for the area of that system.
    """

    words: str
    catalogue: str
    remedy: str
    turn: Turn = keep
    crs: Crs | None = None
    area: Area | None = None


SWAPPED = OtherReading(
    "with X and Y swapped",
    "CR-07",
    "Export again with easting (or longitude) first.",
    lambda x, y: (y, x),
)
FEET_AS_METRES = OtherReading(
    "as feet instead of metres",
    "UN-01",
    "The coordinates look like feet under a label in metres: export again with the unit right.",
    lambda x, y: (x * _FOOT, y * _FOOT),
)
METRES_AS_FEET = OtherReading(
    "as metres instead of feet",
    "UN-01",
    "The coordinates look like metres under a label in feet: export again with the unit right.",
    lambda x, y: (x / _FOOT, y / _FOOT),
)
SOUTHERN = OtherReading(
    "as a zone of the southern hemisphere",
    "CR-13",
    "Export again with the zone of the right hemisphere.",
    lambda x, y: (x, y - SOUTHERN_FALSE_NORTHING_M),
)


def list_other_readings(crs: Crs, asked: Crs | None) -> tuple[OtherReading, ...]:
    """Return the other ways to read coordinates that are worth trying in a CRS.

    Args:
        crs: the system that the file states.
        asked: the system that the job asks for; None when blank.
    """
    readings = [SWAPPED]
    if crs.kind is CrsKind.PROJECTED:
        in_metres = crs.metres_per_unit == 1
        readings.append(FEET_AS_METRES if in_metres else METRES_AS_FEET)
        if in_metres and crs.utm_zone.endswith("N"):
            west, east = _find_meridians(crs.utm_zone)
            readings.append(replace(SOUTHERN, area=Area(west, UTM_SOUTH_DEG, east, 0.0)))
    if asked is not None:
        remedy = "Only the label looks wrong: export again with the system of the job."
        readings.append(OtherReading(f"in {asked.name}", "CR-01", remedy, crs=asked))
    return tuple(readings)


def find_place(crs: Crs, box: Box, turn: Turn = keep) -> Place | None:
    """Return where a box lies in a CRS; None where such coordinates are impossible."""
    found = []
    for x, y in box.corners():
        try:
            lon, lat = to_lonlat(crs, *turn(x, y))
        except CrsError:
            return None
        if not (math.isfinite(lon) and math.isfinite(lat)) or abs(lat) > 90 or abs(lon) > 360:
            return None
        found.append((lon, lat))
    return Place(tuple(found[:-1]), found[-1])


class Places:
    """Where many boxes lie in one CRS, found at once."""

    def __init__(self, crs: Crs, boxes: Sequence[Box]) -> None:
        """Find the places of boxes, of which there is at least one."""
        corners = [corner for box in boxes for corner in box.corners()]
        shape = len(boxes), len(corners) // len(boxes)
        try:
            lons, lats = to_lonlat_at(crs, *zip(*corners, strict=True))
        except CrsError:
            lons = lats = np.full(len(corners), np.nan)
        self._lons, self._lats = lons.reshape(shape), lats.reshape(shape)

    def get(self, index: int) -> Place | None:
        """Return where a box lies, as `find_place` does."""
        lons, lats = self._lons[index], self._lats[index]
        if not ((abs(lats) <= 90) & (abs(lons) <= 360)).all():  # neither is NaN
            return None
        *corners, centre = zip(lons.tolist(), lats.tolist(), strict=True)
        return Place(tuple(corners), centre)

    def lie_in(self, area: Area | None) -> list[bool]:
        """Say of each box whether all of it lies in an area.

        Never of an area across the antimeridian, whose longitudes are written in several ways.
        """
        if area is None:
            return [False] * len(self._lons)
        east_west = (self._lons >= area.west) & (self._lons <= area.east)
        north_south = (self._lats >= area.south) & (self._lats <= area.north)
        found: list[bool] = np.all(east_west & north_south, axis=1).tolist()
        return found


def find_area(crs: Crs) -> Area | None:
    """Return where a CRS may be used; None when that is not known or nearly the whole Earth.

    A UTM zone without an area of use gets its 6 degrees.
    """
    if crs.area is not None and crs.area.width < _WORLD_WIDTH_DEG:
        return crs.area
    if crs.utm_zone[:-1].isdecimal():
        west, east = _find_meridians(crs.utm_zone)
        north = crs.utm_zone.endswith("N")
        return Area(
            west,
            0.0 if north else UTM_SOUTH_DEG,
            east,
            UTM_NORTH_DEG if north else 0.0,
        )
    return None


def _find_meridians(zone: str) -> tuple[float, float]:
    """Return the west and east meridian of a UTM zone, degrees."""
    west = (int(zone[:-1]) - 1) * 6.0 - 180.0
    return west, west + 6.0


def is_web_map(crs: Crs) -> bool:
    """Say whether a CRS is the spherical projection of web maps (EPSG:3857 and its relatives)."""
    method = crs.projection.casefold()
    return crs.code in {"EPSG:3857", "EPSG:3785", "EPSG:900913"} or any(
        word in method for word in ("pseudo mercator", "pseudo-mercator", "auxiliary sphere")
    )


def has_false_origin(crs: Crs) -> bool:
    """Say whether a projection keeps its coordinates away from zero by a false origin."""
    return any(
        name.casefold().startswith(("false", "easting at", "northing at")) and abs(value) > 1000
        for name, value in crs.parameters
    )


def looks_like_degrees(box: Box) -> bool:
    """Say whether all X lie within ±180 and all Y within ±90, or the other way round."""
    x = max(map(abs, box.bounds(0)))
    y = max(map(abs, box.bounds(1)))
    return max(x, y) <= 180 and min(x, y) <= 90
