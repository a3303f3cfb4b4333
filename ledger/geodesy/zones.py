"""UTM zones: which one a place lies in, and which one a projection is.

Sources: EPSG method 9807 and the UTM conversions 16001 to 16160 for the projection; the widened
zones over Norway and Svalbard as public zone finders have them (among them that of GNSS-SDR).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from ledger.errors import CrsError

_SCALE = 0.9996
_FALSE_EASTING_M = 500_000.0
_SOUTH_FALSE_NORTHING_M = 10_000_000.0
_SOUTHERN_LIMIT_DEG, _NORTHERN_LIMIT_DEG = -80.0, 84.0

# West, south, east, north of where zones 31 to 37 are not 6 degrees wide.
_UNEVEN = ((0.0, 56.0, 12.0, 64.0), (0.0, 72.0, 42.0, 84.0))

_LENGTH_TOLERANCE_M = 2e-4
_ANGLE_TOLERANCE_DEG = 1e-7
_SCALE_TOLERANCE = 1e-10

_ORDINARY = "Transverse Mercator"


def find_utm_zone(lon: float, lat: float) -> str:
    """Return the UTM zone of a place, as `17N`.

    Args:
        lon: longitude, degrees east, wrapped to ±180.
        lat: latitude, degrees north.

    Raises:
        CrsError: the place is no number, or outside 80 S to 84 N, where UTM ends.
    """
    if not math.isfinite(lon) or not _SOUTHERN_LIMIT_DEG <= lat <= _NORTHERN_LIMIT_DEG:
        raise CrsError(
            "no UTM zone covers this place",
            found=f"{lon}, {lat}",
            expected="a longitude, and a latitude from -80 to 84 degrees",
        )
    wrapped = (lon + 180.0) % 360.0 - 180.0
    zone = _find_exception(wrapped, lat) or int((wrapped + 180.0) // 6.0) + 1
    return f"{min(zone, 60)}{'N' if lat >= 0 else 'S'}"


def has_uneven_zones(lon: float, lat: float) -> bool:
    """Say whether UTM zones are wider or narrower than 6 degrees at a place: Norway, Svalbard.

    Args:
        lon: degrees east, wrapped to ±180.
        lat: degrees north.
    """
    wrapped = (lon + 180.0) % 360.0 - 180.0
    return any(
        south <= lat < north and west <= wrapped < east for west, south, east, north in _UNEVEN
    )


def _find_exception(lon: float, lat: float) -> int | None:
    """Return the widened zone over Norway or Svalbard, None elsewhere."""
    if 56.0 <= lat < 64.0 and 3.0 <= lon < 12.0:
        return 32
    if 72.0 <= lat <= _NORTHERN_LIMIT_DEG and 0.0 <= lon < 42.0:
        return next(zone for limit, zone in ((9, 31), (21, 33), (33, 35), (42, 37)) if lon < limit)
    return None


def find_projected_zone(method: str, parameters: Mapping[str, float]) -> str:
    """Return the UTM zone that a projection is, whatever its name, datum and unit; else empty.

    Args:
        method: name of the projection method in the EPSG registry.
        parameters: its parameters by their EPSG names, metres and degrees.
    """
    if method != _ORDINARY:
        return ""
    lon = parameters.get("Longitude of natural origin", math.nan)
    zone = round((lon + 183.0) / 6.0) if math.isfinite(lon) else 0
    fits = (
        1 <= zone <= 60
        and abs(zone * 6.0 - 183.0 - lon) < _ANGLE_TOLERANCE_DEG
        and abs(parameters.get("Latitude of natural origin", 0.0)) < _ANGLE_TOLERANCE_DEG
        and abs(parameters.get("Scale factor at natural origin", 1.0) - _SCALE) < _SCALE_TOLERANCE
        and abs(parameters.get("False easting", 0.0) - _FALSE_EASTING_M) < _LENGTH_TOLERANCE_M
    )
    northing = parameters.get("False northing", 0.0)
    if fits and abs(northing) < _LENGTH_TOLERANCE_M:
        return f"{zone}N"
    if fits and abs(northing - _SOUTH_FALSE_NORTHING_M) < _LENGTH_TOLERANCE_M:
        return f"{zone}S"
    return ""
