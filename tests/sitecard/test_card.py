"""The card of the made-up site, whose geoids are planes that are known, and of places elsewhere.

Numbers of the made-up site: its geoids as they were invented; the others follow by the formulas
beside them, or are held against publications in `tests/published`.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from job_bench import JobBench
from made_geoid import write_geoid

from ledger.demo.geoids import write_geoids
from ledger.errors import CrsError, UsageError
from ledger.sitecard import Line, SiteCard, SiteWish, make_site_card
from ledger.testing import SurveyBuilder

MIDDLE = "552240, 4272160"
DAY = date(2026, 5, 26)


@pytest.fixture(scope="module")
def geoids(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the two made-up geoids."""
    folder = tmp_path_factory.mktemp("site") / "geoid"
    write_geoids(folder)
    return folder


@pytest.fixture(scope="module")
def card(geoids: Path) -> SiteCard:
    """Return the card of the middle of the made-up site, with both geoids."""
    grids = (geoids / "demo-geoid-A.tif", geoids / "demo-geoid-B.tif")
    wish = SiteWish(DAY, at=MIDDLE, crs="EPSG:6346", height_m=182.0, grids=grids)
    return make_site_card(None, wish)


def make(at: str, **wished: object) -> SiteCard:
    """Return the card of a place outside a job."""
    return make_site_card(None, SiteWish(DAY, at=at, **wished))  # type: ignore[arg-type]


def find(card: SiteCard, topic: str) -> Line:
    """Return the first line of a cause."""
    return next(line for line in card.lines if line.topic == topic)


def read(card: SiteCard, topic: str) -> tuple[float, ...]:
    """Return the numbers of the first line of a cause."""
    return tuple(part.value for part in find(card, topic).parts)


def test_heights_move_by_the_geoid_height(card: SiteCard) -> None:
    """N is -31.912 m in the middle: h = H + N, so +N, -N and 2N."""
    assert read(card, "ellipsoidal-heights") == pytest.approx((-31.912,), abs=5e-4)
    assert read(card, "geoid-twice") == pytest.approx((31.912,), abs=5e-4)
    assert read(card, "geoid-reversed") == pytest.approx((-63.824,), abs=1e-3)


def test_the_other_geoid_is_told_by_its_difference(card: SiteCard) -> None:
    """The second grid lies 0.382 m above the first, so heights by it lie as much too low."""
    assert read(card, "other-geoid") == pytest.approx((-0.382,), abs=5e-4)
    assert "demo-geoid-B.tif was used in place of demo-geoid-A.tif" in find(card, "other-geoid").why


def test_one_geoid_height_tilts_the_site(card: SiteCard) -> None:
    """The first geoid rises 0.020 m a km eastward and falls 0.011 m a km northward.

    True east lies 0.374 degrees off the grid's, which changes a slope by less than 0.1 mm a km.
    """
    assert read(card, "single-geoid-height") == pytest.approx((0.020, -0.011), abs=3e-4)


def test_the_map_is_told(card: SiteCard) -> None:
    """Neighbour zones, convergence, feet and the combined factor, 1 - 395 ppm, of this place."""
    assert read(card, "neighbour-zone")[0] == pytest.approx(1_075_012, abs=1)
    assert read(card, "true-north") == pytest.approx((0.374,), abs=5e-4)
    assert read(card, "ground-for-grid") == pytest.approx((-395.0,), abs=0.1)
    assert read(card, "other-foot") == pytest.approx((552240 * 2e-6, 4272160 * 2e-6), rel=1e-5)


def test_eighteen_seconds_are_ninety_metres(card: SiteCard) -> None:
    """At 5 m/s, and 180 m at twice the speed."""
    assert read(card, "gps-for-utc") == (90.0,)
    assert read(make("-80.4,38.6", speed_m_per_s=10.0), "gps-for-utc") == (180.0,)


def test_the_frame_is_that_of_the_map(card: SiteCard) -> None:
    """ITRF2020 taken for NAD83(2011): (-0.77, +0.94, -1.26) m here in 2026."""
    assert card.frame == "NAD83(2011)"
    assert read(card, "frame-not-transformed") == pytest.approx((-0.77, 0.94, -1.26), abs=0.005)
    assert read(card, "geoid-of-another-frame") == pytest.approx((-1.26,), abs=0.005)


def test_worst_comes_first(card: SiteCard) -> None:
    """Lines stand in the order of how many metres they are, whatever they are of."""
    sizes = [line.size_m for line in card.lines]
    assert sizes == sorted(sizes, reverse=True)
    assert not find(card, "single-geoid-height").can_be_seen
    assert find(card, "ellipsoidal-heights").can_be_seen


def test_a_place_alone_is_enough() -> None:
    """Longitude and latitude give all but heights, by the zone of the place."""
    card = make("-80.4 38.6")
    assert card.system == "NAD83(2011) / UTM zone 17N"
    assert card.frame == "NAD83(2011)"
    assert {each.topic for each in card.missing} == {"geoid-height", "elevation-factor"}
    assert find(card, "ellipsoid-for-grid").parts[0].value == pytest.approx(-366.4, abs=1)


def test_south_of_the_equator_northings_have_an_offset() -> None:
    """A zone of the northern half lacks 10 000 km there; GDA94 for GDA2020 is seen, too."""
    card = make("133.9,-23.7")
    assert card.zone == "53S"
    assert card.frame == "GDA2020"
    assert read(card, "other-hemisphere") == (-10_000_000.0,)
    assert "GDA94 were taken for GDA2020" in find(card, "frame-not-transformed").why


@pytest.mark.parametrize(
    ("at", "zone", "neighbours"),
    [
        ("5,60", "32N", ("31N", "33N")),
        ("10,75", "33N", ("32N", "34N")),
        ("179.99,-17", "60S", ("59S", "1S")),
        ("-179.99,-17", "1S", ("60S", "2S")),
        ("180,-17", "1S", ("60S", "2S")),
    ],
)
def test_zones_where_they_are_uneven(at: str, zone: str, neighbours: tuple[str, str]) -> None:
    """Norway, Svalbard and the antimeridian have their own zones and neighbours."""
    card = make(at)
    assert card.zone == zone
    told = " ".join(line.why for line in card.lines if line.topic == "neighbour-zone")
    assert all(f"zone {each} was used in place of {zone}" in told for each in neighbours)


def test_the_edge_of_a_zone_is_told() -> None:
    """A site one kilometre from the next zone has to decide on one."""
    (note,) = make("179.99,-17").notes
    assert note.startswith("Zone 1S begins 1.1 km away")
    assert make("177,-17").notes == ()


def test_beyond_utm_the_map_is_missing() -> None:
    """At 85 N there is no zone; what holds there is told all the same."""
    card = make("10,85")
    assert card.zone == ""
    assert "map-grid" in {each.topic for each in card.missing}
    assert read(card, "gps-for-utc") == (90.0,)


@pytest.mark.parametrize("at", ["0,90", "0,-90", "10,95", "38.6,-120.4"])
def test_poles_and_swapped_numbers_are_refused(at: str) -> None:
    """At a pole east means nothing, and beyond it latitude and longitude were swapped."""
    with pytest.raises(UsageError, match="latitude"):
        make(at)


@pytest.mark.parametrize("at", ["1", "1,2,3", "x,y", "nan,1", "1,inf", "38,596,-80,4"])
def test_what_is_not_two_numbers_is_refused(at: str) -> None:
    """One number, three, words, and decimal commas are no place."""
    with pytest.raises(UsageError, match="two numbers"):
        make(at)


def test_easting_needs_its_system() -> None:
    """Map coordinates without a system could lie anywhere."""
    with pytest.raises(UsageError, match="in which system"):
        make(MIDDLE)


def test_a_place_far_from_the_map_has_no_map_numbers() -> None:
    """Far outside its area a projection gives nonsense, and the card says so in place of it."""
    card = make("178.9,-17", crs="EPSG:6346")
    assert card.east_m is None
    assert any("far outside the area of use" in each.reason for each in card.missing)
    assert not [line for line in card.lines if line.topic in ("true-north", "other-foot")]


def test_the_zone_beside_is_told() -> None:
    """A job in the neighbouring zone gets its numbers, and is told that they are of that one."""
    card = make("-77.5,38.6", crs="EPSG:6346")
    assert "The place lies in zone 18N; the numbers are for zone 17N." in card.notes
    assert find(card, "true-north").parts[0].value > 2


def test_plain_wgs_84_is_no_frame() -> None:
    """Of a map in plain WGS 84 nobody knows the frame; that of the place is told beside it."""
    card = make("-80.4,38.6", crs="EPSG:32617")
    assert card.frame == "NAD83(2011)"
    assert any("not one frame but several" in each.reason for each in card.missing)


def test_a_named_frame_counts() -> None:
    """What a person names is what the work has to be in; an unknown one is refused."""
    assert make("13.4,52.5", frame="ETRF2000").frame == "ETRF2000"
    with pytest.raises(CrsError, match="this frame is not known"):
        make("13.4,52.5", frame="nowhere")


def test_a_frame_whose_grid_is_absent_is_named() -> None:
    """In Norway ETRS89 needs grids that are not here: they are named, another frame is told."""
    card = make("10.7,59.9")
    assert card.frame == "ETRF2000"
    assert any("nkg" in each.reason.lower() for each in card.missing)


def test_a_place_without_a_frame_says_so() -> None:
    """Where no frame of a plate is known nothing is made up."""
    card = make("36.8,-1.3")
    assert card.frame == ""
    assert "frame-shift" in {each.topic for each in card.missing}
    assert not [line for line in card.lines if line.topic.startswith("frame")]


def test_beyond_the_table_of_leap_seconds() -> None:
    """A day after the list ends has no GPS less UTC, and the day of its end is told."""
    card = make_site_card(None, SiteWish(date(2031, 1, 1), at="-80.4,38.6"))
    assert any("until 2027-06-28" in each.reason for each in card.missing)
    assert "gps-utc" not in {fact.topic for fact in card.facts}


def test_a_grid_that_does_not_reach_the_site_is_named(geoids: Path) -> None:
    """It is missing by its name, without the folder that it lies in."""
    card = make("13.4,52.5", grids=(geoids / "demo-geoid-A.tif",))
    (missing,) = (each for each in card.missing if each.topic == "geoid-height")
    assert "demo-geoid-A.tif" in missing.reason
    assert str(geoids) not in missing.reason
    assert "geoid-height" not in {fact.topic for fact in card.facts}


def test_grids_of_the_same_bytes_are_one(geoids: Path) -> None:
    """A copy under another name is no second geoid."""
    copy = geoids / "copy.tif"
    copy.write_bytes((geoids / "demo-geoid-A.tif").read_bytes())
    grids = (geoids / "demo-geoid-A.tif", copy)
    card = make(MIDDLE, crs="EPSG:6346", grids=grids)
    assert [fact.topic for fact in card.facts].count("geoid-height") == 1


@pytest.mark.parametrize(
    ("wished", "told"),
    [
        ({"speed_m_per_s": 0.0}, "--speed"),
        ({"speed_m_per_s": float("nan")}, "--speed"),
        ({"height_m": 1e9}, "--height"),
        ({"height_m": float("inf")}, "--height"),
        ({"file": Path("a.laz")}, "exclude each other"),
        ({"crs": "EPSG:4326"}, "needs a map system"),
        ({"grids": (Path("nothere.tif"),)}, "no such geoid grid"),
    ],
)
def test_a_wish_without_sense_is_refused(wished: dict[str, object], told: str) -> None:
    """Speeds and heights that no drone has, two places, a system without a map, an absent grid."""
    with pytest.raises(UsageError, match=told):
        make("-80.4,38.6", **wished)


@pytest.mark.parametrize(
    ("at", "system"),
    [
        ("-80.4,38.596", "NAD83(2011) / UTM zone 17N"),  # EPSG:6346
        ("13.4,52.5", "ETRS89 / UTM zone 33N"),  # EPSG:25833
        ("144.9,-37.8", "GDA2020 / MGA zone 55"),  # EPSG:7855
        ("52.5,13.4", "WGS 84 / UTM zone 39N"),  # no frame of a plate or country is known there
    ],
)
def test_the_zone_is_that_of_the_frame(at: str, system: str) -> None:
    """Names of the EPSG registry: a map of another frame is up to metres off."""
    assert make(at).system == system


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("38.596,-80.4", "38.596° N, 80.400° W, where NAD83(2011) is used"),
        ("18.4,-66.1", "18.400° N, 66.100° W, where NAD83(2011) is used"),
        ("52.5,13.4", "52.500° N, 13.400° E, where ETRS89 is used"),
        ("-80.4,38.596", ""),
        ("13.4,52.5", ""),
        ("10.0,10.0", ""),
    ],
)
def test_latitude_first_is_questioned(at: str, told: str) -> None:
    """Where a frame in use reaches the place the other way round, and none does as typed."""
    notes = [note for note in make(at).notes if "Longitude comes first" in note]
    assert bool(notes) is bool(told)
    assert told in " ".join(notes)


def test_latitude_first_is_questioned_by_the_map_of_the_job() -> None:
    """Typed far outside the map that was asked for, and inside it the other way round."""
    (note,) = [n for n in make("38.596,-80.4", crs="EPSG:6346").notes if "Latitude first" in n]
    assert "where NAD83(2011) / UTM zone 17N is used" in note


def test_the_finest_registered_grid_counts_as_right(bench: JobBench, geoids: Path) -> None:
    """A coarse grid that comes first by name does not: of two the one with smaller steps does."""
    folder = bench.job / "geoid"
    folder.mkdir()
    fine = (geoids / "demo-geoid-B.tif").read_bytes()
    (folder / "z-fine.tif").write_bytes(fine)
    write_geoid(folder / "a-coarse.gtx", (-80.4, 38.596), -31.5)
    bench.ask("register", "geoid", "--as", "geoid")
    card = make_site_card(bench.job, SiteWish(DAY, at=MIDDLE, crs="EPSG:6346"))
    labels = [each.label for each in card.facts if each.topic == "geoid-height"]
    assert labels[0] == "geoid height of z-fine.tif (counts as right: the finest registered here)"
    assert "a-coarse.gtx was used in place of z-fine.tif" in find(card, "other-geoid").why


def test_a_job_without_a_boundary_lies_where_its_clouds_do(bench: JobBench) -> None:
    """The middle of what is registered, and said to be that; nothing else says where it is."""
    with pytest.raises(UsageError, match="names no boundary"):
        make_site_card(bench.job, SiteWish(DAY))
    SurveyBuilder(bench.job / "out")
    bench.ask("register", "out", "--as", "points")
    card = make_site_card(bench.job, SiteWish(DAY, crs="EPSG:6346"))
    assert "registered cloud" in card.known_from
    assert "no boundary is named" in card.known_from
