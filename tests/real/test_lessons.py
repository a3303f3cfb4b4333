"""What collections of real files teach, each as a made file that goes through the real commands.

The faults are those that real files have (the table of origins and the collection of open files
name some that do); the numbers beside them come from the standards and registries named there.
"""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pyproj
import pytest
from job_bench import JobBench
from open_data import OpenFile

from ledger.testing import Layout, Scene, SurveyBuilder
from ledger.testing.layout import GeoKeys

HERE = Path(__file__).parent
FOOT = 0.3048  # international foot, metres: definition of 1959
SURVEY_FOOT = 1200 / 3937  # US survey foot, metres: definition of 1893

ONE_TILE = Scene(columns=1)
PLAIN = Layout(compressed=False)
KEYED = Layout(compressed=False, version="1.2", point_format=1)

# Processor time. Believing a count of billions takes minutes, and most of the memory.
MUCH_LESS_THAN_BILLIONS_S = 5

Build = Callable[[SurveyBuilder], object]


def audit(
    bench: JobBench,
    build: Build,
    layout: Layout = PLAIN,
    scene: Scene = ONE_TILE,
    wishes: str = "",
) -> dict[str, Any]:
    """Return the JSON of an audit of a survey that `build` spoiled."""
    bench.write("job.toml", wishes.encode())
    build(SurveyBuilder(bench.job / "out", layout, scene))
    return bench.ask("audit", "out", status=None)


def tell(result: dict[str, Any], check: str) -> list[tuple[str, str | None, str]]:
    """Return outcome, grade and sentence of the findings of one check."""
    return [
        (finding["outcome"], finding["grade"], finding["sentence"])
        for finding in result["findings"]
        if finding["check"] == check
    ]


def tell_one(result: dict[str, Any], check: str) -> tuple[str, str | None, str]:
    """Return the only finding of a check."""
    (found,) = tell(result, check)
    return found


def read_mean(result: dict[str, Any]) -> float:
    """Return the mean density that the finding tells, points a square metre."""
    told = re.search(r"mean ([\d.]+)", tell_one(result, "point-density")[2])
    assert told is not None
    return float(told[1])


def conforms(result: dict[str, Any], check: str) -> bool:
    """Say whether a check found all in order."""
    return check in {row["check"] for row in result["conforming"]} and not tell(result, check)


def test_a_sound_survey_has_none_of_these_faults(bench: JobBench) -> None:
    """The survey that is spoiled below is sound, or the tests below would show nothing."""
    result = audit(bench, lambda _: None)
    assert result["verdict"] == "incomplete"
    for check in (
        "classification",
        "crs-position",
        "crs-present",
        "file-readable",
        "gps-time-kind",
        "header-counts",
        "header-extent",
        "return-numbers",
    ):
        assert conforms(result, check), check


def test_billions_of_records_are_answered_at_once(bench: JobBench) -> None:
    """Lesson 1: a count of records in the billions is held against the room before it is used."""
    begun = time.process_time()
    result = audit(bench, lambda survey: survey.huge_vlr_count(0))
    assert time.process_time() - begun < MUCH_LESS_THAN_BILLIONS_S
    outcome, grade, sentence = tell_one(result, "file-readable")
    assert (outcome, grade) == ("nonconforming", "major")
    assert "found 4294967280" in sentence


def test_billions_of_records_are_registered_at_once(bench: JobBench) -> None:
    """Lesson 1: registering such a file says what is wrong with it, at once."""
    SurveyBuilder(bench.job / "raw", PLAIN, ONE_TILE).huge_vlr_count(0)
    begun = time.process_time()
    (file,) = bench.ask("register", "raw")["files"]
    assert time.process_time() - begun < MUCH_LESS_THAN_BILLIONS_S
    assert "count of variable length records is impossible" in file["fault"]


@pytest.mark.parametrize("cut", ["cut_on_record", "cut_mid_record"])
def test_a_cut_file_lost_points(bench: JobBench, cut: str) -> None:
    """Lesson 2: cut on a record boundary or within one, the lost point is a major finding.

    laspy 2.7.0 reads the first without a word.
    """
    whole = SurveyBuilder(bench.base / "whole", PLAIN, ONE_TILE).count_points()
    result = audit(bench, lambda survey: getattr(survey, cut)(0))
    assert (result["verdict"], result["points"]) == ("do not send", whole - 1)
    _, grade, sentence = tell_one(result, "file-readable")
    assert grade == "major"
    assert f"{whole - 1:,} of {whole:,} points" in sentence


def test_a_decoder_that_panics_is_a_finding(
    bench: JobBench, capfd: pytest.CaptureFixture[str]
) -> None:
    """Lesson 3: a panic of the decoder, which is no Exception, ends in one finding and no noise."""
    with pytest.raises(BaseException) as panic:  # noqa: PT011 - that it is no Exception is the point
        laspy.read(HERE / "broken_coder.laz")
    assert not isinstance(panic.value, Exception)
    capfd.readouterr()
    bench.copy(HERE / "broken_coder.laz", "out/a.laz")
    bench.copy(HERE / "broken_type.laz", "out/b.laz")
    bench.copy(HERE / "srs_vertcs.las", "out/c.las")
    result = bench.ask("audit", "out", status=1)
    majors = {f["subject"] for f in result["findings"] if "FT-05" in f["catalogue"] and f["grade"]}
    assert majors == {"a.laz", "b.laz"}
    assert result["points"] == 10  # those of the sound file, which went on
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("seed", range(8))
def test_rubbish_in_compressed_points_never_breaks_an_audit(
    bench: JobBench, capfd: pytest.CaptureFixture[str], seed: int
) -> None:
    """Lesson 3: whatever a bad sector left in compressed points, the audit ends with a verdict."""

    def spoil(path: Path) -> None:
        content = bytearray(path.read_bytes())
        random = np.random.default_rng(seed)
        for place in random.integers(375, len(content), 40):
            content[place] = random.integers(256)
        path.write_bytes(content)

    result = audit(bench, lambda survey: survey.damage(0, spoil), Layout())
    assert result["verdict"] in ("do not send", "incomplete")
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    assert capfd.readouterr() == ("", "")


def test_an_indexed_file_without_its_tail_is_damaged(bench: JobBench) -> None:
    """Lesson 4: cut to 99 % a COPC file still gives all points; its index is gone, and that shows.

    laspy 2.7.0 reads all 1,065 points of it.
    """
    whole = (HERE / "1.2-with-color.copc.laz").read_bytes()
    bench.write("out/a.copc.laz", whole[: len(whole) * 99 // 100])
    result = bench.ask("audit", "out", status=1)
    assert result["points"] == 1065
    _, grade, sentence = tell_one(result, "file-readable")
    assert grade == "major"
    assert "damaged, though 1,065 points can be read" in sentence


def test_the_unit_key_counts(bench: JobBench) -> None:
    """Lesson 5: a metre code with a foot in key 3076 is read in feet, and the contradiction told.

    EPSG:26917 is in metres; 9003 is the US survey foot. Read as metres the tile would lie near the
    pole and have a tenth of its density.
    """
    keys: GeoKeys = {1024: 1, 1025: 1, 3072: 26917, 3076: 9003}
    wishes = "[criteria.point-density]\nmin_pts_per_m2 = 1e6\n"
    result = audit(
        bench,
        lambda survey: survey.stretch(0, 1 / SURVEY_FOOT).geo_keys(0, keys),
        KEYED,
        wishes=wishes,
    )
    assert conforms(result, "crs-position")
    assert (
        "EPSG:26917 is in metre, key 3076 says US survey foot" in tell_one(result, "crs-present")[2]
    )
    mean = read_mean(result)
    assert mean == pytest.approx(ONE_TILE.density * ONE_TILE.passes, rel=0.02)


def test_a_density_in_feet_is_one_in_metres(bench: JobBench, open_file: OpenFile) -> None:
    """Lesson 5: a real tile of 23,875 points on 200 × 200 ft has 6.42 points per square metre."""
    wishes = b'[criteria.point-density]\nmin_pts_per_m2 = 1e6\ncounted = "all"\n'
    bench.write("job.toml", wishes)
    bench.copy(open_file("las/4_6_crop.las"), "out/a.las")
    result = bench.ask("audit", "out", status=3)
    mean = read_mean(result)
    expected = 23_875 / (200 * SURVEY_FOOT) ** 2
    assert expected == pytest.approx(6.42, abs=0.01)
    assert mean == pytest.approx(expected, rel=0.03)  # the rim of the tile is left out


@pytest.mark.parametrize(
    ("layout", "spoil", "words"),
    [
        (PLAIN, lambda survey: survey.no_crs(0), "it states no coordinate system"),
        (PLAIN, lambda survey: survey.wkt_text(0, ""), "the WKT record is empty"),
        (PLAIN, lambda survey: survey.wkt_text(0, "PROJCS["), "cannot be read: the WKT text"),
        (PLAIN, lambda survey: survey.wkt_text(0, "\0" * 9), "the WKT record is empty"),
        (
            KEYED,
            lambda survey: survey.geo_keys(0, {1024: 32767, 1025: 1, 3072: 32767}),
            "name no projection that is understood",
        ),
        (KEYED, lambda survey: survey.geo_keys(0, {1025: 1}), "name no coordinate system"),
    ],
)
def test_absent_empty_and_not_understood_are_told_apart(
    bench: JobBench, layout: Layout, spoil: Build, words: str
) -> None:
    """Lesson 6: no record, an empty one, a broken one and one that is not understood differ."""
    result = audit(bench, spoil, layout)
    outcome, grade, sentence = tell_one(result, "crs-present")
    assert (outcome, grade) == ("nonconforming", "minor")
    assert words in sentence
    assert not conforms(result, "crs-position")


def test_a_vertical_system_inside_the_projected_one_is_not_lost(bench: JobBench) -> None:
    """Lesson 6: a VERTCS nested in a PROJCS is read, and told; pyproj reads the outer part only."""
    plan, heights = (pyproj.CRS(code).to_wkt("WKT1_GDAL") for code in ("EPSG:6346", "EPSG:5703"))
    heights = heights.replace("VERT_CS", "VERTCS", 1)
    nested = f"{plan[:-1]},{heights}]"
    result = audit(bench, lambda survey: survey.wkt_text(0, nested))
    assert "written inside the projected one" in tell_one(result, "crs-present")[2]
    assert "NAVD88 height" in tell_one(result, "vertical-datum")[2]


@pytest.mark.parametrize(
    ("spoil", "catalogue", "words"),
    [
        (
            lambda survey: survey.stretch(0, 1 / FOOT, 1 / FOOT),
            "UN-01",
            "as feet instead of metres",
        ),
        (lambda survey: survey.swap_axes(0), "CR-07", "with X and Y swapped"),
        (lambda survey: survey.crs(0, "EPSG:2154"), "CR-01", "outside the area"),
    ],
)
def test_points_that_cannot_lie_there_are_misplaced(
    bench: JobBench, spoil: Build, catalogue: str, words: str
) -> None:
    """Lesson 7: where points would lie shows feet under metres, swapped axes and wrong labels.

    EPSG:2154 is for France; the tile lies in Florida by the numbers of UTM zone 17N.
    """
    result = audit(bench, spoil)
    (finding,) = [f for f in result["findings"] if f["check"] == "crs-position"]
    assert result["verdict"] == "do not send"
    assert (finding["grade"], catalogue in finding["catalogue"]) == ("major", True)
    assert words in finding["sentence"]


def test_mixed_units_that_are_declared_are_legal(bench: JobBench) -> None:
    """Lesson 8: metres with heights in US survey feet are told, not condemned, and read rightly.

    EPSG:6360 is NAVD88 height in US survey feet.
    """
    mixed = Layout(compressed=False, crs="EPSG:6346+6360")
    result = audit(bench, lambda survey: survey.stretch(0, 1, 1 / SURVEY_FOOT), mixed)
    outcome, grade, sentence = tell_one(result, "unit-consistency")
    assert (outcome, grade) == ("nonconforming", "observation")
    assert "X and Y in metres and heights in US survey feet" in sentence


def test_two_records_that_disagree_are_a_finding(bench: JobBench) -> None:
    """Lesson 8: WKT and GeoTIFF keys of one file that say two things are told.

    EPSG:32617 is on WGS 84, EPSG:6346 on NAD83(2011).
    """
    keys: GeoKeys = {1024: 1, 1025: 1, 3072: 32617}
    result = audit(bench, lambda survey: survey.both_crs_records(0, keys))
    assert "two coordinate systems" in tell_one(result, "crs-present")[2]


@pytest.mark.parametrize(
    ("dx", "words"),
    [(100.0, "ends 100 beyond its points in X"), (-1.0, "ends 1 short of its points in X")],
)
def test_a_box_that_is_not_that_of_the_points(bench: JobBench, dx: float, words: str) -> None:
    """Lesson 9: a box that is looser than the points, or too small for one, is told."""
    result = audit(bench, lambda survey: survey.wrong_box(0, dx))
    _, grade, sentence = tell_one(result, "header-extent")
    assert grade == "minor"
    assert words in sentence, sentence


def test_a_stray_point_does_not_thin_the_density(bench: JobBench) -> None:
    """Lesson 9: one point far away stretches the box; the density is that of the ground."""
    wishes = "[criteria.point-density]\nmin_pts_per_m2 = 2.0\n"
    result = audit(bench, lambda survey: survey.move_point(0, 7, dx=3000.0), wishes=wishes)
    assert conforms(result, "point-density"), tell(result, "point-density")


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((5, 4, 3), "the header counts 5 returns of number 1"),
        ((0,) * 15, "counts no return at all"),
    ],
)
def test_counts_by_return_can_be_stale(
    bench: JobBench, counts: tuple[int, ...], words: str
) -> None:
    """Lesson 10: counts by return of a parent file, or none at all, are told."""
    result = audit(bench, lambda survey: survey.wrong_return_counts(0, *counts))
    assert words in tell_one(result, "header-counts")[2]


def test_a_legacy_count_beside_another_one(bench: JobBench) -> None:
    """Lesson 10: format 6 wants a legacy count of 0 (ASPRS LAS 1.4 R15, legacy counts)."""
    result = audit(bench, lambda survey: survey.legacy_count(0, 100))
    assert "legacy count is 100" in tell_one(result, "las-conformance")[2]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda survey: survey.time_flag(0, adjusted=False), "can only be adjusted standard time"),
        (lambda survey: survey.week_times(0), "can only be seconds of the week"),
        (lambda survey: survey.all_times_zero(0), "every GPS time is 0"),
        (lambda survey: survey.set_field(0, "gps_time", float("nan")), "are not numbers"),
        (lambda survey: survey.set_field(0, "gps_time", 1e300), "1e+300"),
        (lambda survey: survey.coarse_times(0), "32-bit float"),
    ],
)
def test_gps_times_that_are_none(bench: JobBench, spoil: Build, words: str) -> None:
    """Lesson 11: times against their flag, of zero, no numbers, absurd or rounded are told."""
    result = audit(bench, spoil)
    outcome, _, sentence = tell_one(result, "gps-time-kind")
    assert outcome != "conforms"
    assert words in sentence, sentence


def write_wishes(geoid: str) -> str:
    """Return a `job.toml` that asks for heights above a geoid grid."""
    return (
        '[coordinates]\nvertical = "orthometric"\n'
        f'geoid = {{ name = "EGM96", version = "1", file = "{geoid}" }}\n'
    )


PUERTO_RICO = "EPSG:6348"  # NAD83(2011) / UTM zone 19N
PONCE = (751_000.0, 1_993_000.0)  # near 18.01° N, 66.63° W, metres


def find_geoid_height(grid: Path, scene: Scene) -> float:
    """Return the geoid height at the middle of a scene, from PROJ itself, metres."""
    lon, lat = pyproj.Transformer.from_crs(PUERTO_RICO, "EPSG:6318", always_xy=True).transform(
        *scene.origin
    )
    pipeline = f"+proj=vgridshift +grids={grid} +multiplier=1"
    *_, height = pyproj.Transformer.from_pipeline(pipeline).transform(lon, lat, 0.0)
    return float(height)


@pytest.mark.parametrize("grid", ["whole", "truncated", "missing", "rubbish", "folder"])
def test_a_grid_that_is_missing_or_broken_names_no_cause(bench: JobBench, grid: str) -> None:
    """Lesson 12: only a whole grid names the geoid as the cause of a step that it is.

    PROJ gives heights back unchanged without a grid, and infinite ones from half a grid. The grid
    is GEOID18 of Puerto Rico (NOAA).
    """
    source = HERE / "us_noaa_g2018p0.tif"
    content = source.read_bytes()
    if grid == "whole":
        bench.write("geoid/a.tif", content)
    if grid == "truncated":
        bench.write("geoid/a.tif", content[:20_000])
    if grid == "rubbish":
        bench.write("geoid/a.tif", b"II*\0" + bytes(99))
    if grid == "folder":
        (bench.job / "geoid" / "a.tif").mkdir(parents=True)
    scene = Scene(columns=3, rows=3, density=2.0, origin=PONCE)
    height = find_geoid_height(source, scene)
    assert height == pytest.approx(-39.5, abs=0.5)
    result = audit(
        bench,
        lambda survey: survey.shift_heights("tile_1_1", height),
        Layout(compressed=False, crs=f"{PUERTO_RICO}+5703"),
        scene,
        write_wishes("geoid/a.tif"),
    )
    sentences = [sentence for _, grade, sentence in tell(result, "seams") if grade == "major"]
    assert sentences
    assert all(("The geoid height here is" in each) == (grid == "whole") for each in sentences)
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []


@pytest.mark.parametrize("used", ["us_noaa_g2018p0.tif", "us_noaa_g2012bp0.tif"])
def test_another_edition_of_the_geoid_is_told(bench: JobBench, used: str) -> None:
    """Lesson 13: GEOID12B for GEOID18, 3 cm apart in Puerto Rico, is told by the digest."""
    wished = "us_noaa_g2018p0.tif"
    for name in (wished, "us_noaa_g2012bp0.tif"):
        bench.copy(HERE / name, f"geoid/{name}")
    SurveyBuilder(bench.job / "out", PLAIN, ONE_TILE)
    wishes = write_wishes(f"geoid/{wished}").replace("EGM96", "GEOID18")
    bench.write("job.toml", wishes.encode())
    bench.ask(
        "record",
        "out",
        "--set",
        f"run.geoid_file=geoid/{used}",
        "--set",
        "run.geoid_name=GEOID18",
    )
    result = bench.ask("audit", "out", status=None)
    found = [sentence for _, grade, sentence in tell(result, "height-chain") if grade == "major"]
    digests = [hashlib.sha256((HERE / name).read_bytes()).hexdigest() for name in (used, wished)]
    if used == wished:
        assert found == []
    else:
        (sentence,) = found
        assert f"grid {digests[0][:12]}… against {digests[1][:12]}…" in sentence


def test_a_base_log_that_claims_a_day(bench: JobBench) -> None:
    """Lesson 14: header and body of a base log are told apart; a position of zeros is none."""
    bench.copy(HERE / "demo.10o", "raw/base.10o")
    text = (HERE / "demo.10o").read_text(encoding="ascii")
    zeros = f"{'0.0000':>14}{'0.0000':>14}{'0.0000':>14}".ljust(60) + "APPROX POSITION XYZ"
    text = re.sub(r"^.*APPROX POSITION XYZ", zeros, text, flags=re.MULTILINE)
    bench.write("raw/zeros.10o", text.encode())
    base, no_position = bench.ask("register", "raw")["files"]
    facts = base["facts"]
    assert (facts["header_first"], facts["header_last"]) == (
        "2010-03-05T00:00:00.000",
        "2010-03-05T23:59:30.000",
    )
    assert (facts["epochs"], facts["last_epoch"]) == (2, "2010-03-05T00:00:30.000")
    assert "position_m" in facts
    assert "position_m" not in no_position["facts"]
    assert no_position["facts"]["marker"] == facts["marker"]


def sign(body: str) -> bytes:
    """Return an NMEA sentence with its checksum."""
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n".encode()


def test_a_flight_log_over_midnight(bench: JobBench) -> None:
    """Lesson 15: midnight, banners and binary between sentences; float and differential fixes."""
    fixes = [("235958.00", 5), ("235959.00", 5), ("000000.00", 2), ("000001.00", 2)]
    lines = [
        sign(f"GNGGA,{clock},3403.47,N,11711.81,W,{quality},12,0.7,403.6,M,-32.1,M,,")
        for clock, quality in fixes
    ]
    lines[2:2] = [b"receiver banner 1.0\r\n", b"\xb5\x62\x01\x07\x00$\xff\r\n"]
    bench.write("raw/log.txt", b"".join(lines))
    bench.copy(HERE / "TrimbleR2SampleData.txt", "raw/real.txt")
    made, real = bench.ask("register", "raw")["files"]
    assert made["role"] == real["role"] == "flight-log"
    facts = made["facts"]
    assert (facts["first_time"], facts["last_time"]) == ("23:59:58.00", "00:00:01.00")
    assert (facts["midnights"], facts["qualities"]) == (1, {"2": 2, "5": 2})
    assert (facts["sentences"], facts["bad"], facts["other_lines"]) == (4, 1, 1)
    assert real["facts"]["qualities"] == {"2": 25, "5": 9}
