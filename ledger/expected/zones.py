"""The UTM zone of a place, and what its coordinates are in the zones beside it."""

from __future__ import annotations

from ledger.crs import describe, find_utm_zone, from_lonlat
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected.records import Place

ZONES = 60
_NORTH, _SOUTH = 32600, 32700


@dataclass(frozen=True, slots=True)
class ZonePlace:
    """A place in a UTM zone.

    Args:
        zone: `17N`.
        east_m: easting, metres; None where it cannot be told.
        north_m: northing, metres.
        reason: why there are none; empty when there are.
    """

    zone: str
    east_m: float | None
    north_m: float | None
    reason: str = ""


def find_zone(place: Place) -> str:
    """Return the zone in which a place lies, `17N`, the wider ones of Norway and Svalbard included.

    Raises:
        CrsError: it lies outside 80 S to 84 N.
    """
    return find_utm_zone(place.lon, place.lat)


def list_neighbours(zone: str) -> tuple[str, str]:
    """Return the zones west and east of one; 1 and 60 lie side by side."""
    number, half = int(zone[:-1]), zone[-1]
    return f"{(number - 2) % ZONES + 1}{half}", f"{number % ZONES + 1}{half}"


def place_in_zone(place: Place, zone: str) -> ZonePlace:
    """Return the easting and northing of a place in a zone, which need not be its own.

    On the ellipsoid of WGS 84; on that of GRS 1980 they differ by a tenth of a millimetre.

    Args:
        place: where.
        zone: `17N`.
    """
    code = (_NORTH if zone.endswith("N") else _SOUTH) + int(zone[:-1])
    try:
        east, north = from_lonlat(describe(f"EPSG:{code}"), place.lon, place.lat)
    except SwathbookError as error:
        return ZonePlace(zone, None, None, str(error))
    return ZonePlace(zone, east, north)
