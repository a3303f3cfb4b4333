"""Which files are outputs of a run, and which of them wait for one."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest
from open_data import SMALL_SET, OpenFile, PointFacts
from recorded_runs import MakeTile, record, watch_hashing

from ledger.canonical import compute_digest
from ledger.errors import FaultsError, UnreadableFileError, UsageError
from ledger.model.entry import Kind
from ledger.model.known import KnownBy
from ledger.store.reading import Book

# Open files that cannot be read to their last point.
DAMAGED = {"1.2-with-color-clipped.las", "broken_coder.laz", "broken_size.laz", "broken_type.laz"}


# Files that are no sound points.


def test_other_files_are_outputs_too(job: Path, make_tile: MakeTile, put_file: MakeTile) -> None:
    """A raster and a report belong to the run; hidden files and thumbnails do not."""
    make_tile("out/tile.las")
    put_file("out/dtm.tif", b"II*\x00rest")
    put_file("out/report.pdf", b"%PDF")
    put_file("out/.cache")
    put_file("out/Thumbs.db")
    put_file("out/~$report.docx")
    outputs = {output.file.path: output for output in record(job).outputs}
    assert list(outputs) == ["out/dtm.tif", "out/report.pdf", "out/tile.las"]
    assert outputs["out/dtm.tif"].file.role == "raster"
    assert outputs["out/dtm.tif"].points is None
    assert outputs["out/report.pdf"].file.role == "report"


@pytest.mark.parametrize("name", sorted(DAMAGED))
def test_damaged_points_are_recorded_by_bytes(
    job: Path, open_file: OpenFile, name: str, put_file: MakeTile
) -> None:
    """A file that cannot be decoded is recorded with its digest and its fault, without points."""
    content = open_file(f"las-malformed/{name}").read_bytes()
    put_file(f"out/{name}", content)
    (output,) = record(job).outputs
    assert output.file.sha256 == hashlib.sha256(content).hexdigest()
    assert output.file.fault
    assert str(job) not in output.file.fault
    assert output.file.role == "points"
    assert (output.points, output.fingerprint) == (None, None)


def test_file_cut_short_is_recorded_by_bytes(job: Path, make_tile: MakeTile) -> None:
    """A file with fewer points than stated has a fault and no fingerprint."""
    path = make_tile("out/tile.las", points=50)
    path.write_bytes(path.read_bytes()[:-90])
    (output,) = record(job).outputs
    assert "fewer points" in output.file.fault
    assert str(job) not in output.file.fault
    assert output.points is None


def test_points_of_open_files_are_counted(job: Path, point_facts: PointFacts) -> None:
    """Counts agree with those that two other readers gave for files from many programs.

    Source: `facts.json` beside the files (laspy 2.7.0, lazrs 0.8.2, raw headers); a file whose
    points nobody can decode has none there either.
    """
    sound = {path: known for path, known in point_facts.items() if path.name not in DAMAGED}
    result = record(job, *sound, together=True)
    counted = {Path(output.file.path).name: output.points for output in result.outputs}
    assert len(counted) > 20
    for path, known in sound.items():
        assert counted[path.name] == known["points_counted"], path.name


@pytest.mark.parametrize(
    ("name", "codes"),
    [("test_utm16.las", [3072]), ("srs_vertcs.las", [3072, 4096]), ("epsg_4326.las", [2048])],
)
def test_coordinate_system_of_open_files_is_read(
    job: Path, open_file: OpenFile, name: str, codes: list[int]
) -> None:
    """The codes are those of the GeoTIFF keys (GeoTIFF 1.1: projected 3072, vertical 4096)."""
    path = open_file(f"las/{name}")
    facts = json.loads((SMALL_SET / "facts.json").read_text(encoding="utf-8"))
    keys = facts[name]["geotiff_keys"]
    known = record(job, path).values["run.crs"]
    assert known.value == "EPSG:" + "+".join(str(keys[str(code)]) for code in codes)
    assert known.known_by is KnownBy.READ


def test_text_named_as_points_is_recorded_by_bytes(job: Path, put_file: MakeTile) -> None:
    """A file with the name of points and another content has a fault, and the run goes on."""
    put_file("out/tile.las", b"no points at all")
    (output,) = record(job).outputs
    assert output.file.fault
    assert output.file.role == "points"


@pytest.mark.parametrize("named", [(), ("out",)])
def test_file_that_cannot_be_read_is_left_out(
    job: Path, make_tile: MakeTile, named: tuple[str, ...]
) -> None:
    """The rest is entered; the file is named with its reason and stays without a run."""
    path = make_tile("out/tile.las")
    path.with_name("lost.las").symlink_to(job / "nowhere")
    result = record(job, *(job / each for each in named))
    assert [output.file.path for output in result.outputs] == ["out/tile.las"]
    assert list(result.unread) == ["out/lost.las"]
    assert "a link that leads to nothing" in result.unread["out/lost.las"]
    with Book.open(job) as book:
        (entry,) = book.entries(Kind.RUN)
    assert entry.values["left_out"] == ["out/lost.las"]
    with pytest.raises(FaultsError, match="lost"):  # alone it makes no run
        record(job)


def test_named_file_that_cannot_be_read_stops_the_run(job: Path, make_tile: MakeTile) -> None:
    """Nothing is entered while an output that was named itself cannot be read."""
    path = make_tile("out/tile.las")
    lost = path.with_name("lost.las")
    lost.symlink_to(job / "nowhere")
    with pytest.raises(FaultsError, match="lost"):
        record(job, path, lost)
    with Book.open(job) as book:
        assert book.processes() == ()


def test_named_file_that_is_not_there_is_an_error(job: Path) -> None:
    """A path that does not exist is told."""
    with pytest.raises(UnreadableFileError, match="no such file"):
        record(job, job / "out" / "none.las")


def test_named_folder_without_files_is_an_error(job: Path) -> None:
    """A folder that holds nothing is told."""
    with pytest.raises(UsageError, match="no file to record"):
        record(job, job / "out")


# What is recorded already.


def test_recorded_outputs_are_not_found_again(job: Path, make_tile: MakeTile) -> None:
    """A second run finds only what the first one did not make."""
    make_tile("out/R1/tile.las")
    record(job)
    make_tile("out/R2/tile.las", minutes=1)
    assert [output.file.path for output in record(job).outputs] == ["out/R2/tile.las"]
    with pytest.raises(UsageError, match="no point or raster file that no run or step explains"):
        record(job)


def test_the_same_outputs_named_twice_are_told(job: Path, make_tile: MakeTile) -> None:
    """A command typed twice makes two records, and the second one says so; nothing is refused."""
    path = make_tile("out/R1/tile.las")
    assert record(job, path).notes == ()
    (note,) = record(job, path).notes
    assert "1 output of R2 was recorded before as made by R1: out/R1/tile.las" in note.sentence
    assert "swathbook record decision R2 superseded" in note.sentence


def test_copy_of_an_output_is_explained(job: Path, make_tile: MakeTile) -> None:
    """The same bytes under another name need no second run: where they lie is entered, once."""
    path = make_tile("out/tile.las")
    record(job)
    (job / "out" / "copy.las").write_bytes(path.read_bytes())
    result = record(job)
    assert (result.kind, result.id, result.seen) == ("sighting", "", ("out/copy.las",))
    with Book.open(job) as book:
        assert len(book.processes()) == 1
        last = book.last(Kind.SIGHTING)
        assert last is not None
        assert last.seq == result.entry
        assert {use.file.path for use in book.uses(compute_digest(path.read_bytes()))} == {
            "out/tile.las",
            "out/copy.las",
        }
    with pytest.raises(UsageError, match="no point or raster file"):
        record(job)


def test_restored_output_is_read_and_not_recorded_twice(job: Path, make_tile: MakeTile) -> None:
    """Where only the time differs the bytes are read: the same ones need no second run."""
    path = make_tile("out/tile.las")
    record(job)
    os.utime(path, ns=(1, 1))
    assert record(job).seen == ("out/tile.las",)
    with pytest.raises(UsageError, match="no point or raster file"):
        record(job)


def test_documents_alone_wait_for_no_run(job: Path, put_file: MakeTile) -> None:
    """A text beside the tiles is no run's output by itself; named by a person it is."""
    put_file("out/readme.txt", b"text")
    with pytest.raises(UsageError, match="no point or raster file"):
        record(job)
    assert len(record(job, job / "out" / "readme.txt").outputs) == 1


def test_points_under_any_name_wait_for_a_run(job: Path, make_tile: MakeTile) -> None:
    """A LAS file whose name does not say so is found by its first bytes."""
    make_tile("out/tile.las").rename(job / "out" / "tile.bin")
    assert [output.file.path for output in record(job).outputs] == ["out/tile.bin"]


def test_changed_output_is_found_again(job: Path, make_tile: MakeTile) -> None:
    """Other bytes under a known name are a new output."""
    make_tile("out/tile.las", points=5)
    record(job)
    make_tile("out/tile.las", points=6, minutes=1)
    (output,) = record(job).outputs
    assert output.points == 6


def test_untouched_outputs_are_not_read_again(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files of known size and time are not hashed a second time."""
    make_tile("out/R1/tile.las")
    record(job)
    new = make_tile("out/R2/tile.las", minutes=1)
    hashed = watch_hashing(monkeypatch)
    record(job)
    assert hashed == [new]


def test_named_output_may_belong_to_two_runs(job: Path, make_tile: MakeTile) -> None:
    """Identical tiles of two runs are normal: naming them records them again."""
    path = make_tile("out/tile.las")
    record(job)
    second = record(job, path)
    with Book.open(job) as book:
        makers = {use.owner for use in book.uses(second.outputs[0].file.sha256)}
    assert makers == {"R1", "R2"}
