"""Two sets of files: the same bytes, the same points, the same surface, or different.

Real files are altered with laspy, the reference library, and what differs is counted with it.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest
import tifffile
from altered_clouds import count_places, rewrite, split, write_ground
from job_bench import JobBench, run_here

from ledger.cli.frame import main
from ledger.compare.setresult import Change, Grade
from ledger.compare.sets import MEAN_LIMIT_M, P95_LIMIT_M, compare_sets
from ledger.compare.sides import read_folder
from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.model.ask import NoProgress

SILENT = NoProgress()
REAL = ("las/1815.las", "las/crop.las", "las/1.2-with-color.las", "las/wontcompress3.las")


def compare(first: Path, second: Path) -> Any:
    """Hold two paths against each other, outside any job."""
    sides = [read_folder(path, path.name, None, SILENT) for path in (first, second)]
    return compare_sets(sides[0], sides[1], None, SILENT)


@pytest.fixture(params=REAL)
def real(request, open_file, tmp_path) -> Path:
    """Return a copy of a real point file in a folder of its own."""
    source = open_file(request.param)
    (tmp_path / "a").mkdir()
    return Path(shutil.copy(source, tmp_path / "a"))


def test_the_same_bytes_are_identical_under_any_name(real, tmp_path):
    """Equal digests settle it; no point is read, and another name is said."""
    shutil.copytree(real.parent, tmp_path / "b")
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.IDENTICAL, Change.NOTHING)
    shutil.copy(real, tmp_path / "b" / "more.las")
    shutil.copy(real, real.parent / "other.las")
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.IDENTICAL, Change.NAMES)
    assert not found.points_read


def test_a_real_file_cut_into_tiles_in_another_order_has_the_same_points(real, tmp_path):
    """24 tiles of 80 m and the same as 40 m: bytes differ, the points of all together do not."""
    split(real, tmp_path / "b", 4)
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.SAME_POINTS, Change.TILING)
    assert found.first.points == found.second.points == sum(count_places(real).values())
    assert found.is_same


def test_the_same_points_packed_otherwise_are_the_same(real, tmp_path):
    """LAZ for LAS: the points are the same, and what differs in the header is named."""
    rewrite(real, tmp_path / "b" / f"{real.stem}.laz")
    found = compare(real.parent, tmp_path / "b")
    assert found.grade is Grade.SAME_POINTS
    assert found.change is Change.HEADER
    assert ("compression", "LAS", "LAZ") in [(e.field, e.before, e.after) for e in found.headers]


def test_an_edited_header_is_told_by_its_key(real, tmp_path):
    """Byte 58 of the header is the generating software (ASPRS LAS 1.4 R15, public header block)."""
    edited = tmp_path / "b" / real.name
    edited.parent.mkdir()
    content = bytearray(real.read_bytes())
    content[58 : 58 + 32] = b"another program".ljust(32, b"\0")
    edited.write_bytes(content)
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.SAME_POINTS, Change.HEADER)
    assert [(each.field, each.after) for each in found.headers] == [("software", "another program")]
    assert found.is_same


def test_another_crs_text_is_told_and_is_not_the_same_survey(tmp_path, open_file):
    """The zone in the WKT is edited: the points are the same, and lie elsewhere."""
    source = Path(shutil.copy(open_file("las/wontcompress3.las"), tmp_path))
    content = source.read_bytes()
    edited = tmp_path / "b.las"
    edited.write_bytes(content.replace(b'central_meridian",-69', b'central_meridian",-75'))
    found = compare(source, edited)
    assert (found.grade, found.change) == (Grade.SAME_POINTS, Change.CRS_TEXT)
    assert "another system" in found.headers[0].effect
    assert not found.is_same


def test_other_words_for_one_system_are_no_other_survey(tmp_path, open_file):
    """The name alone is edited: the same system in other words."""
    source = Path(shutil.copy(open_file("las/wontcompress3.las"), tmp_path))
    content = source.read_bytes()
    edited = tmp_path / "b.las"
    edited.write_bytes(content.replace(b'PROJCS["NAD83 /', b'PROJCS["NADxx /', 1))
    assert edited.read_bytes() != content
    found = compare(source, edited)
    assert (found.grade, found.change) == (Grade.SAME_POINTS, Change.CRS_TEXT)
    assert found.headers[0].effect == "the same system in other words"
    assert found.is_same


def test_only_classes_changed(real, tmp_path):
    """Geometry and pulses are equal; the number of points and the classes are told."""

    def edit(las):
        classes = np.array(las.classification)
        classes[:7] = np.where(classes[:7] == 9, 8, 9)
        las.classification = classes

    rewrite(real, tmp_path / "b" / real.name, edit=edit)
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.DIFFERENT, Change.CLASSES)
    points = found.points
    assert (points.only_first, points.only_second, points.altered) == (0, 0, 7)
    assert points.fields == ("classification",)
    assert sum(after - before for before, after in points.classes.values()) == 0
    assert not found.is_same


def test_intensities_that_changed_are_named_and_are_no_classes(real, tmp_path):
    """Another field is not called a class."""

    def edit(las):
        las.intensity = np.array(las.intensity) ^ np.uint16(1)

    rewrite(real, tmp_path / "b" / real.name, edit=edit)
    found = compare(real.parent, tmp_path / "b")
    assert (found.change, found.points.fields) == (Change.FIELDS, ("intensity",))
    assert found.points.altered == sum(count_places(real).values())


def test_points_left_out_are_counted_and_placed(real, tmp_path):
    """Five points are left out: five are missing, in cells that hold their places."""
    with laspy.open(real) as reader:
        las = reader.read()
    out = np.arange(5)
    rewrite(real, tmp_path / "b" / real.name, np.arange(5, len(las.points)))
    found = compare(real.parent, tmp_path / "b")
    assert (found.grade, found.change) == (Grade.DIFFERENT, Change.REMOVED)
    assert (found.points.only_first, found.points.only_second) == (5, 0)
    half = found.points.cell_size / 2
    for x, y in zip(np.array(las.x)[out], np.array(las.y)[out], strict=True):
        assert any(
            abs(cell.x - x) <= half + 1e-6 and abs(cell.y - y) <= half + 1e-6
            for cell in found.points.cells
        )
    assert sum(cell.before - cell.after for cell in found.points.cells) == 5
    back = compare(tmp_path / "b", real.parent)
    assert (back.change, back.points.only_second) == (Change.ADDED, 5)


def test_points_that_moved_by_one_step_are_counted_exactly(real, tmp_path):
    """Three of a real file move by a tenth of a thousandth of a unit, or the step of its scale."""

    def edit(las):
        z = np.array(las.Z)
        z[[0, len(z) // 2, len(z) - 1]] += max(1, round(1e-4 / las.header.scales[2]))
        las.Z = z

    moved = rewrite(real, tmp_path / "b" / real.name, edit=edit)
    found = compare(real.parent, tmp_path / "b")
    before, after = count_places(real), count_places(moved)
    assert (found.grade, found.change) == (Grade.DIFFERENT, Change.MOVED)
    assert found.points.only_first == (before - after).total()
    assert found.points.only_second == (after - before).total()
    assert 0 < found.points.only_first <= 3


@pytest.mark.parametrize(
    ("shift", "grade", "word"),
    [
        ((0, 0, 0), Grade.EQUIVALENT, ""),
        ((0, 0, 0.0045), Grade.EQUIVALENT, ""),
        ((0, 0, 0.0055), Grade.DIFFERENT, "in the mean"),
        ((0, 0, -0.0055), Grade.DIFFERENT, "in the mean"),
        ((0.019, 0, 0), Grade.EQUIVALENT, ""),
        ((0.021, 0, 0), Grade.DIFFERENT, "east"),
        ((0, -0.021, 0), Grade.DIFFERENT, "north"),
    ],
)
def test_another_processing_is_equivalent_up_to_the_gate(tmp_path, shift, grade, word):
    """0.005 m in the mean and 0.02 m sideways, a little inside and a little outside of each."""
    write_ground(tmp_path / "a" / "t.las")
    write_ground(tmp_path / "b" / "t.las", shift=shift, seed=2)
    found = compare(tmp_path / "a", tmp_path / "b")
    assert found.change is Change.PROCESSING
    assert found.grade is grade, found.notes
    assert all(word in note for note in found.notes[-1:]) or not word
    heights, pulses = found.points.heights, found.points.pulses
    assert heights.cells > 800
    assert heights.mean_m == pytest.approx(shift[2], abs=0.0003)
    assert (pulses.east_m, pulses.north_m) == pytest.approx(shift[:2], abs=0.0005)
    assert pulses.pairs == 30 * 30 * 9
    assert not found.is_same


def test_a_count_that_differs_by_more_than_half_a_percent_is_not_equivalent(tmp_path):
    """40 of 8100 points are within 0.5 %, 41 are not."""
    write_ground(tmp_path / "a.las")
    for drop, grade in ((40, Grade.EQUIVALENT), (41, Grade.DIFFERENT)):
        write_ground(tmp_path / "b.las", seed=2, drop=drop)
        assert compare(tmp_path / "a.las", tmp_path / "b.las").grade is grade


@pytest.mark.parametrize(("noise", "grade"), [(0.026, Grade.EQUIVALENT), (0.033, Grade.DIFFERENT)])
def test_heights_that_scatter_are_equivalent_up_to_the_gate(tmp_path, noise, grade):
    """Nine points a cell: noise of 0.031 m a point leaves 1.96 · 0.031 / 3 = 0.02 m at 95 %."""
    write_ground(tmp_path / "a.las")
    write_ground(tmp_path / "b.las", seed=2, noise=noise)
    found = compare(tmp_path / "a.las", tmp_path / "b.las")
    assert abs(found.points.heights.mean_m) < MEAN_LIMIT_M
    assert (found.points.heights.p95_m <= P95_LIMIT_M) is (grade is Grade.EQUIVALENT)
    assert found.grade is grade, found.notes


@pytest.mark.parametrize(("side", "grade"), [(5, Grade.DIFFERENT), (6, Grade.EQUIVALENT)])
def test_too_few_stable_cells_say_nothing(tmp_path, side, grade):
    """25 cells are fewer than 30, 36 are not."""
    write_ground(tmp_path / "a.las", side=side)
    write_ground(tmp_path / "b.las", seed=2, side=side)
    found = compare(tmp_path / "a.las", tmp_path / "b.las")
    assert found.grade is grade, found.notes


def test_without_time_a_shift_sideways_cannot_be_seen_and_nothing_is_equivalent(tmp_path):
    """Level ground moved by a metre has the same heights; what cannot be told is no pass."""
    write_ground(tmp_path / "a.las", times=False)
    write_ground(tmp_path / "b.las", times=False, seed=2)
    found = compare(tmp_path / "a.las", tmp_path / "b.las")
    assert found.grade is Grade.DIFFERENT
    assert any("sideways" in note for note in found.notes)


def test_rasters_are_compared_by_bytes_and_documents_do_not_count(tmp_path):
    """A height model that differs is a difference; a log that differs is told."""
    for name in "ab":
        write_ground(tmp_path / name / "t.las", seed=1)
        (tmp_path / name / "run.log").write_text(name, encoding="utf-8")
    found = compare(tmp_path / "a", tmp_path / "b")
    assert (found.grade, found.change) == (Grade.SAME_POINTS, Change.FILES)
    assert [(other.name, other.state) for other in found.others] == [("run.log", "other bytes")]
    for name, height in (("a", 1.0), ("b", 2.0)):
        tifffile.imwrite(tmp_path / name / "dtm.tif", np.full((3, 3), height, "f4"))
    found = compare(tmp_path / "a", tmp_path / "b")
    assert (found.grade, found.change) == (Grade.DIFFERENT, Change.FILES)
    (tmp_path / "b" / "dtm.tif").unlink()
    found = compare(tmp_path / "a", tmp_path / "b")
    assert (found.grade, found.is_same) == (Grade.SAME_POINTS, False)
    assert ("dtm.tif", "only first") in [(other.name, other.state) for other in found.others]


def test_a_file_that_cannot_be_read_is_an_error_and_never_alike(tmp_path):
    """Cut in the middle of its points, and not there at all."""
    whole = write_ground(tmp_path / "a.las")
    (tmp_path / "b.las").write_bytes(whole.read_bytes()[:-1000])
    with pytest.raises(MalformedFileError):
        compare(whole, tmp_path / "b.las")
    with pytest.raises(UnreadableFileError):
        compare(whole, tmp_path / "c.las")


def test_nothing_is_left_behind(tmp_path, monkeypatch):
    """What is kept meanwhile goes when the answer is there."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    write_ground(tmp_path / "a.las")
    write_ground(tmp_path / "b.las", seed=2)
    sides = [read_folder(tmp_path / name, name, None, SILENT) for name in ("a.las", "b.las")]
    compare_sets(sides[0], sides[1], scratch, SILENT)
    assert list(scratch.iterdir()) == []


def test_fingerprints_of_the_book_spare_the_reading(bench: JobBench, open_file):
    """Two recorded runs with the same points: nothing is decoded, inside the job."""
    source = open_file("las/1815.las")
    bench.copy(source, "out/R1/a.las")
    split(source, bench.job / "out" / "R2", 3)
    for run in ("R1", "R2"):
        assert bench.run("record", f"out/{run}", "--set", "version=1").status == 0
    told = bench.ask("compare", "out/R1", "out/R2")
    assert (told["same"], told["change"]) == ("same points", "tiling or order")
    assert told["points_read"] is False
    told = bench.ask("compare", "R1", "out/R2", "--expect", "same")
    assert told["same"] == "same points"
    for words in (["R1", "R2"], []):  # without words the last two runs
        told = bench.ask("compare", *words, "--outputs")
        assert (told["same"], told["a"]["label"]) == ("same points", "R1")
    assert "two runs" in bench.refuse("compare", "R1", "out/R2", "--outputs")[0]


def test_a_deliverable_is_what_was_audited(bench: JobBench, open_file):
    """D1 against the folder as it is now; a file that changed since is none of it."""
    source = open_file("las/1815.las")
    bench.copy(source, "deliver/a.las")
    bench.run("audit", "deliver")
    assert bench.ask("compare", "D1", "deliver")["same"] == "identical"
    rewrite(source, bench.job / "deliver" / "a.las", slice(0, 100))
    told = bench.ask("compare", "D1", "deliver")
    assert told["same"] == "different"
    assert bench.run("compare", "D1", "deliver", "--expect", "same").status == 1
    assert bench.refuse("compare", "D9", "deliver") == [
        "there is no such deliverable: found D9, expected D1"
    ]


def test_words_that_mean_nothing_or_two_things(bench: JobBench, tmp_path):
    """One line each, and status 2; nothing is entered."""
    bench.write("out/a.txt", b"a")
    bench.write("R1", b"a")
    bench.write("out/R1/b.tif", b"II*\x00\x08\x00\x00\x00\x00\x00")
    bench.run("record", "out/R1", "--set", "version=1")
    assert "is both run R1 of the book and a path here" in bench.refuse("compare", "R1", "out")[0]
    assert "no such run or step, file or folder" in bench.refuse("compare", "x", "out")[0]
    assert "one of them is a job folder" in bench.refuse("compare", ".", "out")[0]
    ran = run_here(["compare", "R1", "R2"], tmp_path)
    assert ran.status == 2
    assert ran.err.startswith("swathbook: R1 is an id of a job, and there is no job here; stand in")


def test_folders_are_compared_outside_any_job(tmp_path, capsys):
    """No book is needed to say whether two folders hold the same points."""
    write_ground(tmp_path / "a" / "t.las")
    write_ground(tmp_path / "b" / "t.las", seed=2)
    assert main(["compare", str(tmp_path / "a"), str(tmp_path / "b")]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("Equivalent\n")
    assert "stable cells" in shown
    assert main(["compare", str(tmp_path / "a"), str(tmp_path / "b"), "--expect", "same"]) == 1
