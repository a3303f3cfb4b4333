"""Every file of the whole collection goes through the real commands: registered, audited, traced.

Held against what other software read and counted (`facts.json` and the tables of the collection of
open files, written with laspy 2.7.0 and by plain reading), and against the bytes themselves.
"""

from __future__ import annotations

import csv
import hashlib
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
from job_bench import JobBench, make_bench
from open_data import ABSENT, WITHOUT_CRS, find_collection

from ledger.trace import trace

if find_collection() is None:
    pytest.skip(ABSENT, allow_module_level=True)

# What cannot be read, with words of the line that has to be said of it.
FAULTY = {
    "geoid-test/egm96_15_uncompressed_truncated.tif": "ends early",
    "geoid-test/test_vgrid_single_strip_truncated.tif": "ends early",
    "las-malformed/1.2-with-color-clipped.las": "found 1064, expected 1065",
    "las-malformed/broken_coder.laz": "unknown coder (15)",
    "las-malformed/broken_size.laz": "unknown kind of item (type 6, version 6)",
    "las-malformed/broken_type.laz": "unknown kind of item (type 22, version 1)",
    "trajectory/badfile.sbet": "inside a record",
}
# Published check vectors: texts and bytes that are no files of a survey.
VECTORS = (
    "bagit",
    "coordinates",
    "ed25519",
    "licenses",
    "merkle",
    "prov",
    "rfc8785",
    "signed-note",
    "tlog",
)


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
    # A recheck by another test may have come before.
    kinds = ("files", "sighting")
    entries = [entry for entry in registered.bench.read_journal() if entry.kind in kinds]
    assert [entry.kind for entry in entries] == ["files", "sighting"]
    assert sum(entry.values["count"] for entry in entries) == len(registered.files)


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
        assert (facts["crs"].startswith(("none", "not readable"))) == (
            Path(name).name in WITHOUT_CRS
        ), (
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
    assert trimble["separation_m"] == -32.133


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
    assert (world["columns"], world["step_x"]) == (1440, 0.25)  # 360 degrees in steps of 15'
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


def test_every_registered_file_can_be_traced(registered: Registered) -> None:
    """A trace says of each file that it is raw and in which entry it stands; some are typed."""
    for name in registered.files:
        traced = trace(registered.bench.job, str(registered.root / name))
        assert traced.known, name
        assert "registered in entry" in traced.sentence, name
    for name in {name.split("/")[0]: name for name in registered.files}.values():
        told = registered.bench.ask("trace", registered.root / name)
        assert (told["known"], "registered in entry" in told["sentence"]) == (True, True), name


def test_the_registered_collection_is_as_recorded(registered: Registered) -> None:
    """A recheck reads every byte again and finds the collection as it was entered."""
    told = registered.bench.ask("recheck")
    assert (told["book"], told["files"]) == ("unbroken", [])
    assert told["counts"] == {"as recorded": len(registered.files)}


def test_the_whole_collection_is_audited(
    shared_data: Path, las_facts: dict[str, Any], bench: JobBench
) -> None:
    """Every file of the collection in one delivery: none is passed over, no check breaks on any."""
    shutil.copytree(shared_data, bench.job / "out", dirs_exist_ok=True)
    result = bench.ask("audit", "out", status=1)
    assert result["verdict"] == "do not send"
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    assert result["points"] == sum(facts["points_counted"] or 0 for facts in las_facts.values())
    (*_, entry) = (entry for entry in bench.read_journal() if entry.kind == "audit")
    listed = {row["path"]: row["sha256"] for row in bench.read_list(entry, "manifest")}
    there = {
        path.relative_to(shared_data).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in shared_data.rglob("*")
        if path.is_file()
    }
    assert len(there) >= 700
    assert listed == there


def test_nothing_but_the_answer_is_printed(shared_data: Path, bench: JobBench) -> None:
    """Decoders and grid readers that complain by themselves are not heard; no traceback."""
    shutil.copytree(shared_data / "las-malformed", bench.job / "out", dirs_exist_ok=True)
    shutil.copytree(shared_data / "geoid-test", bench.job / "raw" / "geoid")
    for words, status in ((("audit", "out"), 1), (("register", "raw"), 0), (("recheck",), 0)):
        ran = bench.run_apart(*words)
        assert (ran.status, ran.err) == (status, ""), words
        assert "Traceback" not in ran.out
