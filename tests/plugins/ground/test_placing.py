"""Surveyed points are put into the system of the job exactly, or not at all.

Expected places come from pyproj itself, asked here for one named operation.
"""

from __future__ import annotations

import math
from decimal import Decimal

import pyproj
import pytest

from ledger.contract.evidence import Evidence
from ledger.crs import describe
from ledger.model.known import KnownBy, KnownValue
from ledger.model.surveypoints import PointTable
from ledger.specfile.reading import read_leniently
from ledger.testing import make_evidence, make_point, make_table
from lidar_checks.ground.placing import PlacedPoint, list_unproven, place_points

EAST, NORTH = 552_240.0, 4_272_160.0
LON, LAT = pyproj.Transformer.from_crs("EPSG:6346", "EPSG:6318", always_xy=True).transform(
    EAST, NORTH
)


def know(*tables: PointTable, horizontal: str = "EPSG:6346", more: str = "") -> Evidence:
    """Return evidence of a job in a horizontal system."""
    text = f'[coordinates]\nhorizontal = "{horizontal}"\nvertical = "orthometric"\n{more}'
    vertical = 'vertical_crs = "EPSG:5703"' in more
    return make_evidence(
        tables=tables,
        specification=read_leniently(text.encode(), "job.toml").specification,
        specified_crs=describe(horizontal),
        specified_vertical=describe("EPSG:5703") if vertical else None,
    )


def place(east: float, north: float, evidence: str = "EPSG:6346", **declared: str) -> PlacedPoint:
    """Return one point of a table as placed in a job."""
    table = make_table([make_point("P", east, north, 100.0, digits=9)], declared=declared)
    (placed,) = place_points(know(table, horizontal=evidence))
    return placed


def test_degrees_become_metres() -> None:
    """Longitude and latitude on the job's own datum: the projection alone."""
    placed = place(LON, LAT, horizontal="EPSG:6318")
    assert (placed.east_m, placed.north_m) == pytest.approx((EAST, NORTH), abs=1e-3)
    assert placed.fault == ""


def test_another_zone_is_reprojected() -> None:
    """Zone 18 of the same datum lies where pyproj puts it."""
    other = pyproj.Transformer.from_crs("EPSG:6346", "EPSG:6347", always_xy=True)
    placed = place(*other.transform(EAST, NORTH), horizontal="EPSG:6347")
    assert (placed.east_m, placed.north_m) == pytest.approx((EAST, NORTH), abs=1e-3)


def test_a_state_plane_in_survey_feet() -> None:
    """EPSG:6438 is in US survey feet, so metres come of the system's own unit."""
    wgs = pyproj.Transformer.from_crs("EPSG:6346", "EPSG:6438", always_xy=True)
    home = (500_000.0, 3_100_000.0)
    placed = place(*wgs.transform(*home), horizontal="EPSG:6438", unit_horizontal="us-survey-foot")
    assert (placed.east_m, placed.north_m) == pytest.approx(home, abs=1e-3)


def test_another_frame_by_its_operation() -> None:
    """ITRF2014 to NAD83(2011) is a known operation; two metres are not passed over."""
    way = pyproj.Transformer.from_crs("EPSG:7912", "EPSG:6319", always_xy=True)  # both 3D
    lon, lat, *_ = way.transform(LON, LAT, 0.0, 2026.4)
    flat = pyproj.Transformer.from_crs("EPSG:6318", "EPSG:6346", always_xy=True)
    placed = place(LON, LAT, horizontal="EPSG:9000", epoch="2026.4")  # ITRF2014, geographic 2D
    assert (placed.east_m, placed.north_m) == pytest.approx(flat.transform(lon, lat), abs=2e-3)
    assert 0.5 < math.hypot(placed.east_m - EAST, placed.north_m - NORTH) < 3.0


def test_without_an_epoch_a_moving_frame_is_not_used() -> None:
    """ITRF moves against NAD83 by two centimetres a year: without a year nothing is placed."""
    placed = place(LON, LAT, horizontal="EPSG:9000")
    assert not placed.is_placed
    assert "no epoch was given" in placed.fault


def test_wgs_84_is_no_frame_for_a_survey() -> None:
    """The ensemble is known to 2 m, and the registry's way from it moves nothing: it is refused."""
    placed = place(EAST, NORTH, horizontal="EPSG:32617")
    assert "not one frame but several" in placed.fault


def test_a_missing_grid_is_named_and_nothing_is_placed() -> None:
    """NAD27 needs a grid that is not here: no ballpark, but the name of what is missing."""
    placed = place(LON, LAT, horizontal="EPSG:4267")
    assert not placed.is_placed
    assert "cannot be put into the job's system" in placed.fault
    assert "grid" in placed.fault or "operation" in placed.fault


@pytest.mark.parametrize(
    ("declared", "told"),
    [
        ({"horizontal": ""}, "does not say in what coordinate system it is"),
        ({"horizontal": "EPSG:999999"}, "cannot be used"),
        ({"horizontal": "EPSG:5703"}, "neither projected nor geographic"),
        ({"vertical": ""}, "does not say what its heights are above"),
        ({"unit_vertical": ""}, "does not say the unit of its heights"),
        ({"vertical": "ellipsoidal"}, "are ellipsoidal, and the job asks for orthometric ones"),
        ({"vertical": "EPSG:6346"}, "has no heights"),
    ],
)
def test_what_is_not_declared_is_not_guessed(declared: dict[str, str], told: str) -> None:
    """No dz without system, kind and unit; the clause says which of them is missing."""
    assert told in place(EAST, NORTH, **declared).fault


def test_another_vertical_datum_is_told() -> None:
    """NGVD29 is not NAVD88, which is some decimetres to a metre."""
    table = make_table(
        [make_point("P", EAST, NORTH, 1.0)], declared={"vertical": "EPSG:5702", "unit_vertical": ""}
    )
    (placed,) = place_points(know(table, more='vertical_crs = "EPSG:5703"\n'))
    assert "National Geodetic Vertical Datum 1929" in placed.fault


def test_a_height_system_brings_its_unit() -> None:
    """EPSG:6360 is NAVD88 in US survey feet; the metres are exact."""
    table = make_table(
        [make_point("P", EAST, NORTH, 3937.0)],
        declared={"vertical": "EPSG:6360", "unit_vertical": ""},
    )
    (placed,) = place_points(know(table, more='vertical_crs = "EPSG:5703"\n'))
    assert (placed.height_m, placed.fault) == (1200.0, "")


def test_heights_may_stand_beside_the_plan() -> None:
    """A compound system says both at once."""
    table = make_table(
        [make_point("P", EAST, NORTH, 3937.0)],
        declared={"horizontal": "EPSG:6346+6360", "vertical": "", "unit_vertical": ""},
    )
    (placed,) = place_points(know(table, more='vertical_crs = "EPSG:5703"\n'))
    assert (placed.height_m, placed.fault) == (1200.0, "")


def test_ellipsoidal_heights_keep_to_their_datum() -> None:
    """Between two datums ellipsoidal heights differ by a metre: not converted here, and said."""
    table = make_table(
        [make_point("P", LON, LAT, 1.0, digits=9)],
        declared={"vertical": "ellipsoidal", "horizontal": "EPSG:4326"},
    )
    evidence = make_evidence(
        tables=(table,),
        specification=read_leniently(
            b'[coordinates]\nvertical = "ellipsoidal"\n', "job.toml"
        ).specification,
        specified_crs=describe("EPSG:6346"),
    )
    (placed,) = place_points(evidence)
    assert placed.fault


def test_a_job_without_a_system_places_nothing() -> None:
    """The blank of job.toml is named, not the table."""
    (placed,) = place_points(make_evidence(tables=(make_table([make_point("P", 1, 2, 3)]),)))
    assert placed.fault == "coordinates.horizontal is blank in job.toml"


def test_a_point_without_height_is_placed_and_not_used() -> None:
    """It still has a place: who asks where points lie may use it."""
    (placed,) = place_points(know(make_table([make_point("P", EAST, NORTH, None)])))
    assert placed.is_placed
    assert placed.fault == "the table gives no height for it"


def test_metres_keep_every_digit() -> None:
    """Coordinates in metres pass through unaltered."""
    placed = place(552_240.123456789, NORTH)
    assert Decimal(repr(placed.east_m)) == Decimal("552240.123456789")


def test_what_proves_nothing_is_listed() -> None:
    """Assumed and carried, unconfirmed declarations are told by name."""
    assumed = KnownValue("orthometric", known_by=KnownBy.ASSUMED)
    carried = KnownValue("metre", known_by=KnownBy.CARRIED, confirmed=False)
    table = make_table([], declared={"vertical": assumed, "unit_vertical": carried})
    assert list_unproven(table) == ("vertical", "unit_vertical")
