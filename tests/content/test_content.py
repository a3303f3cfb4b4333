"""What a file says of itself: by content where content can tell, never an error for bad content."""

from __future__ import annotations

import bz2
import errno
import gzip
import json
import os
import struct
from pathlib import Path

import pytest
from open_data import SMALL_SET, OpenFile, find_collection

from ledger.canonical import encode
from ledger.content import read_facts
from ledger.lasfacts import describe_las
from ledger.lasheader import read_las_header
from ledger.model.artefact import Role
from ledger.testing import Layout, SurveyBuilder

RINEX = (
    "     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n"
    "BASE                                                        MARKER NAME\n"
    "                                                            END OF HEADER\n"
    "> 2026 05 14 08 00  0.0000000  0  1\n"
)
SENTENCE = "$GNZDA,080000.00,14,05,2026,00,00*76\r\n"  # the exclusive or of what stands between
TABLE = "id,easting,northing,height\nA,1.0,2.0,3.0\nB,1.0,2.0,3.0\n"
PLAIN_TABLE = "A,1.0,2.0,3.0\nB,1.0,2.0,3.0\n"


def write(folder: Path, name: str, content: str | bytes) -> Path:
    """Write a file."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@pytest.fixture(scope="module")
def las(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a sound LAS file."""
    survey = SurveyBuilder(tmp_path_factory.mktemp("survey"), Layout(compressed=False))
    return survey.path(0).read_bytes()


@pytest.mark.parametrize(
    ("name", "content", "role"),
    [
        ("base.log", RINEX, Role.BASE_LOG),
        ("flight.bin", SENTENCE, Role.FLIGHT_LOG),
        ("a", b"\xff\xd8\xff\xe0", Role.PHOTO),
        ("a", b"\x89PNG\r\n\x1a\n", Role.PHOTO),
        ("site.geojson", '{"type": "FeatureCollection", "features": []}', Role.BOUNDARY),
        ("site.json", '{"type": "Polygon", "coordinates": []}', Role.BOUNDARY),
        ("points.csv", TABLE, Role.CHECKPOINTS),
        ("control.csv", TABLE, Role.CONTROL),
        ("track.csv", TABLE, Role.TRAJECTORY),
        ("traj_1.txt", TABLE, Role.TRAJECTORY),
        ("points.csv", PLAIN_TABLE, Role.DOCUMENT),
        ("notes.txt", "wind from the west\n", Role.DOCUMENT),
        ("lever-arm-calibration.txt", "0.1 0.2 0.3\n", Role.DOCUMENT),
        ("Calib_2026.dat", "0.1 0.2 0.3\n", Role.CALIBRATION),
        ("settings.json", "{}", Role.CONFIG),
        ("settings.YAML", "a: 1", Role.CONFIG),
        ("desktop.log", "finished\n", Role.RUN_LOG),
        ("report.pdf", b"%PDF-1.7\x00", Role.REPORT),
        ("notes", "wind from the west\n", Role.DOCUMENT),
        ("scan.bin", b"\x00\x01\x02", Role.CAPTURE),
        ("empty", b"", Role.DOCUMENT),
    ],
)
def test_the_role_is_guessed(tmp_path: Path, name: str, content: bytes, role: Role) -> None:
    """Content decides; where it cannot, the name does; what is no text is taken for raw data."""
    assert read_facts(write(tmp_path, name, content)).role is role


@pytest.mark.parametrize("name", ["a.las", "a.bin", "notes.txt", "base.26o"])
def test_a_point_file_is_one_whatever_its_name(tmp_path: Path, las: bytes, name: str) -> None:
    """The first four bytes make a LAS file, not its name."""
    facts = read_facts(write(tmp_path, name, las))
    assert (facts.role, facts.values["version"], facts.fault) == (Role.CAPTURE, "1.4", "")


@pytest.mark.parametrize(("compress", "ending"), [(gzip.compress, "gz"), (bz2.compress, "bz2")])
def test_compressed_field_logs_are_looked_into(tmp_path: Path, compress, ending: str) -> None:
    """A base log is one through gzip and bzip2."""
    facts = read_facts(write(tmp_path, f"base.26o.{ending}", compress(RINEX.encode())))
    assert (facts.role, facts.values["marker"]) == (Role.BASE_LOG, "BASE")


@pytest.mark.parametrize(
    "content",
    [b"no such stream", gzip.compress(RINEX.encode() * 99, mtime=0)[:60], b"", b"\x1f\x8b\x08"],
    ids=["no stream", "cut", "empty", "cut in its header"],
)
@pytest.mark.parametrize("ending", ["gz", "bz2"])
def test_a_broken_compressed_file_is_a_fact(tmp_path: Path, content: bytes, ending: str) -> None:
    """A stream that cannot be unpacked is registered with what is wrong, or as what it holds."""
    facts = read_facts(write(tmp_path, f"base.26o.{ending}", content))
    assert facts.values == {}
    assert facts.fault or content == b""
    assert "cannot be read" not in facts.fault  # every screen says so before the reason


def test_a_file_that_is_gone_is_a_fact(tmp_path: Path) -> None:
    """A file that went away between hashing and reading has a fault and no facts."""
    facts = read_facts(tmp_path / "gone.las")
    assert facts.fault == os.strerror(errno.ENOENT)
    assert str(tmp_path) not in facts.fault


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.laz", b"not a point file at all", "LASF"),
        ("a.sbet", bytes(135), "ends inside a record"),
        ("a.gtx", bytes(10), ""),
        ("a.tif", b"II*\x00\xff\xff\xff\xff", ""),
        ("a.geojson", "{", "boundary cannot be read"),
        ("a.geojson", "[" * 100_000, "boundary cannot be read"),
        ("a.geojson", b"\xff\xff", "boundary cannot be read"),
        ("a.geojson", '{"features": null}', "no GeoJSON"),
        ("a.geojson", "[]", "no GeoJSON"),
        ("a.26o", RINEX[:81], "has no end"),
    ],
)
def test_bad_content_is_one_line_without_its_place(
    tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    """What is wrong is said in one line that holds wherever the file lies."""
    facts = read_facts(write(tmp_path, name, content))
    assert words in facts.fault
    assert facts.fault
    assert "\n" not in facts.fault
    assert str(tmp_path) not in facts.fault
    assert facts.values == {}


@pytest.mark.parametrize(
    ("name", "role"),
    [("geoid/a.tif", Role.GEOID), ("a-geoid.tif", Role.GEOID), ("out/dtm.tif", Role.RASTER)],
)
def test_a_raster_is_a_geoid_by_its_own_name(tmp_path: Path, name: str, role: Role) -> None:
    """A job called after a geoid does not make a terrain model one."""
    path = write(tmp_path / "geoid-job", name, b"II*\x00\xff\xff\xff\xff")
    assert read_facts(path).role is role


def test_a_real_geoid_grid_is_one_by_content(tmp_path: Path, open_file: OpenFile) -> None:
    """A grid that says what it holds needs no telling name."""
    grid = open_file("geoid-test/us_noaa_geoid06_ak_subset_at_antimeridian.tif")
    facts = read_facts(write(tmp_path, "a.tif", grid.read_bytes()))
    assert (facts.role, facts.values["is_geoid"]) == (Role.GEOID, True)


def test_a_table_tells_what_was_understood(tmp_path: Path) -> None:
    """Rows, separator and the meaning of columns are facts; comments are kept, but not all."""
    remarks = "".join(f"# remark {n} {'x' * 500}\n" for n in range(100))
    values = read_facts(write(tmp_path, "points.csv", remarks + TABLE)).values
    assert (values["rows"], values["separator"]) == (2, "comma")
    assert values["understood"]["height"] == "height"
    assert (len(values["comments"]), max(map(len, values["comments"]))) == (40, 200)


def test_a_cell_without_an_end_is_no_table(tmp_path: Path) -> None:
    """A quote that is never closed makes no table of a text, and no error."""
    facts = read_facts(write(tmp_path, "points.csv", 'a,b,"' + "x" * 200_000 + "\n"))
    assert (facts.role, facts.values) == (Role.DOCUMENT, {})


@pytest.mark.parametrize(
    ("point_format", "time"),
    [(0, None), (1, "adjusted GPS"), (2, None), (3, "adjusted GPS")],
)
def test_times_are_facts_only_where_points_have_them(
    tmp_path: Path, point_format: int, time: str | None
) -> None:
    """Point formats 0 and 2 carry no time, so the flag of the header says nothing of it."""
    survey = SurveyBuilder(tmp_path, Layout(version="1.2", point_format=point_format))
    assert read_facts(survey.path(0)).values.get("time") == time


def test_a_count_beyond_whole_numbers_of_json_is_a_text(tmp_path: Path, las: bytes) -> None:
    """A header that states 2^60 points gives facts that the book can store."""
    content = bytearray(las)
    struct.pack_into("<Q", content, 247, 2**60)
    values = read_facts(write(tmp_path, "a.las", bytes(content))).values
    assert values["points"] == str(2**60)
    encode(dict(values))


def test_blank_header_fields_are_no_facts(tmp_path: Path, las: bytes) -> None:
    """What a header leaves blank is left out, not entered as blank."""
    content = bytearray(las)
    content[26:90] = bytes(64)
    struct.pack_into("<HH", content, 90, 0, 0)
    values = describe_las(read_las_header(write(tmp_path, "a.las", bytes(content))))
    assert not {"software", "system", "created", "notes"} & values.keys()


def test_facts_are_canonical_for_every_open_file() -> None:
    """Whatever an open file holds, its facts can be stored, and a fault is one line."""
    count = 0
    for path in sorted((find_collection() or SMALL_SET).rglob("*")):
        if path.is_file():
            facts = read_facts(path)
            stored = json.loads(encode({"facts": dict(facts.values), "fault": facts.fault}))
            assert "\n" not in stored["fault"], path.name
            count += 1
    assert count > 60


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("base.26o.gz", b"no gzip at all"),
        ("base.26o.gz", gzip.compress(b"     3.05           OBSERVATION DATA" * 400, mtime=0)[:60]),
        ("base.26o", b"> 2026 05 12 13 48 18.0000000  0  1\n"),
        ("P43300USA_R_20190012056_17M_15S_MO.rnx", b"G01  20000000.000\n"),
        (
            "base.26o",
            b"     3.05           OBSERVATION DATA    M".ljust(60) + b"RINEX VERSION / TYPE\n",
        ),
    ],
)
def test_a_broken_base_log_says_what_to_do(tmp_path: Path, name: str, content: bytes) -> None:
    """Cut, not packed at all, without a header or without its end: from where to get it again."""
    fault = read_facts(write(tmp_path, name, content)).fault
    assert "again" in fault
    assert "\n" not in fault
    assert str(tmp_path) not in fault
