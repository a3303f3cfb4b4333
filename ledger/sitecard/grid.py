"""Lines and facts about the map grid: zone, convergence, scale, feet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.errors import CrsError
from ledger.expected import (
    Place,
    find_combined_factor,
    find_convergence,
    find_elevation_factor,
    find_foot_shift,
    find_scale_factor,
    find_zone,
    list_neighbours,
    place_in_zone,
)
from ledger.model.georeferencing import Crs
from ledger.sitecard.heights import Told
from ledger.sitecard.result import Fact, Line, Missing, Part

FARTHEST_OUTSIDE_DEG = 6.0
"""A job may well ask for the zone beside; farther away a projection turns into nonsense."""

_PPM = 1e6
_METRES_PER_KM = 1000.0
_HALF_EARTH_M = 10_000_000.0


def find_zone_or_none(place: Place) -> str:
    """Return the UTM zone of a place; empty beyond 80 S and 84 N."""
    try:
        return find_zone(place)
    except CrsError:
        return ""


def is_outside(crs: Crs, place: Place, by_deg: float = 0.0) -> bool:
    """Say whether a place lies outside the area of use of a system by more than some degrees."""
    return crs.area is not None and crs.area.measure_outside(place.lon, place.lat) > by_deg


def tell_zones(place: Place, zone: str) -> Iterator[Told]:
    """Yield the easting and northing that a place has in the zones beside its own.

    Args:
        place: where.
        zone: the zone in which the work has to be.
    """
    here = place_in_zone(place, zone)
    for other in list_neighbours(zone):
        there = place_in_zone(place, other)
        if there.east_m is None or there.north_m is None or here.east_m is None:
            yield Missing("neighbour-zone", f"zone {other}: {there.reason or here.reason}")
            continue
        parts = (
            Part("easting", there.east_m, "m", signed=False),
            Part("northing", there.north_m, "m", signed=False),
        )
        why = f"zone {other} was used in place of {zone}"
        size = abs(there.east_m - here.east_m)
        yield Line("neighbour-zone", parts, size, why, "on the ellipsoid of WGS 84")
    if zone.endswith("S"):
        why = "a zone of the northern half was used, its northings lack 10 000 km"
        off = Part("north", -_HALF_EARTH_M, "m")
        yield Line("other-hemisphere", (off,), _HALF_EARTH_M, why, "EPSG:32701 to 32760")


def tell_grid(place: Place, crs: Crs) -> Iterator[Told]:
    """Yield how the map grid turns and stretches what lies on the ground.

    Args:
        place: where.
        crs: the map system of the work.
    """
    yield from _tell_convergence(place, crs)
    scale, elevation = find_scale_factor(crs, place), find_elevation_factor(place)
    combined = find_combined_factor(crs, place)
    factors = (
        ("scale-factor", "point scale factor", scale),
        ("elevation-factor", "elevation factor", elevation),
        ("combined-factor", "combined factor", combined),
    )
    told: set[str] = set()  # what one factor lacks the combined one lacks, too
    for topic, label, factor in factors:
        if factor.value is not None:
            part = Part("factor", factor.value, "", signed=False)
            yield Fact(topic, label, part, factor.how)
        elif factor.reason not in told:
            told.add(factor.reason)
            yield Missing(topic, f"{label}: {factor.reason}")
    if combined.value is not None:
        yield _tell_scale("ground-for-grid", combined.value, "lengths", combined.how)
    elif scale.value is not None:
        yield _tell_scale("ellipsoid-for-grid", scale.value, "lengths on the ellipsoid", scale.how)


def _tell_convergence(place: Place, crs: Crs) -> Iterator[Told]:
    found = find_convergence(crs, place)
    if found.value is None:
        yield Missing("convergence", f"convergence: {found.reason}")
        return
    label = "convergence (grid north east of true north)"
    part = Part("rotation", found.value, "degree")
    yield Fact("convergence", label, part, found.how)
    size = abs(math.radians(found.value)) * _METRES_PER_KM
    yield Line("true-north", (part,), size, "true north was taken for grid north", found.how)


def _tell_scale(topic: str, factor: float, what: str, how: str) -> Line:
    """Return the line of a scale: right grid lengths are `factor` times those on the ground."""
    off = factor - 1.0
    why = f"{what} were mixed up with those of the grid; either sign"
    return Line(topic, (Part("scale", off * _PPM, "ppm"),), abs(off) * _METRES_PER_KM, why, how)


def tell_feet(east_m: float, north_m: float) -> Iterator[Told]:
    """Yield how far a place moves when one foot is read as the other.

    Args:
        east_m: easting, metres.
        north_m: northing, metres.
    """
    shift = find_foot_shift(east_m, north_m)
    east, north, _ = shift.parts or (0.0, 0.0, 0.0)
    yield Line(
        "other-foot",
        (Part("east", east, "m"), Part("north", north, "m")),
        math.hypot(east, north),
        "international feet were read as US survey feet; with opposite signs the other way round",
        shift.how,
    )
