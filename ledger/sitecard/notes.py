"""What has to be known about a place before its numbers are used, one sentence each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ledger.crs import has_uneven_zones, name_frame
from ledger.expected import Place, list_neighbours
from ledger.model.georeferencing import Crs
from ledger.model.phrases import tell_carried
from ledger.model.specification import Specification
from ledger.sitecard.finding import Found
from ledger.sitecard.frames import list_frames_here
from ledger.sitecard.grid import FARTHEST_OUTSIDE_DEG, is_outside
from ledger.sitecard.wish import SiteWish

# A site nearer to the edge of its zone than this may reach over it.
_NEAR_EDGE_KM = 20.0
_ZONE_WIDTH_DEG = 6.0
_POLE_DEG = 90.0
_KM_PER_DEGREE = math.radians(6_371.0)


def list_notes(
    place: Place, zone: str, crs: Crs | None, found: Found, wish: SiteWish
) -> tuple[str, ...]:
    """Return what has to be known.

    Args:
        place: where and when.
        zone: its UTM zone; empty where there is none.
        crs: the map system of the numbers; None for none.
        found: what the place was taken from.
        wish: what was asked for.
    """
    return tuple(_list_all(place, zone, crs, found, wish))


def tell_exchanged(
    place: Place, asked: Crs | None, found: Found, here: Sequence[Crs]
) -> Iterator[str]:
    """Yield that degrees which were typed would fit better the other way round.

    Args:
        place: as typed, longitude first.
        asked: the map system of the job or the command; None where neither names one.
        found: what the place was taken from.
        here: the frames in use at the place.
    """
    if not found.is_typed or abs(place.lon) > _POLE_DEG:
        return
    other = Place(place.lat, place.lon, place.date)
    told = f"Longitude comes first in --at. Latitude first, it would be {_tell_place(other)}"
    if asked is not None:
        if is_outside(asked, place, FARTHEST_OUTSIDE_DEG) and not is_outside(asked, other):
            yield f"{told}, where {asked.name} is used: look which is meant."
        return
    there = () if here else list_frames_here(other)
    if there:
        yield f"{told}, where {name_frame(there[0])} is used: look which is meant."


def _tell_place(place: Place) -> str:
    north = f"{abs(place.lat):.3f}° {'N' if place.lat >= 0 else 'S'}"
    return f"{north}, {abs(place.lon):.3f}° {'E' if place.lon >= 0 else 'W'}"


def list_unconfirmed(specification: Specification, wish: SiteWish) -> tuple[str, ...]:
    """Return that what the card rests on was taken from the last job and nobody looked at it.

    Args:
        specification: `job.toml`; a blank one outside a job.
        wish: what was asked for; what was named there does not rest on the last job.
    """
    coordinates, delivery = specification.coordinates, specification.delivery
    used = {
        "coordinates.horizontal": coordinates.horizontal if not wish.crs else None,
        "coordinates.epoch": coordinates.epoch,
        "coordinates.geoid": coordinates.geoid,
        "delivery.boundary": delivery.boundary if not wish.at and wish.file is None else None,
    }
    carried = [
        key
        for key, value in used.items()
        if value is not None and not specification.is_confirmed(key)
    ]
    return (" ".join(tell_carried(carried)).removeprefix("But "),) if carried else ()


def _list_all(
    place: Place, zone: str, crs: Crs | None, found: Found, wish: SiteWish
) -> Iterator[str]:
    if crs is not None and is_outside(crs, place, FARTHEST_OUTSIDE_DEG):
        pass  # told among what is missing
    elif crs is not None and crs.utm_zone and zone not in ("", crs.utm_zone):
        yield f"The place lies in zone {zone}; the numbers are for zone {crs.utm_zone}."
    elif crs is not None and is_outside(crs, place):
        yield f"The place lies outside the area of use of {crs.name}."
    if zone and crs is not None and crs.utm_zone:
        yield from _tell_edge(place, zone)
    if wish.height_m is None and found.height_m is not None:
        yield (
            f"The height of {found.height_m:.0f} m is that of the file, whichever kind it is: 30 m "
            "of geoid height change the combined factor by 5 ppm."
        )


def _tell_edge(place: Place, zone: str) -> Iterator[str]:
    """Yield that a zone ends nearby, for zones of the common width."""
    if has_uneven_zones(place.lon, place.lat):
        return  # the edges lie elsewhere
    past = (place.lon + 180.0) % _ZONE_WIDTH_DEG
    west, east = list_neighbours(zone)
    scale = _KM_PER_DEGREE * math.cos(math.radians(place.lat))
    for other, degrees in ((west, past), (east, _ZONE_WIDTH_DEG - past)):
        away = degrees * scale
        if away <= _NEAR_EDGE_KM:
            yield f"Zone {other} begins {away:.1f} km away: decide on one zone for all of the site."
