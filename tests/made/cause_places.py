"""Whole clouds that lie elsewhere than their checkpoints, and what the check makes of them.

Where a program that makes the mistake would put the cloud is computed by pyproj.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyproj
from cause_sites import REGIONS, Floats, Site, make_site

from ledger.crs import describe
from lidar_checks.ground.causes.placement import find_placements

# Regions whose systems are zones of UTM: name, and code of WGS 84 in the zone to the east.
_UTM = {
    "Puerto Rico": 32620,
    "Hawaii": 32606,
    "Guam": 32656,
    "Colorado": 32614,
    "Florida": 32618,
    "Quebec": 32619,
    "Germany": 32633,
    "Victoria": 32756,
    "Queensland": 32757,
    "Brazil": 32724,
    "Kenya": 32738,
}


@dataclass(frozen=True)
class Misplaced:
    """One way to put a cloud elsewhere.

    Args:
        name: for the table.
        catalogue: id of the failure that has to be told.
        move: where it puts the points, east and north, metres.
    """

    name: str
    catalogue: str
    move: Callable[[Site], tuple[Floats, Floats]]


def _project(site: Site) -> tuple[Floats, Floats]:
    lon, lat = site.lonlat
    way = pyproj.Transformer.from_crs("EPSG:4326", _UTM[site.region.name], always_xy=True)
    east, north = way.transform(lon, lat)
    return np.asarray(east), np.asarray(north)


def _change_hemisphere(site: Site) -> tuple[Floats, Floats]:
    is_south = site.lonlat[1].mean() < 0
    return site.east, site.north + (-1e7 if is_south else 1e7)


MISPLACED = (
    Misplaced("zone to the east", "CR-01", _project),
    Misplaced("axes swapped", "CR-07", lambda site: (site.north, site.east)),
    Misplaced("other hemisphere", "CR-13", _change_hemisphere),
    Misplaced("cloud in feet", "UN-01", lambda site: (site.east / 0.3048, site.north / 0.3048)),
    Misplaced(
        "checkpoints in feet", "UN-04", lambda site: (site.east * 0.3048, site.north * 0.3048)
    ),
    Misplaced("40 km elsewhere", "", lambda site: (site.east + 4e4, site.north - 4e4)),
)


def count_places(misplaced: Misplaced, count: int, folder: Path) -> Counter[str]:
    """Return what came of some jobs: `alone`, `several`, `nothing` or `wrong`."""
    answers: Counter[str] = Counter()
    regions = [each for each in REGIONS if each.name in _UTM]
    for seed in range(count):
        random = np.random.default_rng((seed, sum(map(ord, misplaced.name))))
        region = regions[random.integers(len(regions))]
        site = make_site(region, random, int(random.integers(5, 41)), folder)
        east, north = misplaced.move(site)
        box = (east.min() - 5, north.min() - 5, east.max() + 5, north.max() + 5)
        found = find_placements(site.east, site.north, [box], describe(region.crs))
        told = {each.reading.catalogue[0] for each in found}
        right = misplaced.catalogue in told
        answers[_judge(len(found), is_right=right)] += 1
    return answers


def _judge(count: int, *, is_right: bool) -> str:
    if not count:
        return "nothing"
    if not is_right:
        return "wrong"
    return "alone" if count == 1 else "several"
