"""Numbers of a site: geoid heights, factors of the map, feet, leap seconds.

Sources: the readme of the EGM96 coefficients (NIMA/NGA) with six places, computed by spline; PROJ
with the grids of NOAA (public domain, PROJ-data) for GEOID18 and GEOID12B; NIST SP 811, appendix
B.6 for the two feet, by arithmetic; IERS list of leap seconds as the IANA time zone database of
October 2026 carries it.
Known: read (EGM96), computed (grids), recomputed (feet, factors).
"""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from open_data import OpenFile

from ledger.crs import describe
from ledger.expected import (
    Place,
    compute_misread_foot,
    find_combined_factor,
    find_convergence,
    find_elevation_factor,
    find_geoid_difference,
    find_geoid_height,
    find_geoid_heights,
    find_geoid_slope,
    find_leap_seconds,
    find_scale_factor,
    find_time_shift,
    place_in_zone,
)

EGM96 = (
    (38.6281550, 269.7791550, -31.628),
    (-14.6212170, 305.0211140, -2.969),
    (46.8743190, 102.4487290, -43.575),
    (-23.6174460, 133.8747120, 15.871),
    (38.6254730, 359.9995000, 50.066),
    (-0.4667440, 0.0023000, 17.329),
)
WITHIN_M = 0.06


@pytest.mark.parametrize(("lat", "lon", "published"), EGM96)
def test_egm96_at_its_published_places(
    open_file: OpenFile, lat: float, lon: float, published: float
) -> None:
    """A look-up between the nodes comes within six centimetres of the spline."""
    found = find_geoid_height(open_file("geoid/us_nga_egm96_15.tif"), Place(lon, lat))
    assert found.value == pytest.approx(published, abs=WITHIN_M)


def test_interpolation_alone_moves_egm96_by_centimetres(open_file: OpenFile) -> None:
    """Two programs with one grid differ: nobody may be blamed for less than this."""
    grid = open_file("geoid/us_nga_egm96_15.tif")
    lats, lons, published = zip(*EGM96, strict=True)
    found = find_geoid_heights(grid, lons, lats)
    off = abs(found - published)
    assert off.max() == pytest.approx(0.056, abs=0.001)
    assert (off > 0.02).sum() == 3


def test_two_models_of_one_coast(open_file: OpenFile) -> None:
    """GEOID18 less GEOID12B at 18.33 N 66.46 W is what PROJ gives with both grids."""
    new, old = open_file("geoid/us_noaa_g2018p0.tif"), open_file("geoid/us_noaa_g2012bp0.tif")
    found = find_geoid_difference(new, old, Place(-66.46, 18.33))
    assert found.value == pytest.approx(-40.4574 + 40.4280, abs=2e-4)


def test_a_slope_is_the_rise_between_two_places(open_file: OpenFile) -> None:
    """The slope of GEOID18 over San Juan is what heights 500 m away differ by."""
    grid = open_file("geoid/us_noaa_g2018p0.tif")
    place = Place(-66.1057, 18.4655)
    north = 0.5 / 111.195
    above, below = find_geoid_heights(grid, [place.lon] * 2, [place.lat + north, place.lat - north])
    slope = find_geoid_slope(grid, place)
    assert slope.unit == "m/km"
    assert slope.north == pytest.approx(above - below, abs=1e-4)


def test_scale_and_convergence_at_san_francisco() -> None:
    """UTM zone 10N, by PROJ: k 0.9996322000, convergence +0.3556605291 with grid north east."""
    place, crs = Place(-122.4194, 37.7749), describe("EPSG:6339")
    assert find_scale_factor(crs, place).value == pytest.approx(0.9996322000, abs=1e-9)
    assert find_convergence(crs, place).value == pytest.approx(0.3556605291, abs=1e-8)


def test_scale_at_the_edge_of_a_zone_on_the_equator() -> None:
    """At three degrees from the meridian k is 1.00098106 (UTM, by PROJ)."""
    found = find_scale_factor(describe("EPSG:32631"), Place(0.0, 0.0))
    assert found.value == pytest.approx(1.00098106, abs=1e-8)


def test_elevation_and_combined_factor() -> None:
    """R / (R + h) with 6371 km at 1600 m is 0.99974893; the product with k is the combined one."""
    place, crs = Place(-104.9903, 39.7392, None, 1600.0), describe("EPSG:6342")
    elevation, scale = find_elevation_factor(place).value, find_scale_factor(crs, place).value
    assert elevation == pytest.approx(0.99974893, abs=5e-9)
    assert elevation is not None
    assert scale is not None
    assert find_combined_factor(crs, place).value == pytest.approx(elevation * scale)


@pytest.mark.parametrize(
    ("feet", "metres"),
    [
        (Fraction(2_000_000), 1.219202),
        (Fraction(3_000_000), 1.828804),
        (Fraction(2_000_000) / Fraction(1200, 3937), 4.000000),
        (Fraction(500_000) / Fraction(1200, 3937), 1.000000),
        (Fraction(1_000), 0.00061),
        (Fraction(10_000), 0.0061),
    ],
)
def test_reading_one_foot_as_the_other(feet: Fraction, metres: float) -> None:
    """Coordinates move by metres, heights by less than a centimetre."""
    assert float(compute_misread_foot(feet)) == pytest.approx(metres, rel=1e-5, abs=5e-6)


def test_coordinates_in_the_neighbour_zones() -> None:
    """38.596 N 80.400 W lies at easting 1 075 012 of zone 16 and 29 595 of zone 18, by PROJ.

    The place is rounded to a thousandth of a degree, so to tens of metres.
    """
    place = Place(-80.4, 38.596)
    assert place_in_zone(place, "16N").east_m == pytest.approx(1_075_012, abs=60)
    assert place_in_zone(place, "18N").east_m == pytest.approx(29_595, abs=60)


@pytest.mark.parametrize(
    ("day", "ahead"),
    [
        (date(1980, 1, 6), 0),
        (date(1999, 8, 22), 13),
        (date(2016, 12, 31), 17),
        (date(2017, 1, 1), 18),
        (date(2026, 11, 26), 18),
        (date(2027, 6, 27), 18),
    ],
)
def test_leap_seconds_of_a_day(day: date, ahead: int) -> None:
    """GPS time is ahead of UTC by the seconds inserted since 1980."""
    assert find_leap_seconds(day).value == ahead


@pytest.mark.parametrize("day", [date(1980, 1, 5), date(2027, 6, 28), date(2050, 1, 1)])
def test_nothing_is_said_beyond_the_table(day: date) -> None:
    """Before GPS time began and after the list expires there is a reason and no number."""
    assert find_leap_seconds(day).value is None
    assert find_time_shift(day, 5.0).value is None
    assert find_leap_seconds(day).reason


def test_eighteen_seconds_of_flight() -> None:
    """At 5 m/s the two time scales are 90 m apart along the line."""
    assert find_time_shift(date(2026, 5, 12), 5.0).value == 90.0
