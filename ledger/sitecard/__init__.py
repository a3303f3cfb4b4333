"""The numbers to expect at a site, from its place and a date alone, before anything is processed.

"If you see this number, this is why", worst first. Works outside a job and without a network; what
cannot be told is named and never approximated.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ledger.crs import describe, describe_zone, from_lonlat, name_frame
from ledger.errors import CrsError
from ledger.expected import Place, find_frame, find_frame_shift, find_leap_seconds, find_time_shift
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.georeferencing import Crs
from ledger.model.specification import Specification
from ledger.sitecard.finding import (
    Found,
    read_boundary_of,
    read_place_of,
    read_system,
    read_typed_place,
)
from ledger.sitecard.frames import SATELLITE_FRAME, choose_frame, list_frames_here, tell_frames
from ledger.sitecard.grid import (
    FARTHEST_OUTSIDE_DEG,
    find_zone_or_none,
    is_outside,
    tell_feet,
    tell_grid,
    tell_zones,
)
from ledger.sitecard.grids import list_grids
from ledger.sitecard.heights import Told, tell_geoids
from ledger.sitecard.notes import list_notes, list_unconfirmed, tell_exchanged
from ledger.sitecard.result import CAUTIONS, SEEN_FROM_M, Fact, Line, Missing, Part, SiteCard
from ledger.sitecard.wish import SiteWish
from ledger.specfile.reading import read_specification

__all__ = [
    "CAUTIONS",
    "SEEN_FROM_M",
    "Fact",
    "Line",
    "Missing",
    "Part",
    "SiteCard",
    "SiteWish",
    "make_site_card",
]

_ZONE_CODES = {"N": "EPSG:326", "S": "EPSG:327"}


def make_site_card(job: Path | None, wish: SiteWish) -> SiteCard:
    """Return the numbers to expect at a site.

    Args:
        job: the job folder; None outside a job.
        wish: what was asked for.

    Raises:
        UsageError: no place was named, or what was named is none.
        SpecificationError: `job.toml` cannot be used.
        FileError: a file that was named cannot be read.
        CrsError: a system or frame is not known.
        BookError: the book cannot be read.
    """
    specification = Specification() if job is None else read_specification(job / SPECIFICATION_NAME)
    asked = _find_asked(specification, wish)
    found = _find_place(job, specification, asked, wish)
    height = found.height_m if wish.height_m is None else wish.height_m
    place = Place(found.lon, found.lat, wish.day, height)
    zone = find_zone_or_none(place)
    here = list_frames_here(place)
    frame, told_of_frame = _find_frame(place, wish, asked or found.crs, here)
    crs = asked or found.crs or _find_zone_system(zone, frame)
    told = [
        *tell_geoids(list_grids(job, specification, wish.grids), place),
        *told_of_frame,
        *_tell_frames(place, frame, here, specification.coordinates.epoch),
        *_tell_map(place, crs),
        *_tell_times(place, wish.speed_m_per_s),
    ]
    east, north = _place_on_map(crs, place)
    lines = [each for each in told if isinstance(each, Line)]
    return SiteCard(
        place=place,
        known_from=found.known_from,
        job=specification.job.reference or ("" if job is None else job.name),
        system="" if crs is None else crs.name,
        frame="" if frame is None else name_frame(frame),
        zone=zone,
        east_m=east,
        north_m=north,
        facts=tuple(each for each in told if isinstance(each, Fact)),
        lines=tuple(sorted(lines, key=lambda each: -each.size_m)),
        missing=tuple(each for each in told if isinstance(each, Missing)),
        notes=(
            *tell_exchanged(place, asked, found, here),
            *list_notes(place, zone, crs, found, wish),
            *list_unconfirmed(specification, wish),
        ),
    )


def _find_asked(specification: Specification, wish: SiteWish) -> Crs | None:
    """Return the map system that was typed, else that of the job; None where neither is."""
    text = wish.crs or specification.coordinates.horizontal
    return None if text is None else read_system(text)


def _find_place(
    job: Path | None, specification: Specification, asked: Crs | None, wish: SiteWish
) -> Found:
    if wish.at:
        return read_typed_place(wish.at, asked)
    if wish.file is not None:
        return read_place_of(wish.file, specification, asked)
    return read_boundary_of(job, specification, asked)


def _find_zone_system(zone: str, frame: Crs | None) -> Crs | None:
    """Return the UTM zone in the frame of the work, or in WGS 84 where the registry has none."""
    if not zone:
        return None
    own = None if frame is None else describe_zone(name_frame(frame), zone)
    return own or describe(f"{_ZONE_CODES[zone[-1]]}{int(zone[:-1]):02d}")


def _find_frame(
    place: Place, wish: SiteWish, crs: Crs | None, here: tuple[Crs, ...]
) -> tuple[Crs | None, tuple[Told, ...]]:
    """Return the frame in which the work has to be, and why it is not that of the system."""
    if wish.frame:
        return find_frame(wish.frame), ()
    untied: tuple[Told, ...] = ()
    if crs is not None:
        reason = find_frame_shift(place, crs, SATELLITE_FRAME).reason
        if not reason:
            return crs, ()
        pair = f"{SATELLITE_FRAME} for {name_frame(crs)}"
        untied = (Missing("frame-shift", f"{pair}: {reason}"),)
    chosen, others = choose_frame(place, here)
    return chosen, (*untied, *others)


def _tell_frames(
    place: Place, frame: Crs | None, here: tuple[Crs, ...], epoch: float | None
) -> Iterator[Told]:
    if frame is None:
        yield Missing("frame-shift", "no frame of a plate or country is known here: name one")
        return
    yield from tell_frames(place, frame, here, epoch)


def _tell_map(place: Place, crs: Crs | None) -> Iterator[Told]:
    if crs is None:
        yield Missing(
            "map-grid",
            "no UTM zone lies here: longitude comes first in --at; else name the system with --crs",
        )
        return
    if is_outside(crs, place, FARTHEST_OUTSIDE_DEG):
        yield Missing("map-grid", f"the place lies far outside the area of use of {crs.name}")
        return
    if crs.utm_zone:
        yield from tell_zones(place, crs.utm_zone)
    yield from tell_grid(place, crs)
    east, north = _place_on_map(crs, place)
    if east is None or north is None:
        yield Missing("other-foot", f"this place has no coordinates in {crs.name}")
    else:
        yield from tell_feet(east, north)


def _tell_times(place: Place, speed_m_per_s: float) -> Iterator[Told]:
    if place.date is None:
        return
    ahead = find_leap_seconds(place.date)
    off = find_time_shift(place.date, speed_m_per_s)
    if ahead.value is None or off.value is None:
        yield Missing("gps-utc", ahead.reason)
        return
    part = Part("GPS less UTC", ahead.value, "s")
    yield Fact("gps-utc", "GPS time ahead of UTC", part, ahead.how)
    along = (Part("along the line", off.value, "m", signed=False),)
    why = f"one clock in GPS time, one in UTC, at {speed_m_per_s:g} m/s; back and forth by line"
    yield Line("gps-for-utc", along, off.value, why, off.how)


def _place_on_map(crs: Crs | None, place: Place) -> tuple[float | None, float | None]:
    """Return easting and northing, metres; None where a place has none."""
    if crs is None or crs.metres_per_unit is None or is_outside(crs, place, FARTHEST_OUTSIDE_DEG):
        return None, None
    try:
        east, north = from_lonlat(crs, place.lon, place.lat)
    except CrsError:
        return None, None
    return east * crs.metres_per_unit, north * crs.metres_per_unit
