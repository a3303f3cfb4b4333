"""Every open file goes through the real commands: registered, audited, traced.

Held against what other software read and counted (`facts.json` and the tables of the collection of
open files, written with laspy 2.7.0 and by plain reading), and against the bytes themselves.
"""

from __future__ import annotations

import csv
import json
import math
import re
import shutil
import struct
from collections import Counter
from dataclasses import dataclass
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest
from job_bench import JobBench

POINT_FOLDERS = ("las", "las-malformed")

# What cannot be read, with words of the line that has to be said of it.
FAULTY = {
    "geoid-test/egm96_15_uncompressed_truncated.tif": "ends early",
    "geoid-test/test_vgrid_single_strip_truncated.tif": "ends early",
    "trajectory/badfile.sbet": "inside a record",
}
# Published check vectors: texts and bytes that are no files of a survey.
VECTORS = ("bagit", "coordinates", "ed25519", "licenses", "merkle", "prov", "rfc8785")
VECTORS += ("signed-note", "tlog")

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
NO_CRS = {
    "1.2-with-color.las",
    "1.2-with-color-clipped.las",
    "1.2-empty-geotiff-vlrs.las",
    "5points_14.las",
    "broken_coder.laz",
    "broken_size.laz",
    "broken_type.laz",
    "extrabytes.las",
    "simple1_1.las",
    "simple1_3.las",
    "unregistered_extra_bytes.las",
    "vegetation_1_3.las",
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
    ("wontcompress3.las", "header-counts", "legacy count is 1,000"),
    ("1.2-with-color.copc.laz", "header-counts", "legacy count is 1,065"),
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
class Registered:
    """The whole collection, registered in one call."""

    bench: JobBench
    root: Path
    files: dict[str, dict[str, Any]]

    def facts(self, name: str) -> dict[str, Any]:
        """Return what a file says of itself."""
        return self.files[name]["facts"]

    def list_below(self, folder: str) -> list[str]:
        """Return the names of the files of a folder."""
        return sorted(name for name in self.files if name.startswith(f"{folder}/"))


@pytest.fixture(scope="module")
def registered(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Registered:
    """Register the whole collection where it lies."""
    bench = make_bench(tmp_path_factory)
    root = shared_data.resolve()
    told = bench.ask("register", root)
    assert told["bytes"] == sum(file["bytes"] for file in told["files"])
    files = {Path(file["path"]).relative_to(root).as_posix(): file for file in told["files"]}
    return Registered(bench, root, files)


def make_bench(factory: pytest.TempPathFactory) -> JobBench:
    """Return a job for the tests of this module."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(factory.mktemp("home")))
        return JobBench(factory.mktemp("work"))


@pytest.fixture(scope="module")
def las_facts(shared_data: Path) -> dict[str, Any]:
    """Return what other software read from the point files."""
    return json.loads((shared_data / "las" / "facts.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def tables(shared_data: Path) -> dict[str, str]:
    """Return the last cell of each row of the tables of the collection, by file name."""
    text = (shared_data / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([^`]+)` \|.*\| ([^|]+) \|$", text, re.MULTILINE)
    return dict(rows)


def test_every_file_is_entered_with_its_digest(registered: Registered) -> None:
    """Digest and size of every file equal those of the manifest of the collection."""
    with (registered.root / "manifest.tsv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream, delimiter="\t"))
    expected = {
        row["file"]: (row["sha256"], int(row["bytes"]))
        for row in rows
        if Path(row["file"]).name != "Thumbs.db"  # made by a system, and no file of a job
    }
    found = {
        name: (file["sha256"], file["bytes"])
        for name, file in registered.files.items()
        if name in expected
    }
    assert len(expected) >= 650
    assert found == expected
    entries = registered.bench.read_journal()
    assert [entry.kind for entry in entries[2:]] == ["files", "sighting"]
    assert sum(entry.values["count"] for entry in entries[2:]) == len(registered.files)


def test_faults_are_one_line_each(registered: Registered) -> None:
    """Only the files that cannot be read have a fault, in one line without a path."""
    faults = {name: file["fault"] for name, file in registered.files.items() if file["fault"]}
    assert set(faults) == set(FAULTY)
    for name, fault in faults.items():
        assert FAULTY[name] in fault
        assert "\n" not in fault
        assert str(registered.root) not in fault


def test_check_vectors_are_plain_documents(registered: Registered) -> None:
    """Files of other trades are entered by their bytes, with no facts and no fault."""
    count = 0
    for folder in VECTORS:
        for name in registered.list_below(folder):
            file = registered.files[name]
            assert (file["facts"], file["fault"]) == ({}, ""), name
            assert file["role"] in ("document", "config", "capture"), name
            count += 1
    assert count >= 600


def test_headers_of_point_files(registered: Registered, las_facts: dict[str, Any]) -> None:
    """Version, format, count, scale, box, day and time flag are those that other software read."""
    for name, expected in las_facts.items():
        facts = registered.facts(name)
        stated = expected["point_count_1_4"] or expected["legacy_point_count"]
        day, year = expected["creation_doy_year"]
        flag = "adjusted GPS" if expected["gps_time_adjusted_flag"] else "GPS seconds of week"
        assert registered.files[name]["role"] == "capture", name
        assert facts["version"] == expected["version"], name
        assert facts["point_format"] == expected["pdrf"], name
        assert facts["points"] == stated, name
        assert facts["compressed"] == expected["compressed"], name
        assert facts["copc"] == name.endswith(".copc.laz"), name
        assert [float(step) for step in facts["scale"]] == expected["scale"], name
        box = [float(corner) for corner in (*facts["minimum"], *facts["maximum"])]
        assert box == expected["header_bbox"], name
        created = f"{year:04d}-{day:03d}" if year and day else None
        assert facts.get("created") == created, name
        assert facts.get("time") == (None if expected["pdrf"] in (0, 2) else flag), name
        assert (facts["crs"].startswith(("none", "not readable"))) == (Path(name).name in NO_CRS), (
            name,
            facts["crs"],
        )


def test_software_of_point_files(registered: Registered) -> None:
    """Software and system are the texts that stand at bytes 58 and 26 of the file."""
    for name in (*registered.list_below("las"), *registered.list_below("las-malformed")):
        if not name.endswith((".las", ".laz")):
            continue
        start = (registered.root / name).read_bytes()[:90]
        for key, text in (("system", start[26:58]), ("software", start[58:90])):
            expected = text.split(b"\0")[0].decode("utf-8", "replace").strip()
            assert registered.facts(name).get(key, "") == expected, (name, key)


def test_headers_of_base_logs(registered: Registered, tables: dict[str, str]) -> None:
    """Version, marker, receiver, antenna, position, heights and times are those of the tables."""
    names = (*registered.list_below("rinex"), *registered.list_below("rinex-malformed"))
    for name in names:
        facts, told = registered.facts(name), tables[Path(name).name]
        assert registered.files[name]["role"] == "base-log", name
        assert describe_base_log(facts) == read_told_header(told), name
        assert facts.get("time_system", "GPS") == "GPS", name
    assert len(names) == 18


def describe_base_log(facts: dict[str, Any]) -> dict[str, Any]:
    """Return the facts that the tables tell, in one form."""
    return {
        "version": facts["version"],
        "compact": facts["compact"],
        "marker": facts.get("marker", "-"),
        "receiver": facts.get("receiver", "-"),
        "antenna": facts.get("antenna", "-"),
        "position": [float(part) for part in facts.get("position_m", ())],
        "delta": [float(part) for part in facts.get("antenna_delta_m", ())],
        "interval": float(facts.get("interval_s", "nan")),
        "first": facts.get("header_first", ""),
        "last": facts.get("header_last", ""),
    } | ({"interval": None} if "interval_s" not in facts else {})


def read_told_header(told: str) -> dict[str, Any]:
    """Return what a row of the tables tells of a RINEX header."""
    match = re.search(
        r"v(?P<version>\S+?)(?P<compact> \(CRINEX\))?; marker (?P<marker>.*?); receiver "
        r"(?P<receiver>.*?); antenna (?P<antenna>.*?); XYZ (?P<xyz>.*?); delta H/E/N "
        r"(?P<delta>.*?); interval (?P<interval>\S+); header first "
        r"(?P<first>.*?), last (?P<last>[^;]*)",
        told,
    )
    assert match is not None, told
    position = [float(part) for part in match["xyz"].split() if part != "-"]
    return {
        "version": match["version"].rstrip("."),
        "compact": match["compact"] is not None,
        "marker": match["marker"],
        "receiver": match["receiver"],
        "antenna": match["antenna"],
        # A position of zeros is none.
        "position": position if any(position) else [],
        "delta": [float(part) for part in match["delta"].split() if part != "-"],
        "interval": None if match["interval"] == "-" else float(match["interval"]),
        "first": read_told_time(match["first"]),
        "last": read_told_time(match["last"]),
    }


def read_told_time(text: str) -> str:
    """Return a time of the tables in ISO form; empty for none."""
    parts = re.findall(r"\d+|\.\d+", text)
    if len(parts) < 6:
        return ""
    year, month, day, hour, minute = (int(part) for part in parts[:5])
    seconds = float("".join(parts[5:7]))
    return f"{year:04d}-{month:02d}-{day:02d}T{hour:02d}:{minute:02d}:{seconds:06.3f}"


def test_epochs_of_base_logs(registered: Registered, tables: dict[str, str]) -> None:
    """Epochs read and epoch lines that cannot be read add up to those counted in the tables."""
    for name in (*registered.list_below("rinex"), *registered.list_below("rinex-malformed")):
        facts = registered.facts(name)
        told = re.search(r"epochs in body (\d+)", tables[Path(name).name])
        assert facts["compact"] == (told is None), name
        if told is None:  # a compressed body is not read, so nothing is said of it
            assert "epochs" not in facts, name
        else:
            assert facts["epochs"] + facts["bad_lines"] == int(told[1]), name
    bad = {
        name: registered.facts(name)["bad_lines"]
        for name in registered.list_below("rinex-malformed")
        if registered.facts(name)["bad_lines"]
    }
    # One has its seconds in the wrong columns and then a 60th second; one has junk for a time.
    assert bad == {"rinex-malformed/badtime.10o": 2, "rinex-malformed/junk_time_obs3.10o": 1}


def test_flight_logs(registered: Registered, tables: dict[str, str]) -> None:
    """Sentences, wrong checksums and fix qualities equal a plain count over the bytes."""
    for name in registered.list_below("nmea"):
        facts = registered.facts(name)
        content = (registered.root / name).read_bytes()
        good, bad, qualities = count_sentences(content)
        assert registered.files[name]["role"] == "flight-log", name
        assert (facts["sentences"], facts["bad"]) == (good, bad), name
        assert facts.get("qualities", {}) == qualities, name
    trimble = registered.facts("nmea/TrimbleR2SampleData.txt")
    told = tables["TrimbleR2SampleData.txt"]
    assert "34 GGA, 9 of quality 5 (RTK float) and then 25 of quality 2" in told
    assert trimble["qualities"] == {"2": 25, "5": 9}
    assert "2017-12-20 23:56:47 UTC" in told
    assert (trimble["date"], trimble["first_time"]) == ("2017-12-20", "23:56:47.00")
    assert "All 544 checksums right" in told
    assert (trimble["sentences"], trimble["bad"]) == (544, 0)
    assert "geoid separation -32.133 m" in told
    assert trimble["separation_m"] == "-32.133"


def count_sentences(content: bytes) -> tuple[int, int, dict[str, int]]:
    """Count what lies between `$` and the end of a line, by its checksum."""
    good = bad = 0
    qualities: Counter[str] = Counter()
    for sentence in re.findall(rb"\$([^$\r\n]*)", content):
        body, star, checksum = sentence.partition(b"*")
        if not star or f"{reduce(xor, body, 0):02X}".encode() != checksum[:2].upper():
            bad += 1
            continue
        good += 1
        if body[2:5] == b"GGA":
            qualities[body.split(b",")[6].decode()] += 1
    return good, bad, dict(qualities)


def test_grids(registered: Registered) -> None:
    """Columns and rows of every grid are those at their places in the file."""
    whole = [
        name
        for folder in ("geoid", "geoid-test")
        for name in registered.list_below(folder)
        if name not in FAULTY
    ]
    for name in whole:
        facts = registered.facts(name)
        content = (registered.root / name).read_bytes()
        size = read_gtx_size(content) if name.endswith(".gtx") else read_tiff_size(content)
        assert (facts["columns"], facts["rows"]) == size, name
    assert len(whole) == 10
    world = registered.facts("geoid/us_nga_egm96_15.tif")
    assert (world["columns"], world["step_x"]) == (1440, "0.25")  # 360 degrees in steps of 15'
    geoids = [name for name in whole if registered.facts(name)["is_geoid"]]
    # One is of bytes, one of another channel: both by purpose of the tests they come from.
    assert sorted(set(whole) - set(geoids)) == [
        "geoid-test/test_vgrid_invalid_channel_type.tif",
        "geoid-test/test_vgrid_unsupported_byte.tif",
    ]


def read_gtx_size(content: bytes) -> tuple[int, int]:
    """Return columns and rows of a GTX grid: its header is four doubles and two integers."""
    rows, columns = struct.unpack_from(">2i", content, 32)
    return columns, rows


def read_tiff_size(content: bytes) -> tuple[int, int]:
    """Return width and height of a classic TIFF (TIFF 6.0, tags 256 and 257)."""
    order = "<" if content[:2] == b"II" else ">"
    (place,) = struct.unpack_from(f"{order}I", content, 4)
    (count,) = struct.unpack_from(f"{order}H", content, place)
    values = {}
    for index in range(count):
        tag, kind, _ = struct.unpack_from(f"{order}HHI", content, place + 2 + 12 * index)
        letter = "H" if kind == 3 else "I"
        values[tag] = struct.unpack_from(f"{order}{letter}", content, place + 10 + 12 * index)[0]
    return values[256], values[257]


def test_trajectories(registered: Registered) -> None:
    """Records and first position are those that the tables tell."""
    facts = registered.facts("trajectory/2-points.sbet")
    assert registered.files["trajectory/2-points.sbet"]["role"] == "trajectory"
    assert facts["records"] == 2
    first = [float(facts[key]) for key in ("first_s", "latitude", "longitude", "height_m")]
    told = (151631.0028, 32.5452166, -116.9781799, 107.7153)
    assert all(math.isclose(a, b, abs_tol=1e-4) for a, b in zip(first, told, strict=True))


@dataclass(frozen=True)
class Audited:
    """Every point file audited, each alone in its folder."""

    bench: JobBench
    folders: dict[str, Path]
    results: dict[str, dict[str, Any]]
    statuses: dict[str, int]


@pytest.fixture(scope="module")
def audited(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Audited:
    """Audit every point file alone, with a criterion for the density."""
    bench = make_bench(tmp_path_factory)
    bench.write("job.toml", b"[criteria.point-density]\nmin_pts_per_m2 = 1.0\n")
    folders, results, statuses = {}, {}, {}
    for path in list_point_files(shared_data):
        place = bench.copy(path, f"out/{path.name.replace('.', '_')}/{path.name}")
        folders[path.name] = place.parent
        ran = bench.run("audit", place.parent, "--json")
        assert ran.err == "", ran.err
        results[path.name] = json.loads(ran.out)
        statuses[path.name] = ran.status
    return Audited(bench, folders, results, statuses)


def list_point_files(shared_data: Path) -> list[Path]:
    """Return all open point files."""
    return [
        path for folder in POINT_FOLDERS for path in sorted((shared_data / folder).glob("*.la[sz]"))
    ]


def list_findings(result: dict[str, Any], check: str) -> list[dict[str, Any]]:
    """Return the findings of one check."""
    return [finding for finding in result["findings"] if finding["check"] == check]


def test_verdicts_of_single_files(audited: Audited) -> None:
    """A broken or misplaced file must not be sent; of the others too little is known to send."""
    assert len(audited.results) == 37
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
    assert found == MAJOR


def test_points_are_counted_as_others_count_them(
    audited: Audited, las_facts: dict[str, Any]
) -> None:
    """The points of every file, whole or not, are as many as other software decoded."""
    counted = {Path(name).name: facts["points_counted"] or 0 for name, facts in las_facts.items()}
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
    assert found == NO_CRS


@pytest.mark.parametrize(("name", "check", "words"), KNOWN)
def test_what_is_known_of_a_file_is_found(
    audited: Audited, name: str, check: str, words: str
) -> None:
    """What the tables of the collection tell of a file, the audit finds."""
    sentences = [f["sentence"] for f in list_findings(audited.results[name], check)]
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
        assert conforming <= {"header-uniformity"}, name


def test_every_audited_file_can_be_traced(audited: Audited) -> None:
    """A trace by path finds each file by its digest and names the audit that saw it."""
    for name, folder in audited.folders.items():
        traced = audited.bench.ask("trace", folder / name)
        assert (traced["known"], traced["matched_by"]) == (True, "digest"), name
        assert "audit" in {node["kind"] for node in traced["chain"]}, name
        ran = audited.bench.run("trace", folder / name)
        assert (ran.status, ran.err) == (0, "")
        assert name[:20] in ran.out


def test_every_registered_file_can_be_traced(registered: Registered) -> None:
    """A trace of some of each kind says that the file is raw, and in which entry it stands."""
    picked = {name.split("/")[0]: name for name in registered.files if "/" in name}
    for name in picked.values():
        traced = registered.bench.ask("trace", registered.root / name)
        assert traced["known"], name
        assert "registered in entry" in traced["sentence"], name


def test_the_registered_collection_is_as_recorded(registered: Registered) -> None:
    """A recheck reads every byte again and finds the collection as it was entered."""
    told = registered.bench.ask("recheck")
    assert (told["book"], told["files"]) == ("unbroken", [])
    assert told["counts"] == {"as recorded": len(registered.files)}


def test_all_point_files_together(
    shared_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """In one folder the same files have the same faults; nothing is lost in the crowd."""
    bench = make_bench(tmp_path_factory)
    for path in list_point_files(shared_data):
        bench.copy(path, f"out/{path.name}")
    result = bench.ask("audit", "out", status=1)
    assert (result["verdict"], result["files"]) == ("do not send", 37)
    majors = {
        finding["where"]["file"]
        for finding in result["findings"]
        if finding["grade"] == "major" and finding["where"]["file"]
    }
    assert majors >= set(MAJOR)
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    shown = bench.run("audit", "out")
    assert shown.status == 1
    assert shown.out.count("No recorded run or step made") < 6  # 37 files in the same state
    assert shown.out.count("\n") < 500
    assert shown.err == ""


def test_nothing_but_the_answer_is_printed(shared_data: Path, bench: JobBench) -> None:
    """Decoders and grid readers that complain by themselves are not heard; no traceback."""
    shutil.copytree(shared_data / "las-malformed", bench.job / "out", dirs_exist_ok=True)
    shutil.copytree(shared_data / "geoid-test", bench.job / "raw" / "geoid")
    for words, status in ((("audit", "out"), 1), (("register", "raw"), 0), (("recheck",), 0)):
        ran = bench.run_apart(*words)
        assert (ran.status, ran.err) == (status, ""), words
        assert "Traceback" not in ran.out
