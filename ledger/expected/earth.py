"""Places on the earth without a coordinate library: geocentric to geodetic, and distances.

WGS 84 (NIMA TR8350.2: a = 6378137 m, 1/f = 298.257223563); GRS 80 differs by 0.1 mm.
"""

from __future__ import annotations

import math

_A = 6_378_137.0
_F = 1 / 298.257223563
_E2 = _F * (2 - _F)
_STEPS = 8


def to_geodetic(x: float, y: float, z: float) -> tuple[float, float, float]:
    """Return longitude and latitude, degrees, and ellipsoidal height, metres.

    By iteration; exact to less than a millimetre for places within 1,000 km of the ellipsoid.

    Args:
        x: geocentric X, metres.
        y: geocentric Y, metres.
        z: geocentric Z, metres.
    """
    p = math.hypot(x, y)
    lat = math.atan2(z, p * (1 - _E2))
    for _ in range(_STEPS):
        radius = _A / math.sqrt(1 - _E2 * math.sin(lat) ** 2)
        lat = math.atan2(z + _E2 * radius * math.sin(lat), p)
    radius = _A / math.sqrt(1 - _E2 * math.sin(lat) ** 2)
    height = p * math.cos(lat) + z * math.sin(lat) - _A**2 / radius
    return math.degrees(math.atan2(y, x)), math.degrees(lat), height


def measure_distance_m(first: tuple[float, float], second: tuple[float, float]) -> float:
    """Return the distance of two places, metres, on a sphere: good to half a per cent.

    Args:
        first: longitude and latitude, degrees.
        second: the same.
    """
    lon1, lat1, lon2, lat2 = map(math.radians, (*first, *second))
    half = (
        math.sin((lat2 - lat1) / 2) ** 2
        + math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    )
    return 2 * 6_371_008.8 * math.asin(math.sqrt(min(1.0, half)))
