"""The height of the geoid at a place: by a grid, its slope there, and one grid less another.

h = H + N: h above the ellipsoid, H above the geoid, N the height of the geoid itself.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.crs import sample_geoid, sample_geoid_at, try_geoid_at
from ledger.errors import SwathbookError
from ledger.expected.records import Expected, Place, Vector

if TYPE_CHECKING:  # arrays are for who hands them in
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

# On a sphere of 6 371 km; only for saying how far away a slope is looked at.
_METRES_PER_DEGREE = math.radians(6_371_000)
# Half the distances over which a slope is taken, the widest first: a grid may end near a small
# site, and over less than its nodes are apart their rounding would show.
_REACHES_M = (500.0, 200.0, 50.0)


def find_geoid_height(grid: Path, place: Place) -> Expected:
    """Return the height of the geoid at a place, metres above the ellipsoid of the grid.

    Args:
        grid: GeoTIFF, GTX or another form that PROJ reads.
        place: where; a grid knows no date.
    """
    try:
        return Expected(sample_geoid(grid, place.lon, place.lat), "m", _tell(grid))
    except SwathbookError as error:
        return Expected(None, "m", reason=_tell_fault(error))


def find_geoid_heights(grid: Path, lon: ArrayLike, lat: ArrayLike) -> NDArray[np.float64]:
    """Return the heights of the geoid at many places, metres; NaN where the grid has no value.

    Args:
        grid: as there.
        lon: degrees east, (n,).
        lat: degrees north, (n,).

    Raises:
        MissingGridError: there is no such file.
        CrsError: the file cannot be used at all.
    """
    return try_geoid_at(grid, lon, lat)


def find_geoid_slope(grid: Path, place: Place) -> Vector:
    """Return by how much the geoid rises eastward and northward, metres a kilometre.

    Args:
        grid: as there; it has to reach at least 50 m round the place.
        place: where.
    """
    for reach in _REACHES_M:
        try:
            right, left, above, below = sample_geoid_at(grid, *_list_round(place, reach)).tolist()
        except SwathbookError as error:
            reason = _tell_fault(error)
            continue
        across_km = 2 * reach / 1000
        slope = (right - left) / across_km, (above - below) / across_km
        return Vector(*slope, unit="m/km", how=f"{_tell(grid)}, over {across_km:g} km")
    return Vector(None, None, unit="m/km", reason=reason)


def _list_round(place: Place, reach_m: float) -> tuple[list[float], list[float]]:
    """Return longitudes and latitudes of four places round one: east, west, north, south."""
    north = reach_m / _METRES_PER_DEGREE
    east = north / math.cos(math.radians(place.lat))
    lon = [place.lon + east, place.lon - east, place.lon, place.lon]
    lat = [place.lat, place.lat, place.lat + north, place.lat - north]
    return lon, lat


def find_geoid_difference(first: Path, second: Path, place: Place) -> Expected:
    """Return the height of one geoid less that of another at a place, metres.

    Heights above the geoid move the other way: those by the second grid less those by the first
    are this number.

    Args:
        first: a grid.
        second: another.
        place: where.
    """
    try:
        before, after = (sample_geoid(grid, place.lon, place.lat) for grid in (first, second))
    except SwathbookError as error:
        return Expected(None, "m", reason=_tell_fault(error))
    return Expected(before - after, "m", f"{first.name} less {second.name}, bilinear in each")


def _tell(grid: Path) -> str:
    return f"bilinear in {grid.name}"


def _tell_fault(error: SwathbookError) -> str:
    """Return what is wrong without the folder it lies in, which is nobody's business on paper."""
    fault = error.faults[0]
    found = f" ({fault.found})" if fault.found else ""
    return f"{fault.what}{found}: {Path(fault.where).name}" if fault.where else fault.what
