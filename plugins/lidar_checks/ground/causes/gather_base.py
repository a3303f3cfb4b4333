"""The base: where its log says that it stood, against the coordinates of its mark in a table.

Geocentric coordinates in a log are taken to be in the frame of the job, for nothing in the log says
otherwise: where they are not, the frame is what the residuals show, and both are told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ledger.contract.evidence import Evidence
from ledger.crs import from_lonlat
from ledger.errors import SwathbookError
from ledger.expected.earth import to_geodetic
from ledger.model.fieldlogs import BaseLog
from ledger.model.process import Card
from lidar_checks.ground.causes.site_facts import BaseOffset, Missing
from lidar_checks.ground.causes.site_place import Site
from lidar_checks.ground.placing import PlacedPoint, place_points

# What is farther away is another mark, or a position that a receiver only guessed at its start.
_FARTHEST_M = 100.0

Three = tuple[float, float, float]


def gather_bases(
    site: Site, geoid_m: float, evidence: Evidence
) -> tuple[tuple[BaseOffset, ...], tuple[Missing, ...]]:
    """Return how far each base was from its mark by its own log, and why nothing is known.

    Args:
        site: the points.
        geoid_m: height of the geoid there where the job has heights above it, else 0.
        evidence: the logs, the flights and the tables.
    """
    found = {each.log: each for each in _list_offsets(site, geoid_m, evidence)}
    if found:
        return tuple(found.values()), ()
    return (), (Missing("bases", "no table holds the mark of a base whose log says where it was"),)


def _list_offsets(site: Site, geoid_m: float, evidence: Evidence) -> Iterator[BaseOffset]:
    marks = {
        each.point.id.strip().casefold(): each
        for each in place_points(evidence)
        if each.is_placed and not each.fault and math.isfinite(each.height_m)
    }
    for card in evidence.flights:
        mark = _find_mark(card, marks)
        for log in evidence.logs.list_bases(card.id) if mark is not None else ():
            used = _place_log(log, site, geoid_m)
            if mark is not None and used is not None:
                off = (used[0] - mark.east_m, used[1] - mark.north_m, used[2] - mark.height_m)
                if math.hypot(*off) <= _FARTHEST_M:
                    yield BaseOffset(mark.point.id, log.file.path, off)


def _find_mark(card: Card, marks: dict[str, PlacedPoint]) -> PlacedPoint | None:
    known = card.values.get("flight.base_mark")
    return None if known is None else marks.get(str(known.value).strip().casefold())


def _place_log(log: BaseLog, site: Site, geoid_m: float) -> Three | None:
    """Return where a log says that its antenna's mark is, metres; None where it says nothing."""
    crs = site.crs
    if log.position_m is None or crs is None or crs.metres_per_unit is None:
        return None
    lon, lat, height = to_geodetic(*(float(part) for part in log.position_m))
    try:
        east, north = from_lonlat(crs, lon, lat)
    except SwathbookError:
        return None
    size = float(crs.metres_per_unit)
    return east * size, north * size, height - geoid_m
