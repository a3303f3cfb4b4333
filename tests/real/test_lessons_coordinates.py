"""What the coordinate systems and units of real files teach, each as a made file.

Numbers beside them are those of the EPSG registry, and of the standards named there.
"""

from __future__ import annotations

import pyproj
import pytest
from job_bench import JobBench
from open_data import OpenFile
from spoiled_survey import (
    FOOT,
    KEYED,
    ONE_TILE,
    PLAIN,
    SURVEY_FOOT,
    Build,
    audit_spoiled,
    conforms,
    read_mean,
    tell_one,
)

from ledger.testing import Layout
from ledger.testing.layout import GeoKeys


def test_the_unit_key_counts(bench: JobBench) -> None:
    """Lesson 5: a metre code with a foot in key 3076 is read in feet, and the contradiction told.

    EPSG:26917 is in metres; 9003 is the US survey foot. Read as metres the tile would lie near the
    pole and have a tenth of its density.
    """
    keys: GeoKeys = {1024: 1, 1025: 1, 3072: 26917, 3076: 9003}
    wishes = "[criteria.point-density]\nmin_pts_per_m2 = 1e6\n"
    result = audit_spoiled(
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
    result = audit_spoiled(bench, spoil, layout)
    outcome, grade, sentence = tell_one(result, "crs-present")
    assert (outcome, grade) == ("nonconforming", "minor")
    assert words in sentence
    assert not conforms(result, "crs-position")


def test_a_vertical_system_inside_the_projected_one_is_not_lost(bench: JobBench) -> None:
    """Lesson 6: a VERTCS nested in a PROJCS is read, and told; pyproj reads the outer part only."""
    plan, heights = (pyproj.CRS(code).to_wkt("WKT1_GDAL") for code in ("EPSG:6346", "EPSG:5703"))
    heights = heights.replace("VERT_CS", "VERTCS", 1)
    nested = f"{plan[:-1]},{heights}]"
    result = audit_spoiled(bench, lambda survey: survey.wkt_text(0, nested))
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
    result = audit_spoiled(bench, spoil)
    (finding,) = [f for f in result["findings"] if f["check"] == "crs-position"]
    assert result["verdict"] == "do not send"
    assert (finding["grade"], catalogue in finding["catalogue"]) == ("major", True)
    assert words in finding["sentence"]


def test_mixed_units_that_are_declared_are_legal(bench: JobBench) -> None:
    """Lesson 8: metres with heights in US survey feet are told, not condemned, and read rightly.

    EPSG:6360 is NAVD88 height in US survey feet.
    """
    mixed = Layout(compressed=False, crs="EPSG:6346+6360")
    result = audit_spoiled(bench, lambda survey: survey.stretch(0, 1, 1 / SURVEY_FOOT), mixed)
    outcome, grade, sentence = tell_one(result, "unit-consistency")
    assert (outcome, grade) == ("nonconforming", "observation")
    assert "X and Y in metres and heights in US survey feet" in sentence


def test_two_records_that_disagree_are_a_finding(bench: JobBench) -> None:
    """Lesson 8: WKT and GeoTIFF keys of one file that say two things are told.

    EPSG:32617 is on WGS 84, EPSG:6346 on NAD83(2011).
    """
    keys: GeoKeys = {1024: 1, 1025: 1, 3072: 32617}
    result = audit_spoiled(bench, lambda survey: survey.both_crs_records(0, keys))
    assert "two coordinate systems" in tell_one(result, "crs-present")[2]
