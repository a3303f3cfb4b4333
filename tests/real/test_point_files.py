"""Every real point file goes through the real commands: audited, alone and together, and traced.

Held against what other software read and counted (`facts.json`, written with laspy 2.7.0 and by
plain reading) and what is known of each file. Without the whole collection the small set is taken.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from job_bench import JobBench, make_bench
from open_data import WITHOUT_CRS, OpenFile, PointFacts

# Findings of grade major, with their numbers in the catalogue; every other file has none.
MAJOR = {
    "1.2-with-color-clipped.las": {"FT-05"},
    "broken_coder.laz": {"FT-05"},
    "broken_size.laz": {"FT-05"},
    "broken_type.laz": {"FT-05"},
    "1.2-with-color.copc.laz": {"UN-01"},  # says metres, holds feet
    "test_epsg_4326_axis.las": {"CR-07"},  # latitude stored in X
    "test_utm16.las": {"CR-01"},  # 0.6 degrees outside its zone
}
# Checks that look at no point, so that they may pass where none can be read.
HEADER_ONLY = {
    "datum-shift",
    "file-names",
    "foot-kind",
    "header-date",
    "header-uniformity",
    "las-conformance",
    "package-limits",
    "replaced-delivery",
    "tile-scheme",
}
# Other things that the tables of the collection tell of a file: check, and words of the sentence.
KNOWN = [
    ("test1_4.las", "crs-present", "inside the projected one"),
    ("1_4_w_evlr.laz", "crs-present", "inside the projected one"),
    ("point-version-1-point-wise.laz", "crs-present", "key 3076 says US survey foot"),
    ("4_6_crop.las", "crs-present", "4096 and 4098 are swapped"),
    ("file_with_both_wkt_and_geotiff_vlrs.las", "crs-present", "two coordinate systems"),
    ("simple1_3.las", "crs-present", "key 3076, which is for the unit, holds 32632"),
    ("simple1_3.las", "header-extent", "1000 ×"),
    ("5points_14.las", "header-extent", "0.82 beyond its points in Z"),
    ("autzen-bmx-2023.las", "unit-consistency", "metres and heights in US survey feet"),
    ("autzen.copc.laz", "unit-consistency", "international feet and heights in US survey feet"),
    ("autzen-bmx-2023.las", "gps-time-kind", "can only be adjusted standard time"),
    ("4_6_crop.las", "gps-time-kind", "can only be adjusted standard time"),
    ("crop.las", "gps-time-kind", "can only be adjusted standard time"),
    ("file_with_both_wkt_and_geotiff_vlrs.las", "gps-time-kind", "steps of 32 s"),
    ("1815.las", "gps-time-kind", "steps of 16 s"),
    ("hexbin-crop.las", "gps-time-kind", "every GPS time is 0"),
    ("unregistered_extra_bytes.las", "gps-time-kind", "every GPS time is 0"),
    ("hexbin-crop.las", "return-numbers", "none of 38,367 points is a first return"),
    ("srs_vertcs.las", "return-numbers", "every return number is 0"),
    ("epsg_4326.las", "header-counts", "5,380 returns of number 1, there are 0"),
    ("test_epsg_4326_axis.las", "header-counts", "no return at all for 10 points"),
    ("unregistered_extra_bytes.las", "header-counts", "no return at all for 4 points"),
    ("wontcompress3.las", "las-conformance", "legacy count is 1,000"),
    ("1.2-with-color.copc.laz", "las-conformance", "legacy count is 1,065"),
    ("test1_4.las", "las-conformance", "legacy count is 1,000"),
    ("1.2-with-color.copc.laz", "las-conformance", "does not end with a NUL"),
    ("append-bug.laz", "las-conformance", "WKT record and GeoTIFF keys"),
    ("append-bug.laz", "las-conformance", "WKT of the second edition"),
    ("fullwave.laz", "las-conformance", "stated to be in fullwave.wdp"),
    ("hexbin-crop.las", "las-conformance", "which LAS 1.2 does not know"),
    ("unregistered_extra_bytes.las", "las-conformance", "4 of 4 extra bytes"),
    ("bad_vlr_count.las", "las-conformance", "states 3 variable length records and 2 lie"),
    ("plane.laz", "crs-position", "unknown area of use"),
    ("lots_of_vlr.las", "crs-position", "unknown area of use"),
    ("bad_vlr_count.las", "file-readable", "2 of 3 stated variable length records"),
    ("bad-geotiff-keys.las", "file-readable", "4 entries without a key"),
    ("no-points.las", "file-readable", "holds no point"),
    ("epsg_4326.las", "point-density", "in degrees"),
    ("hexbin-crop.las", "point-density", "None of the 38,367 points"),
    ("1.2-with-color-clipped.las", "file-readable", "1,064 of 1,065 points"),
]


@dataclass(frozen=True)
class Audited:
    """Every point file audited, each alone in its folder."""

    bench: JobBench
    folders: dict[str, Path]
    results: dict[str, dict[str, Any]]
    statuses: dict[str, int]


@pytest.fixture(scope="module")
def audited(point_facts: PointFacts, tmp_path_factory: pytest.TempPathFactory) -> Audited:
    """Audit every point file alone, with a criterion for the density."""
    bench = make_bench(tmp_path_factory)
    bench.write("job.toml", b"[criteria.point-density]\nmin_pts_per_m2 = 1.0\n")
    folders, results, statuses = {}, {}, {}
    for path in point_facts:
        place = bench.copy(path, f"out/{path.name.replace('.', '_')}/{path.name}")
        folders[path.name] = place.parent
        ran = bench.run("audit", place.parent, "--json")
        assert ran.err == "", ran.err
        results[path.name] = json.loads(ran.out)
        statuses[path.name] = ran.status
    return Audited(bench, folders, results, statuses)


def list_findings(result: dict[str, Any], check: str) -> list[dict[str, Any]]:
    """Return the findings of one check."""
    return [finding for finding in result["findings"] if finding["check"] == check]


def test_verdicts_of_single_files(audited: Audited) -> None:
    """A broken or misplaced file must not be sent; of the others too little is known to send."""
    for name, result in audited.results.items():
        expected = "do not send" if name in MAJOR else "incomplete"
        assert result["verdict"] == expected, name
        assert audited.statuses[name] == (1 if name in MAJOR else 3), name


def test_no_check_breaks_on_a_real_file(audited: Audited) -> None:
    """No finding is an error of a check, and each is one sentence about the file."""
    for name, result in audited.results.items():
        for finding in result["findings"]:
            assert finding["outcome"] != "errored", (name, finding)
            assert finding["sentence"].endswith("."), (name, finding)
            assert "\n" not in finding["sentence"], (name, finding)
            assert finding["subject"] in (name, "delivery"), (name, finding)


def test_major_findings(audited: Audited) -> None:
    """The known faults, and no others, keep a file from being sent."""
    found: dict[str, set[str]] = {}
    for name, result in audited.results.items():
        majors = [finding for finding in result["findings"] if finding["grade"] == "major"]
        for finding in majors:
            found.setdefault(name, set()).update(finding["catalogue"])
            assert finding["remedy"], (name, finding)
            assert finding["where"]["file"] == name
    assert found == {name: MAJOR[name] for name in audited.results if name in MAJOR}


def test_points_are_counted_as_others_count_them(audited: Audited, point_facts: PointFacts) -> None:
    """The points of every file, whole or not, are as many as other software decoded."""
    counted = {path.name: facts["points_counted"] or 0 for path, facts in point_facts.items()}
    assert {name: result["points"] for name, result in audited.results.items()} == counted


def test_files_without_a_readable_system(audited: Audited) -> None:
    """Absent, empty and meaningless records of coordinate systems are a finding each."""
    found = {
        name
        for name, result in audited.results.items()
        for finding in list_findings(result, "crs-present")
        if "states no coordinate system" in finding["sentence"]
        or "cannot be read" in finding["sentence"]
    }
    assert found == WITHOUT_CRS & audited.results.keys()


@pytest.mark.parametrize(("name", "check", "words"), KNOWN)
def test_what_is_known_of_a_file_is_found(
    audited: Audited, open_file: OpenFile, name: str, check: str, words: str
) -> None:
    """What the tables of the collection tell of a file, the audit finds."""
    known = open_file(f"las/{name}").name
    sentences = [f["sentence"] for f in list_findings(audited.results[known], check)]
    assert any(words in sentence for sentence in sentences), sentences


def test_a_file_without_points_passes_nothing_about_points(audited: Audited) -> None:
    """Without a point no check of points conforms: nothing was looked at."""
    conforming = {row["check"] for row in audited.results["no-points.las"]["conforming"]}
    assert not conforming & {
        "classification",
        "crs-position",
        "gps-time-kind",
        "point-density",
        "return-numbers",
    }
    assert list_findings(audited.results["no-points.las"], "point-density")


def test_an_undecodable_file_passes_nothing_about_points(audited: Audited) -> None:
    """Where points could not all be read, no check of points conforms."""
    for name in ("1.2-with-color-clipped.las", "broken_size.laz", "broken_coder.laz"):
        conforming = {row["check"] for row in audited.results[name]["conforming"]}
        assert conforming <= HEADER_ONLY, name


def test_every_audited_file_can_be_traced(audited: Audited) -> None:
    """A trace by path finds each file by its digest and names the audit that saw it."""
    for name, folder in audited.folders.items():
        traced = audited.bench.ask("trace", folder / name)
        assert (traced["known"], traced["matched_by"]) == (True, "digest"), name
        assert "audit" in {node["kind"] for node in traced["chain"]}, name
        ran = audited.bench.run("trace", folder / name)
        assert (ran.status, ran.err) == (0, "")
        assert name[:20] in ran.out


def test_all_point_files_together(point_facts: PointFacts, bench: JobBench) -> None:
    """In one folder the same files have the same faults; nothing is lost in the crowd."""
    for path in point_facts:
        bench.copy(path, f"out/{path.name}")
    result = bench.ask("audit", "out", status=1)
    assert (result["verdict"], result["files"]) == ("do not send", len(point_facts))
    majors = {
        finding["where"]["file"]
        for finding in result["findings"]
        if finding["grade"] == "major" and finding["where"]["file"]
    }
    assert majors >= set(MAJOR)
    assert len(point_facts) > 25
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    shown = bench.run("audit", "out")
    assert shown.status == 1
    assert shown.out.count("No recorded run or step made") < 6  # all files in the same state
    assert shown.out.count("\n") < 950  # a block for each file that is odd in its own way
    assert shown.err == ""
