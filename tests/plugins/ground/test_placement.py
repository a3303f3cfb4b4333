"""Checkpoints off the cloud: which reading brings them back, and that no other does.

Zones: coordinates of one place in two zones are computed by pyproj itself.
"""

from __future__ import annotations

import numpy as np
import pyproj
import pytest

from ledger.crs import describe
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.placement import find_placements

CRS = describe("EPSG:6346")
BOX = (552_000.0, 4_272_000.0, 552_480.0, 4_272_320.0)
EAST = np.array([552_031.0, 552_212.0, 552_421.0, 552_352.0, 552_052.0])
NORTH = np.array([4_272_044.0, 4_272_061.0, 4_272_052.0, 4_272_141.0, 4_272_171.0])


def name(east: Floats, north: Floats) -> list[str]:
    """Return what is told of checkpoints at these places."""
    return [each.reading.clause for each in find_placements(east, north, [BOX], CRS)]


def _to_zone(source: int, target: int) -> tuple[Floats, Floats]:
    way = pyproj.Transformer.from_crs(source, target, always_xy=True)
    east, north = way.transform(EAST, NORTH)
    return np.asarray(east), np.asarray(north)


@pytest.mark.parametrize(
    ("east", "north", "told"),
    [
        (NORTH, EAST, "easting and northing of the checkpoints are swapped"),
        (EAST / 0.3048, NORTH / 0.3048, "the checkpoints are in feet, taken for metres"),
        (EAST * 0.3048, NORTH * 0.3048, "the cloud is in feet, taken for metres"),
        (EAST, NORTH - 1e7, "the cloud has northings of the southern hemisphere"),
    ],
)
def test_one_reading_brings_them_onto_the_cloud(east: Floats, north: Floats, told: str) -> None:
    """The reading that undoes what was done is told, and no other."""
    assert name(east, north) == [told]


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        (
            32616,
            [
                "the checkpoints are in UTM zone 16N, not 17N",
                "the cloud is in UTM zone 18N, not 17N",
            ],
        ),
        (
            32618,
            [
                "the cloud is in UTM zone 16N, not 17N",
                "the checkpoints are in UTM zone 18N, not 17N",
            ],
        ),
    ],
)
def test_a_neighbouring_zone(zone: int, told: list[str]) -> None:
    """All zones are alike, so that one side in the zone before is the other in the zone after."""
    assert name(*_to_zone(32617, zone)) == told


def test_another_site_is_no_reading() -> None:
    """Checkpoints 3 km away stay where they are."""
    assert name(EAST + 3000, NORTH) == []


@pytest.mark.parametrize(("astray", "told"), [(1, True), (2, False)])
def test_most_of_them_have_to_lie_there(astray: int, *, told: bool) -> None:
    """Four of five are enough, three are not."""
    east = NORTH.copy()
    east[:astray] += 5000.0
    assert bool(name(east, EAST)) is told
