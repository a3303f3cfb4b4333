"""Bad point files: registered by their bytes, a major finding in an audit, the others go on.

Offsets in the header: ASPRS LAS 1.4 R15, public header block.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Callable
from pathlib import Path

import laspy
import pytest
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

PLAIN = Layout(compressed=False)
PACKED = Layout(compressed=True)
ONE_TILE = Scene(columns=1)

Spoil = Callable[[SurveyBuilder], object]


def put(offset: int, kind: str, *values: float) -> Callable[[Path], None]:
    """Return damage that overwrites numbers of the header."""

    def overwrite(path: Path) -> None:
        content = bytearray(path.read_bytes())
        struct.pack_into(f"<{kind}", content, offset, *values)
        path.write_bytes(content)

    return overwrite


UNREADABLE: dict[str, tuple[Layout, Spoil]] = {
    "no bytes": (PLAIN, lambda survey: survey.empty_file(0)),
    "three bytes": (PLAIN, lambda survey: survey.cut_inside_header(0, 3)),
    "not a LAS file": (PLAIN, lambda survey: survey.bad_signature(0)),
    "cut inside the header": (PLAIN, lambda survey: survey.cut_inside_header(0, 200)),
    "cut before the last header field": (PLAIN, lambda survey: survey.cut_inside_header(0, 374)),
    "cut in a variable length record": (PLAIN, lambda survey: survey.cut_inside_header(0, 400)),
    "cut on a record boundary": (PLAIN, lambda survey: survey.cut_on_record(0)),
    "cut after the first record": (PLAIN, lambda survey: survey.cut_on_record(0, 3000)),
    "cut mid-record": (PLAIN, lambda survey: survey.cut_mid_record(0)),
    "no record left": (PLAIN, lambda survey: survey.cut_on_record(0, 3675)),
    "LAZ cut to 90 %": (PACKED, lambda survey: survey.cut_share(0, 0.9)),
    "LAZ cut to half": (PACKED, lambda survey: survey.cut_share(0, 0.5)),
    "LAZ without its last byte": (PACKED, lambda survey: survey.damage(0, cut_last)),
    "count of 2^60": (PLAIN, lambda survey: survey.wrong_count(0, 2**60)),
    "count of 2^64 - 1": (PLAIN, lambda survey: survey.wrong_count(0, 2**64 - 1)),
    "LAZ with a count of 2^60": (PACKED, lambda survey: survey.wrong_count(0, 2**60)),
    "scale 0": (PLAIN, lambda survey: survey.stored_scale(0, 0.0, 0.0, 0.0)),
    "scale not a number": (PLAIN, lambda survey: survey.stored_scale(0, *(math.nan,) * 3)),
    "scale infinite": (PLAIN, lambda survey: survey.stored_scale(0, *(math.inf,) * 3)),
    "scale beyond reason": (PLAIN, lambda survey: survey.stored_scale(0, *(1e300,) * 3)),
    "scale next to nothing": (PLAIN, lambda survey: survey.stored_scale(0, *(5e-324,) * 3)),
    "offsets that overflow": (PLAIN, lambda s: s.damage(0, put(155, "3d", *(1.7e308,) * 3))),
    "offset not a number": (PLAIN, lambda s: s.damage(0, put(155, "3d", *(math.nan,) * 3))),
    "unknown point format": (PLAIN, lambda survey: survey.point_format_byte(0, 11)),
    "point format 63": (PLAIN, lambda survey: survey.point_format_byte(0, 63)),
    "records shorter than their format": (PLAIN, lambda s: s.damage(0, put(105, "H", 3))),
    "records of no length": (PLAIN, lambda s: s.damage(0, put(105, "H", 0))),
    "points that begin in the header": (PLAIN, lambda survey: survey.offset_to_points(0, 10)),
    "points that begin behind the end": (PLAIN, lambda s: s.offset_to_points(0, 0xFFFF_FFF0)),
    "a header of 65,535 bytes": (PLAIN, lambda s: s.damage(0, put(94, "H", 0xFFFF))),
    "a header of no bytes": (PLAIN, lambda s: s.damage(0, put(94, "H", 0))),
    "billions of records": (PLAIN, lambda survey: survey.huge_vlr_count(0)),
    "version 9.9": (PLAIN, lambda s: s.damage(0, put(24, "2B", 9, 9))),
    "extended records behind the end": (PLAIN, lambda s: s.damage(0, put(235, "QI", 2**63, 7))),
}


def cut_last(path: Path) -> None:
    """Cut the last byte off."""
    path.write_bytes(path.read_bytes()[:-1])


@pytest.mark.parametrize(("layout", "spoil"), UNREADABLE.values(), ids=UNREADABLE)
def test_a_bad_file_is_a_major_finding_and_the_others_go_on(
    bench: JobBench, layout: Layout, spoil: Spoil
) -> None:
    """In an audited folder it is one major finding, and the sound file beside it is read."""
    spoil(SurveyBuilder(bench.job / "out", layout, ONE_TILE))
    sound = SurveyBuilder(bench.job / "out" / "sound", PLAIN, ONE_TILE)
    name = next(path.name for path in (bench.job / "out").iterdir() if path.is_file())
    ran = bench.run("audit", "out")
    assert (ran.status, ran.err) == (1, "")
    assert "Traceback" not in ran.out
    result = bench.ask("audit", "out", status=1)
    (finding,) = [
        found
        for found in result["findings"]
        if found["check"] == "file-readable" and found["grade"] == "major"
    ]
    assert (finding["subject"], finding["where"]["file"]) == (name, name)
    assert finding["sentence"].startswith(name)
    assert "\n" not in finding["sentence"]
    assert len(finding["sentence"]) < 300
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []
    points = f"sound/{sound.path(0).name}"
    assert points not in {f["subject"] for f in result["findings"] if f["check"] == "file-readable"}
    assert result["points"] >= sound.count_points()
    assert len(bench.read_journal()) == 4  # start made two entries, and there were two audits


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_bad_file_is_registered_by_its_bytes(bench: JobBench, name: str) -> None:
    """Digest and fault are entered, in one line with numbers, and no point is decoded for it."""
    layout, spoil = UNREADABLE[name]
    spoil(SurveyBuilder(bench.job / "raw", layout, ONE_TILE))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(laspy, "LasReader", None)
        (file,) = bench.ask("register", "raw")["files"]
    assert (file["role"], file["new"]) == ("capture", True)
    assert "\n" not in file["fault"]
    assert len(file["fault"]) < 300
    if name == "LAZ without its last byte":  # only decoding its chunk table shows it
        assert file["facts"]
    else:
        assert "found" in file["fault"] or "the file is empty" in file["fault"]
    *_, entry = bench.read_journal()
    (row,) = bench.read_list(entry, "manifest")
    assert row["fault"] == file["fault"]
    traced = bench.ask("trace", file["path"])
    assert traced["known"]
    assert file["fault"] in json.dumps(traced, ensure_ascii=False)
    assert bench.ask("recheck")["counts"] == {"as recorded": 1}
    shown = bench.run("register", "raw")
    assert (shown.status, shown.err) == (0, "")
    assert ("cannot be read" in shown.out) == bool(file["fault"])
    assert "".join(file["fault"].split()) in "".join(shown.out.split())


@pytest.mark.parametrize(("layout", "spoil"), UNREADABLE.values(), ids=UNREADABLE)
def test_a_bad_file_that_nobody_entered_is_unknown(
    bench: JobBench, layout: Layout, spoil: Spoil
) -> None:
    """A trace of it says that the book does not know it, with exit status 1, and enters nothing."""
    spoil(SurveyBuilder(bench.job / "out", layout, ONE_TILE))
    path = next(path for path in (bench.job / "out").iterdir() if path.is_file())
    before = bench.read_journal()
    ran = bench.run("trace", path)
    assert (ran.status, ran.err) == (1, ""), ran
    assert bench.ask("trace", path, status=1)["known"] is False
    assert bench.read_journal() == before


@pytest.mark.parametrize(("layout", "spoil"), UNREADABLE.values(), ids=UNREADABLE)
def test_a_bad_file_is_recorded_as_what_it_is(
    bench: JobBench, layout: Layout, spoil: Spoil
) -> None:
    """As output of a run it is entered with its fault, or the command is refused in one line."""
    spoil(SurveyBuilder(bench.job / "out" / "R1", layout, ONE_TILE))
    before = len(bench.read_journal())
    ran = bench.run("record", "out/R1", "--together")
    assert ran.status in (0, 2)
    assert len(ran.lines) == (1 if ran.status else 0), ran.err
    assert len(bench.read_journal()) == before + (0 if ran.status else 1)


BOXES = {
    "a box beyond reason": (1e300, -1e300),
    "a box at the end of numbers": (1.7e308, -1.7e308),
    "a box without end": (math.inf, -math.inf),
    "a box of no numbers": (math.nan, math.nan),
    "a box turned round": (-1e9, 1e9),
    "a box next to nothing": (5e-324, -5e-324),
    "a box of one huge side": (1e18, 0.0),
}


@pytest.mark.parametrize(("high", "low"), BOXES.values(), ids=BOXES)
@pytest.mark.parametrize("scale", [0.001, 1e-300, 1e150])
def test_a_box_that_cannot_be_breaks_no_check(
    bench: JobBench, high: float, low: float, scale: float
) -> None:
    """Whatever box and scale one tile states, every check ends, and says so about that tile."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, Scene(columns=2, rows=2, density=1.0))
    survey.damage(0, put(179, "6d", high, low, high, low, high, low))
    if scale != PLAIN.scale:
        survey.stored_scale(0, scale, scale, scale)
    result = bench.ask("audit", "out", status=None)
    assert [f["sentence"] for f in result["findings"] if f["outcome"] == "errored"] == []
    told = [
        finding
        for finding in result["findings"]
        if finding["check"] in ("header-extent", "file-readable") and finding["grade"]
    ]
    assert {f["subject"] for f in told} == {survey.path(0).name}
    assert bench.run("audit", "out").err == ""


RUBBISH = [
    "",
    " ",
    "rubbish",
    "PROJCS",
    "PROJCS[",
    'PROJCS["a",GEOGCS["b",DATUM["c",SPHEROID["d",-1,0]]]]',
    "EPSG:6346",
    "\x1b[31mPROJCS[\x00\x01",
    "[" * 50_000,
    'GEOGCS["' + "x" * 60_000 + '"]',
    '{"type": "ProjectedCRS"}',
    "+proj=utm +zone=17",
    "PROJCS[" * 2_000,
]


@pytest.mark.parametrize("text", RUBBISH)
def test_rubbish_in_place_of_a_coordinate_system_is_a_fact(bench: JobBench, text: str) -> None:
    """A register says that it is not readable, and a trace says it again; the points are whole."""
    survey = SurveyBuilder(bench.job / "raw", PLAIN, ONE_TILE)
    survey.wkt_text(0, text)
    (file,) = bench.ask("register", "raw")["files"]
    assert file["fault"] == ""
    assert file["facts"]["crs"].startswith(("not readable: ", "none"))
    assert len(file["facts"]["crs"]) < 400
    assert file["facts"]["points"] == survey.count_points()
    traced = bench.run("trace", file["path"])
    assert (traced.status, traced.err) == (0, "")
    assert "\x1b[31m" not in traced.out
    assert max(len(line) for line in traced.out.splitlines()) <= 100


@pytest.mark.parametrize("text", RUBBISH)
def test_rubbish_in_place_of_a_coordinate_system(bench: JobBench, text: str) -> None:
    """It is a finding about the coordinate system, and neither a crash nor a pass."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, ONE_TILE)
    survey.wkt_text(0, text)
    ran = bench.run("audit", "out")
    assert (ran.status, ran.err) == (3, "")
    assert "\x1b[31m" not in ran.out
    result = bench.ask("audit", "out", status=3)
    (finding,) = [found for found in result["findings"] if found["check"] == "crs-present"]
    assert finding["outcome"] == "nonconforming"
    assert len(finding["sentence"]) < 400
    assert result["points"] == survey.count_points()


def test_the_libraries_would_have_read_some_of_these(bench: JobBench) -> None:
    """A file cut on a record boundary is read by laspy without a word, so the tests are needed."""
    survey = SurveyBuilder(bench.job / "out", PLAIN, ONE_TILE).cut_on_record(0)
    assert len(laspy.read(survey.path(0)).points) == survey.count_points() - 1
