"""Worked examples of map projections, scale factors and UTM zones.

Sources, each beside its values: EPSG Guidance Note 7-2; IOGP GIGS tests 5101 and 5103 as
distributed with PROJ; the GDA technical manual of ICSM; the guide of the Ordnance Survey; USGS
Professional Paper 1395; a list of NGS among the tests of PROJ; the rules of UTM zones of NGA.
Known: read (GIGS, NGS), read in a copy (Guidance Note, GDA manual, Ordnance Survey, zones of
Norway), recomputed (Jamaica, Professional Paper), computed with PROJ (the convergence at 40 N
98 W), from memory (zones of Svalbard: they decide no finding).
"""

from __future__ import annotations

import pytest

from ledger.crs import (
    compute_convergence,
    compute_scale_factor,
    describe,
    find_utm_zone,
    to_lonlat,
    transform,
)
from ledger.errors import CrsError


def to_degrees(degrees: int, minutes: int, seconds: float) -> float:
    """Return sexagesimal degrees as decimal ones; the sign stands on the degrees."""
    size = abs(degrees) + minutes / 60 + seconds / 3600
    return -size if degrees < 0 else size


US_FOOT_M = 1200 / 3937
# System, its own geographic system, longitude, latitude, easting, northing, tolerance in its unit.
WORKED = (
    # GIGS 5101 part 2, WGS 84 / UTM zone 31N; tolerance as published, 0.03 m.
    ("EPSG:32631", "EPSG:4326", -2.0, 80.0, 403186.945, 8885748.708, 0.03),
    ("EPSG:32631", "EPSG:4326", -2.0, 60.0, 221288.770, 6661953.041, 0.03),
    ("EPSG:32631", "EPSG:4326", -2.0, 40.0, 73106.698, 4439746.917, 0.03),
    ("EPSG:32631", "EPSG:4326", -2.0, 0.0, -57087.120, 0.0, 0.03),
    # GIGS 5101 part 3, GDA94 / MGA zone 54.
    ("EPSG:28354", "EPSG:4283", 146.0, 40.0, 926893.302, 14439746.92, 0.03),
    ("EPSG:28354", "EPSG:4283", 146.0, 0.0, 1057087.12, 10000000.0, 0.03),
    # GIGS 5103 part 2, NAD83(HARN) / Utah North in international feet.
    ("EPSG:2921", "EPSG:4152", -110.0, 45.0, 2029255.57, 4985920.56, 0.1),
    ("EPSG:2921", "EPSG:4152", -110.0, 41.0, 2054436.57, 3527302.73, 0.1),
    ("EPSG:32631", "EPSG:4326", -2.0, 20.0, -23538.687, 2219308.238, 0.03),
    ("EPSG:28354", "EPSG:4283", 146.0, 20.0, 1023538.687, 12219308.24, 0.03),
    # EPSG Guidance Note 7-2, transverse Mercator, OSGB; with k0 rounded there to 0.9996013.
    ("EPSG:27700", "EPSG:4277", 0.5, 50.5, 577274.99, 69740.50, 0.02),
    # Ordnance Survey, guide to coordinate systems in Great Britain, annex C.
    (
        "EPSG:27700",
        "EPSG:4277",
        to_degrees(1, 43, 4.5177),
        to_degrees(52, 39, 27.2531),
        651409.903,
        313177.270,
        0.001,
    ),
    # EPSG Guidance Note 7-2, Lambert with one parallel, JAD69 / Jamaica.
    (
        "EPSG:24200",
        "EPSG:4242",
        to_degrees(-76, 56, 37.26),
        to_degrees(17, 55, 55.80),
        255966.58,
        142493.51,
        0.01,
    ),
    # USGS Professional Paper 1395, transverse Mercator on Clarke 1866: x from the meridian.
    ("EPSG:26718", "EPSG:4267", -73.5, 40.5, 500000.0 + 127106.5, 4484124.4, 0.1),
    # State plane of Alaska, zone 1, oblique: a list made with a program of NGS, US survey feet.
    (
        "EPSG:26931",
        "EPSG:4269",
        -134.0,
        55.0,
        2616018.154 * US_FOOT_M,
        1156379.643 * US_FOOT_M,
        0.001,
    ),
    (
        "EPSG:26931",
        "EPSG:4269",
        to_degrees(-133, 40, 0.0),
        57.0,
        2685941.919 * US_FOOT_M,
        1886799.668 * US_FOOT_M,
        0.001,
    ),
    # EPSG Guidance Note 7-2, Lambert with two parallels, NAD27 / Texas South Central.
    ("EPSG:32040", "EPSG:4267", -96.0, 28.5, 2963503.91, 254759.80, 0.01),
    # GDA technical manual, Flinders Peak, MGA zone 55; Buninyong, zone 54.
    (
        "EPSG:28355",
        "EPSG:4283",
        to_degrees(144, 25, 29.52440),
        to_degrees(-37, 57, 3.72030),
        273741.297,
        5796489.777,
        0.001,
    ),
    (
        "EPSG:28354",
        "EPSG:4283",
        to_degrees(143, 55, 35.38390),
        to_degrees(-37, 39, 10.15610),
        758173.797,
        5828674.340,
        0.001,
    ),
)


@pytest.mark.parametrize("case", WORKED, ids=lambda case: f"{case[0]} {case[3]:.4f}")
def test_published_places_are_met_in_both_directions(
    case: tuple[str, str, float, float, float, float, float],
) -> None:
    """Longitude and latitude give the published easting and northing, and come back from them."""
    code, geographic, lon, lat, easting, northing, tolerance = case
    crs = describe(code)
    x, y, _ = transform(describe(geographic), crs, [lon], [lat])
    assert (x[0], y[0]) == pytest.approx((easting, northing), abs=tolerance)
    back = to_lonlat(crs, easting, northing)
    assert back == pytest.approx((lon, lat), abs=tolerance * 2e-5)


def test_published_scale_factor_and_convergence() -> None:
    """Flinders Peak, GDA technical manual: k 1.00023056, convergence -1 35 03.65.

    The manual adds its convergence to an azimuth to get a grid bearing, which is the other sign.
    """
    crs = describe("EPSG:28355")
    lon, lat = to_degrees(144, 25, 29.52440), to_degrees(-37, 57, 3.72030)
    assert compute_scale_factor(crs, lon, lat) == pytest.approx(1.00023056, abs=5e-9)
    assert -compute_convergence(crs, lon, lat) == pytest.approx(
        to_degrees(-1, 35, 3.65), abs=0.005 / 3600
    )


def test_scale_on_the_central_meridian() -> None:
    """On its central meridian UTM has k = 0.9996 and no convergence (EPSG method 9807)."""
    crs = describe("EPSG:6346")
    assert compute_scale_factor(crs, -81.0, 40.0) == pytest.approx(0.9996, abs=1e-10)
    assert compute_convergence(crs, -81.0, 40.0) == pytest.approx(0.0, abs=1e-10)


def test_grid_north_lies_east_of_true_north_east_of_the_meridian() -> None:
    """North of the equator and east of the meridian, convergence is positive."""
    assert compute_convergence(describe("EPSG:32614"), -98.0, 40.0) == pytest.approx(
        0.6428263681, abs=1e-9
    )


@pytest.mark.parametrize(
    ("lat", "lon", "zone"),
    [
        (37.7749, -122.4194, "10N"),
        (-33.8688, 151.2093, "56S"),
        (40.0, -102.0, "14N"),
        (40.0, -102.0001, "13N"),
        (0.0, 180.0, "1N"),
        (0.0, 179.999, "60N"),
        (0.0, -180.0, "1N"),
        (55.99, 5.0, "31N"),
        (-0.0001, 3.0, "31S"),
        (84.0, -180.0, "1N"),
        (-80.0, 0.0, "31S"),
    ],
)
def test_zones_are_six_degrees_wide(lat: float, lon: float, zone: str) -> None:
    """Zone n spans six degrees from 180 W on; 180 E is 180 W."""
    assert find_utm_zone(lon, lat) == zone


@pytest.mark.parametrize(
    ("lat", "lon", "zone"),
    [
        (60.0, 5.0, 32),
        (60.0, 2.99, 31),
        (63.999, 3.0, 32),
        (64.0, 5.0, 31),
        (60.0, 12.0, 33),
        (71.99, 10.0, 32),
        (75.0, 8.999, 31),
        (75.0, 9.0, 33),
        (75.0, 20.999, 33),
        (75.0, 21.0, 35),
        (75.0, 33.0, 37),
        (75.0, 42.0, 38),
    ],
)
def test_zones_are_widened_over_norway_and_svalbard(lat: float, lon: float, zone: int) -> None:
    """Zone 32 is widened at 56 to 64 N; at 72 to 84 N zones 32, 34 and 36 do not exist."""
    assert find_utm_zone(lon, lat) == f"{zone}N"


@pytest.mark.parametrize(("lat", "lon"), [(84.1, 0.0), (-80.1, 0.0), (float("nan"), 0.0)])
def test_there_is_no_zone_beyond_utm(lat: float, lon: float) -> None:
    """UTM ends at 84 N and 80 S."""
    with pytest.raises(CrsError, match="no UTM zone"):
        find_utm_zone(lon, lat)
