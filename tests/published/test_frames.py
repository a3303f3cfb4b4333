"""Shifts between frames, against published parameters and published coordinate pairs.

Sources: EPSG operations 8970 (ITRF2014 to NAD83(2011)) and 10334 (ITRF2020 to NAD83(2011)) with
their 14 parameters each, by which the shift is worked out here without the coordinate library
(coordinate frame rotation, EPSG method 1056); the GDA2020 Technical Manual of ICSM, whose pairs at
Alice Springs PROJ carries in its own tests.
Known: read (parameters in the EPSG dataset 11.022, pairs in the tests of PROJ).
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from numpy.typing import NDArray

from ledger.expected import Place, find_drift, find_frame_shift

# GRS 1980 (EPSG 7019).
SEMI_MAJOR_M, FLATTENING = 6378137.0, 1 / 298.257222101
MAS = np.radians(1 / 3_600_000)

# Translation (m), rotation (mas), scale (ppb) at 2010.0, then their rates a year.
ITRF2014 = (
    (1.00530, -1.90921, -0.54157, 26.78138, -0.42027, 10.93206, 0.36891),
    (0.00079, -0.00060, -0.00144, 0.06667, -0.75744, -0.05133, -0.07201),
)
ITRF2020 = (
    (1.00390, -1.90961, -0.54117, 26.78138, -0.42027, 10.93206, -0.05109),
    (0.00079, -0.00070, -0.00124, 0.06667, -0.75744, -0.05133, -0.07201),
)
PLACES = {
    "Denver": (-104.9903, 39.7392, 1600.0),
    "San Francisco": (-122.4194, 37.7749, 20.0),
    "Miami": (-80.1918, 25.7617, -20.0),
    "Boston": (-71.0589, 42.3601, 10.0),
    "the demo site": (-80.4, 38.596, 182.0),
}


def to_xyz(lon: float, lat: float, height: float) -> NDArray[np.float64]:
    """Return geocentric coordinates, metres (EPSG method 9602)."""
    lam, phi = np.radians((lon, lat))
    squared = FLATTENING * (2 - FLATTENING)
    across = SEMI_MAJOR_M / np.sqrt(1 - squared * np.sin(phi) ** 2)
    flat = (across + height) * np.cos(phi)
    up = (across * (1 - squared) + height) * np.sin(phi)
    return np.array([flat * np.cos(lam), flat * np.sin(lam), up])


def turn_local(lon: float, lat: float) -> NDArray[np.float64]:
    """Return the matrix from geocentric differences to east, north, up."""
    lam, phi = np.radians((lon, lat))
    return np.array(
        [
            [-np.sin(lam), np.cos(lam), 0],
            [-np.sin(phi) * np.cos(lam), -np.sin(phi) * np.sin(lam), np.cos(phi)],
            [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)],
        ]
    )


def move(
    xyz: NDArray[np.float64], parameters: tuple[tuple[float, ...], tuple[float, ...]], epoch: float
) -> NDArray[np.float64]:
    """Return geocentric coordinates after a transformation by coordinate frame rotation."""
    fixed, rates = (np.array(part) for part in parameters)
    now = fixed + rates * (epoch - 2010.0)
    rx, ry, rz = now[3:6] * MAS
    rotation = np.array([[1, rz, -ry], [-rz, 1, rx], [ry, -rx, 1]])
    moved: NDArray[np.float64] = now[:3] + (1 + now[6] * 1e-9) * rotation @ xyz
    return moved


def test_the_published_parameters_are_worked_out_rightly() -> None:
    """One point in the middle of the continent, computed with the library, is met to 0.01 mm."""
    moved = move(np.array([-1289000.0, -4721000.0, 4078000.0]), ITRF2014, 2020.0)
    assert moved == pytest.approx((-1288999.066752, -4721001.305775, 4078000.120792), abs=1e-5)


@pytest.mark.parametrize("frame", ["ITRF2014", "ITRF2020"])
@pytest.mark.parametrize("epoch", [2010.0, 2020.0, 2026.4])
@pytest.mark.parametrize("name", PLACES)
def test_nad83_less_itrf_by_its_parameters(name: str, epoch: float, frame: str) -> None:
    """East, north and height of the shift are those of the parameters, to a tenth of a mm."""
    lon, lat, height = PLACES[name]
    xyz = to_xyz(lon, lat, height)
    parameters = ITRF2014 if frame == "ITRF2014" else ITRF2020
    wanted = turn_local(lon, lat) @ (move(xyz, parameters, epoch) - xyz)
    place = Place(lon, lat, date(2026, 5, 26), height)
    found = find_frame_shift(place, frame, "NAD83(2011)", epoch)
    assert found.parts == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize("name", PLACES)
def test_the_ground_drifts_by_the_rates(name: str) -> None:
    """In ITRF2020 a mark at rest in NAD83(2011) moves by what the parameters change."""
    lon, lat, height = PLACES[name]
    xyz, local = to_xyz(lon, lat, height), turn_local(lon, lat)
    grown = local @ (move(xyz, ITRF2020, 2026.4) - move(xyz, ITRF2020, 2010.0))
    place = Place(lon, lat, date(2026, 5, 26), height)
    found = find_drift(place, "NAD83(2011)", "ITRF2020", 2010.0, 2026.4)
    assert found.parts == pytest.approx(-grown, abs=1e-4)


def test_gda94_to_gda2020_at_alice_springs() -> None:
    """The published pair of geographic coordinates: they are written to a millimetre."""
    before = (133.88551329, -23.67012389, 603.3466)
    after = (133.8855216, -23.67011014, 603.2489)
    wanted = turn_local(*before[:2]) @ (to_xyz(*after) - to_xyz(*before))
    found = find_frame_shift(Place(*before[:2], date(2020, 1, 1)), "GDA94", "GDA2020")
    assert found.parts == pytest.approx(wanted, abs=0.0015)


def test_itrf2014_to_gda2020_at_alice_springs() -> None:
    """The published pair of geocentric coordinates at 2018.0."""
    before = np.array([-4052052.6588, 4212835.9938, -2545104.6946])
    after = np.array([-4052052.7373, 4212835.9835, -2545104.5867])
    place = Place(133.88551329, -23.67012389, date(2018, 1, 1), 603.0)
    wanted = turn_local(place.lon, place.lat) @ (after - before)
    found = find_frame_shift(place, "ITRF2014", "GDA2020", 2018.0)
    assert found.parts == pytest.approx(wanted, abs=2e-4)
