"""Where the points would lie, against where their system may be used.

Places of real files were read with PROJ (see the facts beside the open data): a file in US survey
feet lies in Pennsylvania, one that is labelled in metres but holds feet in British Columbia instead
of Oregon, one in the wrong zone and one with swapped axes are the same ground in Ohio.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pyproj
import pytest
from made_headers import deliver
from made_logs import SOUTH, WEST, make_log

from ledger.crs import describe, from_lonlat
from ledger.model.fieldlogs import FieldLogs
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.georeferencing import Area, Crs, CrsKind
from ledger.model.specification import Coordinates, Specification
from ledger.testing.driver import drive_check, make_evidence, prepare_check
from lidar_checks.header.box import Box
from lidar_checks.header.crs_position import CrsPosition
from lidar_checks.header.position import Places

# Pairs of longitude and latitude are computed with PROJ; 10.0 E is no. 32's, 5.0 E no. 31's.
BERGEN_IN_32 = {"minimum": (276_900.0, 6_658_100.0, 0.0), "maximum": (277_000.0, 6_658_200.0, 9.0)}


def judge(file, asked="", criteria=None, carried=()):
    """Return the one finding about a file."""
    coordinates = Coordinates(horizontal=asked or None)
    evidence = make_evidence(
        file,
        specification=Specification(coordinates=coordinates, carried=carried),
        specified_crs=describe(asked) if asked else None,
    )
    (finding,) = drive_check(CrsPosition(), evidence, criteria=criteria)
    return finding


def place(west, south, size=80.0):
    """Return the box of a header with this corner."""
    return {"minimum": (west, south, 210.0), "maximum": (west + size, south + size, 230.0)}


def test_a_site_inside_conforms_and_says_where(delivered):
    """A site in its zone conforms, with its longitude and latitude."""
    finding = judge(delivered())
    assert finding.outcome is Outcome.CONFORMS
    lon, lat = finding.where.lonlat
    assert (lon, lat) == pytest.approx((-80.40, 38.60), abs=0.01)


def test_the_points_count_before_the_header(delivered):
    """Where points were read their box is judged, not the one of the header."""
    swapped = {"minimum": (4_272_000.0, 552_000.0, 0.0), "maximum": (4_272_080.0, 552_080.0, 1.0)}
    assert judge(delivered(reading=swapped)).grade is Grade.MAJOR
    assert judge(delivered(reading=swapped | {"fault": "x"})).outcome is Outcome.CONFORMS


def test_swapped_axes_are_named(delivered):
    """Northing first in a UTM zone lies nowhere near it, and inside when swapped back."""
    header = place(4_272_000.0, 552_000.0)
    finding = judge(delivered(header=header))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-07",))
    assert "with X and Y swapped it lies inside, at 38.5" in finding.sentence


def test_a_neighbouring_zone_is_major_unless_the_job_asks_for_it(real):
    """`test_utm16.las` lies at 83.4° W, 0.6° outside zone 16; asked for, that is legal."""
    file = real("las/test_utm16.las")
    finding = judge(file)
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-01",))
    assert "That place is in zone 17N" in finding.sentence
    assert finding.where.lonlat == pytest.approx((-83.43, 39.01), abs=0.01)
    asked = judge(file, "EPSG:26916")
    assert asked.outcome is Outcome.CONFORMS
    scale = pyproj.Proj("EPSG:26916").get_factors(*asked.where.lonlat).meridional_scale
    assert f"the map scale there is {scale:.6f}" in asked.sentence
    assert judge(file, "EPSG:26917").grade is Grade.MAJOR


def test_a_carried_zone_does_not_excuse(real):
    """A zone that was only taken over from the last job leaves it inconclusive."""
    finding = judge(real("las/test_utm16.las"), "EPSG:26916", carried=("coordinates.horizontal",))
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_a_zone_far_away_is_never_excused(delivered):
    """A site two zones off is major, even where the job asks for that zone."""
    header = place(552_000.0 - 1_100_000.0, 4_272_000.0)
    assert judge(delivered(header=header), "EPSG:6346").grade is Grade.MAJOR


def test_the_zone_of_another_label_is_named(delivered):
    """Coordinates that fit the job's system under another label: only the label looks wrong."""
    # 1 500 000 ft in the State Plane zone North Carolina (ftUS) is no place of UTM 17N.
    finding = judge(delivered(crs=describe("EPSG:2264")), "EPSG:6346")
    assert finding.grade is Grade.MAJOR
    assert "Read in NAD83(2011) / UTM zone 17N it lies inside" in finding.sentence


def test_feet_under_a_label_in_metres_are_named(real):
    """`1.2-with-color.copc.laz` declares metres, holds feet, and lands in British Columbia."""
    finding = judge(real("las/1.2-with-color.copc.laz"))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("UN-01",))
    assert finding.where.lonlat == pytest.approx((-117.245, 49.361), abs=0.01)
    assert "Read as feet instead of metres it lies inside, at 44.05" in finding.sentence


def test_a_file_in_feet_lies_in_pennsylvania(real):
    """`point-version-1-point-wise.laz` conforms: its unit key puts it at 41.157 N, 75.879 W."""
    finding = judge(real("las/point-version-1-point-wise.laz"))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.where.lonlat == pytest.approx((-75.879, 41.157), abs=0.01)


@pytest.mark.parametrize(
    ("name", "lonlat"),
    [
        ("las/autzen-bmx-2023.las", (-123.066, 44.054)),
        ("las/append-bug.laz", (2.98, 43.44)),
        ("las/wontcompress3.las", (-66.461, 18.332)),
    ],
)
def test_real_files_lie_where_they_are_known_to_lie(real, name, lonlat):
    """Files with a right label conform at their known place."""
    finding = judge(real(name))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.where.lonlat == pytest.approx(lonlat, abs=0.01)


def test_latitude_first_is_found(real):
    """`test_epsg_4326_axis.las` has X = 39.01, Y = -83.43: Antarctica, or Ohio when swapped."""
    finding = judge(real("las/test_epsg_4326_axis.las"))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-07",))
    assert "39.013° N, 83.428° W" in finding.sentence
    assert "(WGS 84 is geographic: X and Y are read as degrees, not as metres)" in finding.sentence
    assert "UTM" not in finding.sentence
    asked = judge(real("las/test_epsg_4326_axis.las"), "EPSG:6346")
    assert (asked.grade, asked.catalogue) == (Grade.MAJOR, ("CR-07",))


def test_a_latitude_beyond_the_pole_is_impossible(delivered):
    """Y = 120 degrees is no latitude; swapped it is a longitude."""
    header = place(40.0, 120.0, 0.1)
    finding = judge(delivered(header=header, crs=describe("EPSG:4326")))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-07",))
    assert "impossible" in finding.sentence


def test_metres_under_a_geographic_label_are_told_as_degrees(delivered):
    """Eastings and northings in EPSG:4326 are nowhere on Earth; the unit says why."""
    finding = judge(delivered(header=place(552_000.0, 4_272_000.0), crs=describe("EPSG:4326")))
    assert finding.grade is Grade.MAJOR
    assert "read as degrees, not as metres" in finding.sentence


def test_a_system_that_is_valid_everywhere_is_inconclusive(real):
    """In WGS 84 every place is allowed: the position proves nothing, unless the job's area does."""
    finding = judge(real("las/epsg_4326.las"))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "valid all over the Earth" in finding.sentence


def test_an_unknown_area_of_use_is_inconclusive(delivered, utm17):
    """A hand-written system without an area of use is neither a pass nor a fail."""
    unknown = replace(describe("EPSG:2264"), area=None, code="")
    header = place(1_500_000.0, 500_000.0)
    finding = judge(delivered(header=header, crs=unknown))
    assert finding.outcome is Outcome.INCONCLUSIVE
    zone = judge(delivered(crs=replace(utm17, area=None)))
    assert zone.outcome is Outcome.CONFORMS  # a UTM zone has its 6 degrees by definition


def test_the_area_of_the_job_stands_in_for_an_unknown_one(delivered):
    """Where the file's system has no area, its points must lie in the area of the job's."""
    unknown = replace(describe("EPSG:2264"), area=None, code="")
    header = place(1_500_000.0, 500_000.0)  # 80.8° W in North Carolina, inside zone 17
    assert judge(delivered(header=header, crs=unknown), "EPSG:6346").outcome is Outcome.CONFORMS
    carried = judge(
        delivered(header=header, crs=unknown), "EPSG:6346", carried=("coordinates.horizontal",)
    )
    assert carried.outcome is Outcome.INCONCLUSIVE
    assert judge(delivered(header=header, crs=unknown), "EPSG:6339").grade is Grade.MAJOR


def test_degrees_under_a_projection_are_major(delivered):
    """A box inside ±180 and ±90 in a UTM zone is degrees."""
    finding = judge(delivered(header=place(-80.41, 38.59, 0.01)))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-10",))
    assert "look like degrees" in finding.sentence


def test_a_small_local_grid_is_not_taken_for_degrees(delivered):
    """A hand-written grid with its origin on site and no area of use looks like degrees too."""
    grid = Crs(
        name="site grid",
        kind=CrsKind.PROJECTED,
        metres_per_unit=1.0,
        parameters=(("False easting", 0.0), ("False northing", 0.0)),
        wkt=describe("EPSG:6346").wkt,
    )
    assert judge(delivered(header=place(0.0, 0.0, 80.0), crs=grid)).outcome is (
        Outcome.INCONCLUSIVE
    )


def test_web_map_metres_are_major_unless_asked_for(delivered):
    """EPSG:3857 stretches by 1/cos(latitude), on the sphere (EPSG Guidance Note 7-2)."""
    header = place(-8_950_000.0, 4_665_000.0)
    finding = judge(delivered(header=header, crs=describe("EPSG:3857")))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-10",))
    latitude = pyproj.Transformer.from_crs(3857, 4326).transform(-8_949_960.0, 4_665_040.0)[0]
    stretch = 1 / math.cos(math.radians(latitude))
    assert f"stretched {stretch:.3f} × here" in finding.sentence
    asked = judge(delivered(header=header, crs=describe("EPSG:3857")), "EPSG:3857")
    assert asked.grade is Grade.MINOR


def test_a_southern_site_in_a_northern_zone_is_named(delivered):
    """Northings above 9 340 000 m are no place of a northern zone, but one south of the equator."""
    header = place(334_368.0, 6_250_948.0)  # 33.87° S, 151.21° E
    assert judge(delivered(header=header, crs=describe("EPSG:32756"))).outcome is (Outcome.CONFORMS)
    far = place(334_368.0, 9_900_000.0)  # 0.9° S
    finding = judge(delivered(header=far, crs=describe("EPSG:32656")))
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-13",))
    assert "Read as a zone of the southern hemisphere it lies inside, at 0.90" in finding.sentence


def test_uneven_zones_never_decide(delivered):
    """Bergen at 5° E is in zone 32 by a rule from memory: inconclusive, unless the job says so."""
    file = delivered(header=BERGEN_IN_32, crs=describe("EPSG:32632"))
    finding = judge(file)
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "zones are not 6° wide" in finding.sentence
    assert judge(file, "EPSG:32632").outcome is Outcome.CONFORMS


def test_a_stray_corner_is_minor(delivered):
    """A box that a stray point stretches out of the area is told apart from a wrong label."""
    header = {
        "minimum": (-200_000.0, 100_000.0, 0.0),
        "maximum": (3_300_000.0, 1_000_000.0, 9.0),
    }
    finding = judge(delivered(header=header, crs=describe("EPSG:2264")))
    assert finding.grade is Grade.MINOR
    assert "a stray point" in finding.sentence


def test_the_margin_is_a_criterion(real):
    """The job may take areas of use less strictly."""
    file = real("las/test_utm16.las")
    assert judge(file, criteria={"area_margin_deg": 1.0}).outcome is Outcome.CONFORMS


def test_local_and_missing_systems_have_no_place(delivered):
    """A local system is inconclusive, none at all and no points are not assessed."""
    local = delivered(crs=Crs(name="site grid", kind=CrsKind.ENGINEERING))
    assert judge(local).outcome is Outcome.INCONCLUSIVE
    assert judge(delivered(crs=None)).needs == ("header CRS",)
    empty = {"point_count": 0, "by_return": (0,) * 15}
    assert judge(delivered(header=empty)).needs == ("points",)


@pytest.mark.parametrize(
    ("area", "lon", "expected"),
    [
        (Area(-84, 0, -78, 84), -80.4, 0),
        (Area(-84, 0, -78, 84), -84.5, 0.5),
        (Area(174, -50, -174, 0), 179.5, 0),
        (Area(174, -50, -174, 0), -179.5, 0),
        (Area(174, -50, -174, 0), 173.0, 1.0),
        (Area(-180, -90, 180, 90), 12.0, 0),
    ],
)
def test_distances_are_right_across_the_antimeridian(area, lon, expected):
    """An area whose west lies east of its east crosses 180°."""
    assert area.measure_outside(lon, -10.0 if area.south < 0 else 10.0) == (pytest.approx(expected))


def flown(crs, lonlat, label, corner, **parts):
    """Return the finding about a file at a corner, labelled, of a log flown at a place."""
    asked = describe(crs)
    east, north = from_lonlat(asked, *lonlat)
    log = make_log(shift=(east - WEST, north - SOUTH), **parts)
    box = {"minimum": (*corner, 0.0), "maximum": (corner[0] + 80, corner[1] + 80, 9.0)}
    evidence = make_evidence(
        deliver(describe(label), header=box), specified_crs=asked, logs=FieldLogs(tracks=(log,))
    )
    (finding,) = drive_check(CrsPosition(), evidence)
    return finding


def test_a_southern_site_under_a_northern_label_is_found_by_its_flight():
    """33.9 S labelled 56N lies inside zone 56N, at 56 N; the position log says otherwise."""
    sydney = (151.2, -33.9)
    corner = from_lonlat(describe("EPSG:32756"), *sydney)
    finding = flown("EPSG:32656", sydney, "EPSG:32656", corner)
    assert (finding.grade, finding.catalogue) == (Grade.MAJOR, ("CR-13",))
    assert "zone 56S, the header says 56N" in finding.sentence
    assert flown("EPSG:32756", sydney, "EPSG:32756", corner).outcome is Outcome.CONFORMS


def test_tiles_far_from_their_flight_share_no_pass():
    """Of two tiles inside the area of their label, each is held against the flight."""
    asked, sydney = describe("EPSG:32656"), (151.2, -33.9)
    x, y = from_lonlat(describe("EPSG:32756"), *sydney)
    east, north = from_lonlat(asked, *sydney)
    box = {"minimum": (x, y, 0.0), "maximum": (x + 80, y + 80, 9.0)}
    files = [replace(deliver(asked, header=box), path=name) for name in ("a.laz", "b.laz")]
    log = make_log(shift=(east - WEST, north - SOUTH))
    evidence = make_evidence(*files, specified_crs=asked, logs=FieldLogs(tracks=(log,)))
    found = drive_check(CrsPosition(), evidence)
    assert [finding.grade for finding in found] == [Grade.MAJOR, Grade.MAJOR]


def test_what_no_receiver_stated_contradicts_no_label():
    """A trajectory in eastings repeats the label; a log without a place says nothing."""
    sydney = (151.2, -33.9)
    corner = from_lonlat(describe("EPSG:32756"), *sydney)
    for parts in ({"kind": "table"}, {"place": "local"}, {"series": None}):
        finding = flown("EPSG:32656", sydney, "EPSG:32656", corner, **parts)
        assert finding.outcome is Outcome.CONFORMS


def test_a_southern_zone_north_of_the_equator_is_let_pass():
    """Countries on the equator use one zone for both halves: the place decides, not the letter."""
    crs, place_ = "EPSG:32736", (32.6, 0.05)
    corner = from_lonlat(describe(crs), *place_)
    assert flown(crs, place_, crs, corner).outcome is Outcome.CONFORMS


def test_files_inside_share_an_answer_and_others_are_told_alone(delivered):
    """Of four tiles of one system two lie inside; one in another zone, one with a stray corner."""
    files = [
        delivered(path="a.laz", header=place(552_000.0, 4_272_000.0)),
        delivered(path="b.laz", header=place(552_080.0, 4_272_000.0)),
        delivered(path="far.laz", header=place(5_552_000.0, 4_272_000.0)),
        delivered(path="stray.laz", header=place(552_000.0, 4_272_000.0, size=1_500_000.0)),
    ]
    plan = prepare_check(CrsPosition(), evidence := make_evidence(*files))
    shared, *alone = sorted(
        CrsPosition().finish(plan, {}, evidence), key=lambda told: isinstance(told, Finding)
    )
    assert shared.files == ("a.laz", "b.laz")
    assert [told.subject for told in alone] == ["far.laz", "stray.laz"]
    for told in (*shared.spread(), *alone):
        (file,) = (file for file in files if file.path == told.subject)
        assert told.outcome is judge(file).outcome


@pytest.mark.parametrize("area", [Area(-84, 0, -78, 84), Area(174, -50, -174, 0)])
def test_boxes_that_lie_in_an_area_are_nowhere_outside(utm17, area):
    """Where all boxes are looked at once, each corner is where measuring it alone says so."""
    starts = [(x, y) for x in range(100_000, 900_000, 40_000) for y in (1_000, 9_000_000)]
    places = Places(utm17, [Box((x, y, 0.0), (x + 50_000.0, y + 500.0, 1.0)) for x, y in starts])
    inside = places.lie_in(area)
    found = [places.get(index) for index in range(len(starts))]
    outside = [max(area.measure_outside(*c) for c in (*p.corners, p.centre)) for p in found]
    crosses = area.west > area.east
    assert inside == [far == 0 and not crosses for far in outside]
    assert any(inside) != crosses


@pytest.mark.parametrize(("degrees", "outcome"), [(0.43, "conforms"), (0.47, "nonconforming")])
def test_a_flight_in_feet_is_laid_out_in_metres(degrees, outcome):
    """Florida in US survey feet: 48 km from the flight is let pass, 52 km is told."""
    feet, site = describe("EPSG:6438"), (-81.4, 28.5)
    east, north = (each * 1200 / 3937 for each in from_lonlat(feet, *site))
    log = make_log(shift=(east - WEST, north - SOUTH))
    corner = from_lonlat(feet, site[0], site[1] + degrees)
    box = {"minimum": (*corner, 0.0), "maximum": (corner[0] + 80, corner[1] + 80, 9.0)}
    file = deliver(feet, header=box)
    (finding,) = drive_check(
        CrsPosition(), make_evidence(file, specified_crs=feet, logs=FieldLogs(tracks=(log,)))
    )
    assert finding.outcome == outcome
