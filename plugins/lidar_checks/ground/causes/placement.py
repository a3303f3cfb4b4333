"""Checkpoints that lie nowhere near the cloud: read in which other way would they lie on it.

Each reading moves the checkpoints as one known mistake would, and counts how many of them then lie
in the boxes of the delivered files. Axes the wrong way round, feet for metres, a neighbouring UTM
zone, the other hemisphere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from ledger.crs import describe, to_lonlat
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected import Place, list_neighbours, place_in_zone
from ledger.model.georeferencing import Crs
from lidar_checks.ground.causes.candidate import Reading
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_place import NO_DAY

ENOUGH = 0.8
"""Share of the checkpoints that a reading has to bring onto the cloud (common practice, no
source)."""

_FOOT = 0.3048
_FALSE_NORTHING_M = 10_000_000.0
_ZONE_CODES = {"N": 32600, "S": 32700}

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Placement:
    """One reading under which the checkpoints lie on the cloud.

    Args:
        reading: what would have happened.
        inside: how many checkpoints lie in a box then.
    """

    reading: Reading
    inside: int


def find_placements(
    east: Floats, north: Floats, boxes: Sequence[Box], crs: Crs
) -> tuple[Placement, ...]:
    """Return the readings that bring most of the checkpoints onto the cloud.

    Args:
        east: as the checkpoints stand, metres in the system of the job, (n,).
        north: (n,).
        boxes: west, south, east and north of the files, metres.
        crs: the system of the job.
    """
    found = []
    for reading, move in _list_readings(crs):
        try:
            moved = [move(x, y) for x, y in zip(east.tolist(), north.tolist(), strict=True)]
        except SwathbookError:
            continue  # what is no place under a reading is not that reading
        inside = sum(_is_inside(x, y, boxes) for x, y in moved)
        if inside >= ENOUGH * len(moved):
            found.append(Placement(reading, inside))
    return tuple(found)


Move = Callable[[float, float], tuple[float, float]]


def _list_readings(crs: Crs) -> Iterator[tuple[Reading, Move]]:
    declare = "Declare the table of checkpoints as it is, and audit again."
    export = "Export the cloud again in the system of the job."
    yield (
        Reading("easting and northing of the checkpoints are swapped", declare, ("CR-07",)),
        lambda x, y: (y, x),
    )
    yield (
        Reading("the checkpoints are in feet, taken for metres", declare, ("UN-04",)),
        lambda x, y: (x * _FOOT, y * _FOOT),
    )
    yield (
        Reading("the cloud is in feet, taken for metres", export, ("UN-01",)),
        lambda x, y: (x / _FOOT, y / _FOOT),
    )
    for sign, half in ((1.0, "southern"), (-1.0, "northern")):
        yield (
            Reading(f"the cloud has northings of the {half} hemisphere", export, ("CR-13",)),
            _move_north(sign * _FALSE_NORTHING_M),
        )
    if crs.utm_zone:
        for zone in list_neighbours(crs.utm_zone):
            yield (
                Reading(f"the cloud is in UTM zone {zone}, not {crs.utm_zone}", export, ("CR-01",)),
                _move_to_zone(crs.utm_zone, zone),
            )
            yield (
                Reading(
                    f"the checkpoints are in UTM zone {zone}, not {crs.utm_zone}",
                    declare,
                    ("CR-01",),
                ),
                _move_to_zone(zone, crs.utm_zone),
            )


def _move_north(by: float) -> Move:
    return lambda x, y: (x, y + by)


def _move_to_zone(source: str, target: str) -> Move:
    """Return what takes coordinates in one UTM zone to another, on one ellipsoid."""
    code = _ZONE_CODES[source[-1]] + int(source[:-1])

    def move(x: float, y: float) -> tuple[float, float]:
        lon, lat = to_lonlat(describe(f"EPSG:{code}"), x, y)
        found = place_in_zone(Place(lon, lat, NO_DAY), target)
        if found.east_m is None or found.north_m is None:
            return float(np.nan), float(np.nan)
        return found.east_m, found.north_m

    return move


def _is_inside(x: float, y: float, boxes: Sequence[Box]) -> bool:
    return any(west <= x <= east and south <= y <= north for west, south, east, north in boxes)
