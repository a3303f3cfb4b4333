"""How a map grid differs from the ground: convergence, scale, height, and both together."""

from __future__ import annotations

from ledger.crs import compute_convergence, compute_scale_factor
from ledger.errors import SwathbookError
from ledger.expected.records import Expected, Place
from ledger.model.georeferencing import Crs

MEAN_RADIUS_M = 6_371_000.0
"""Mean radius of the Earth. At 1600 m above the ellipsoid the true radius of curvature, which is
up to 0.5 % off it, changes the elevation factor by 1 ppm at most."""


def find_convergence(crs: Crs, place: Place) -> Expected:
    """Return the degrees by which grid north lies east of true north.

    Args:
        crs: a map system.
        place: where, on its datum.
    """
    try:
        return Expected(compute_convergence(crs, place.lon, place.lat), "degree", crs.name)
    except SwathbookError as error:
        return Expected(None, "degree", reason=str(error))


def find_scale_factor(crs: Crs, place: Place) -> Expected:
    """Return the length on the map by the length on the ellipsoid, a ratio.

    Args:
        crs: a map system; for a conformal one it is the same in every direction.
        place: where, on its datum.
    """
    try:
        return Expected(compute_scale_factor(crs, place.lon, place.lat), "", crs.name)
    except SwathbookError as error:
        return Expected(None, "", reason=str(error))


def find_elevation_factor(place: Place) -> Expected:
    """Return the length on the ellipsoid by the length on the ground, a ratio: R / (R + h).

    Args:
        place: where; its height has to be known.
    """
    if place.height_m is None:
        return Expected(
            None, "", reason="the height of the ground above the ellipsoid is not known"
        )
    factor = MEAN_RADIUS_M / (MEAN_RADIUS_M + place.height_m)
    return Expected(factor, "", f"R / (R + h) with R {MEAN_RADIUS_M:.0f} m, h {place.height_m} m")


def find_combined_factor(crs: Crs, place: Place) -> Expected:
    """Return the length on the map by the length on the ground, a ratio.

    Args:
        crs: a map system.
        place: where; its height has to be known.
    """
    scale, elevation = find_scale_factor(crs, place), find_elevation_factor(place)
    if scale.value is None or elevation.value is None:
        return scale if scale.value is None else elevation
    return Expected(scale.value * elevation.value, "", f"{scale.how}, {elevation.how}")
