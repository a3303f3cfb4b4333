"""A run is recorded with what it made, from what, and how; what nobody said is a blank."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from pathlib import Path

import laspy
import pytest
from open_data import SMALL_SET, OpenFile, PointFacts

from ledger.canonical import compute_digest
from ledger.errors import FaultsError, UnreadableFileError, UsageError
from ledger.fixity import read_fixity, read_many
from ledger.model.artefact import Role
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.entry import Draft, Kind
from ledger.model.fields import list_fields
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision
from ledger.record.answers import Answers
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.register import RegisterOptions, register_paths
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.trace import trace

MakeTile = Callable[..., Path]
NOBODY = NobodyToAsk()

# Open files that cannot be read to their last point.
DAMAGED = {"1.2-with-color-clipped.las", "broken_coder.laz", "broken_size.laz", "broken_type.laz"}


def record(
    job: Path,
    *paths: Path,
    ask: object = NOBODY,
    answers: dict[str, str | KnownValue] | None = None,
    **more: object,
) -> RecordResult:
    """Record a run with these answers."""
    options = RunOptions(paths=paths, answers=Answers(values=answers or {}), **more)  # type: ignore[arg-type]
    return record_run(job, options, ask, NoProgress())  # type: ignore[arg-type]


def open_flight(job: Path, *names: str) -> None:
    """Enter empty flights, as registering raw files does."""
    with BookWriter.open(job) as writer:
        for name in names:
            writer.append(Draft(Kind.FLIGHT, {"id": name, "name": "", "values": {}}))


# What is recorded.


def test_run_has_its_outputs_with_points(job: Path, make_tile: MakeTile) -> None:
    """Outputs found in the folder are recorded with digest, size, points and fingerprint."""
    tiles = [make_tile(f"out/tile_{number}.las", points=number + 3) for number in range(3)]
    result = record(job)
    assert (result.id, result.kind, result.left_out) == ("R1", "run", ())
    assert [output.file.path for output in result.outputs] == [
        "out/tile_0.las", "out/tile_1.las", "out/tile_2.las",
    ]  # fmt: skip
    for path, output in zip(tiles, result.outputs, strict=True):
        assert output.file.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
        assert output.file.bytes == path.stat().st_size
        assert output.file.role == "points"
        assert output.file.facts["software"] == "demo-proc 4.1.0"
        assert output.points == len(laspy.read(path).points)
        assert output.fingerprint is not None
        assert output.fingerprint.count == output.points
    assert len({output.fingerprint for output in result.outputs}) == 3


def test_book_gives_back_what_was_recorded(job: Path, make_tile: MakeTile) -> None:
    """The run in the book is the run of the result."""
    make_tile("out/tile.las")
    result = record(
        job,
        answers={"mount_mode": "drone", "run.decision": "acc", "reason": "fits"},
        name="first",
        by="surveyor",
    )
    with Book.open(job) as book:
        process = book.process("R1")
        entry = book.entry(result.entry)
    assert process is not None
    assert entry is not None
    assert (entry.kind, entry.by) == (Kind.RUN, "surveyor")
    assert (process.name, process.decision, process.reason) == (
        "first", Decision.ACCEPTED, "fits",
    )  # fmt: skip
    assert process.outputs == result.outputs
    assert process.values["run.mount_mode"] == KnownValue("drone")
    assert not {"run.decision", "run.reason"} & set(process.values)
    assert entry.values["output_count"] == 1


def test_what_headers_tell_is_read(job: Path, make_tile: MakeTile) -> None:
    """Program, version and coordinate system come from the header, with the place they stand."""
    make_tile("out/tile.las")
    values = record(job).values
    for key, value in (("run.software", "demo-proc"), ("run.version", "4.1.0")):
        assert values[key].value == value
        assert values[key].known_by is KnownBy.READ
        assert values[key].where == "out/tile.las: generating software"
    assert values["run.crs"].known_by is KnownBy.READ
    assert values["run.crs"].value == "EPSG:6346"


def test_typed_value_goes_before_the_header(job: Path, make_tile: MakeTile) -> None:
    """What a person typed stays typed."""
    make_tile("out/tile.las")
    values = record(job, answers={"software": "other", "crs": "EPSG:6347"}).values
    assert values["run.software"] == KnownValue("other")
    assert values["run.crs"] == KnownValue("EPSG:6347")
    assert values["run.version"].known_by is KnownBy.READ


@pytest.mark.parametrize(
    ("text", "software", "version"),
    [
        ("demo-proc 4.1.0", "demo-proc", "4.1.0"),
        ("Demo Proc v2.3.1b (64 bit)", "Demo Proc", "2.3.1b"),
        ("proc_1.0", "proc", "1.0"),
        ("proc v7", "proc", "7"),
        ("las2las (version 170718)", "las2las", "170718"),
        ("PDAL 1.0.0.b1", "PDAL", "1.0.0.b1"),
        ("LASzip DLL 2.4 r2 (150731)", "LASzip DLL", "2.4"),
        ("proc 7", "proc 7", None),
        ("ALSXX_PP", "ALSXX_PP", None),
        ("navigator 3000", "navigator 3000", None),
        ("", None, None),
    ],
)
def test_software_string_is_parted(
    job: Path, make_tile: MakeTile, text: str, software: str | None, version: str | None
) -> None:
    """A version is what follows the name with a point in it; without one the name is whole."""
    make_tile("out/tile.las", software=text)
    values = record(job).values
    assert (values["run.software"].value if software else None) == software
    assert ("run.version" in values) == (version is not None)
    if version:
        assert values["run.version"].value == version


def test_outputs_that_disagree_tell_nothing(job: Path, make_tile: MakeTile) -> None:
    """Where named outputs come from two programs, none is taken for the run's."""
    paths = [make_tile("out/a.las"), make_tile("out/b.las", software="other 2.0")]
    values = record(job, *paths, together=True).values
    assert not {"run.software", "run.version"} & set(values)
    assert "run.crs" in values


def test_attempt_thrown_away_needs_no_settings(job: Path, make_tile: MakeTile) -> None:
    """A rejected run with everything else blank is recorded."""
    make_tile("out/tile.las", software="")
    result = record(job, answers={"run.decision": "rejected"})
    assert result.decision == "rejected"
    assert "run.mount_mode" in result.not_recorded
    with Book.open(job) as book:
        (process,) = book.processes()
    assert process.decision is Decision.REJECTED


def test_rejected_run_may_have_left_no_file(job: Path) -> None:
    """An attempt whose outputs were deleted can still be written down."""
    result = record(job, answers={"decision": "rejected", "reason": "drifted"})
    assert (result.outputs, result.reason) == ((), "drifted")


def test_nothing_to_record_is_an_error(job: Path) -> None:
    """Without outputs, and without a rejected attempt, there is nothing to record."""
    with pytest.raises(UsageError, match="no point or raster file that no run or step explains"):
        record(job)
    with Book.open(job) as book:
        assert book.processes() == ()


def test_blanks_are_listed_with_their_cost(job: Path, make_tile: MakeTile) -> None:
    """Every plain field without a value is listed, with what the blank costs.

    One that only means something beside another, which is blank too, is not listed.
    """
    make_tile("out/tile.las")
    result = record(job, answers={"mount_mode": "drone"})
    core = {field.key for field in list_fields("run") if field.core and not field.follows}
    known = {"run.mount_mode", "run.software", "run.version", "run.crs"}
    assert core - known <= set(result.not_recorded)
    assert not known & set(result.not_recorded)
    costs = {blank.field: blank.why for blank in result.blanks}
    assert costs["run.lever_arm"] == "a wrong lever arm is not seen"
    assert "raw files" in costs["inputs"]
    assert all(blank.subjects == ("R1",) for blank in result.blanks)


def test_form_settings_and_values_add_up(job: Path, make_tile: MakeTile) -> None:
    """A form, a caller's values and settings go together; the later named counts."""
    make_tile("out/tile.las")
    (job / "geoid").mkdir()
    (job / "geoid" / "g.tif").write_bytes(b"grid")
    form = job / "forms" / "r.toml"
    form.parent.mkdir()
    form.write_text(
        "[run]\nmount_mode = 'pole'\norientation = 'upright'\ngeoid_file = 'geoid/g.tif'\n"
        "zone = {value = '17N', known_by = 'assumed'}\n",
        encoding="utf-8",
    )
    answers = Answers(form, {"mount_mode": "hand", "frame": "NAD83"}, ("mount_mode=drone",))
    result = record_run(job, RunOptions(answers=answers), NOBODY, NoProgress())
    assert result.values["run.mount_mode"].value == "drone"
    assert result.values["run.orientation"].value == "upright"
    assert result.values["run.frame"].value == "NAD83"
    assert result.values["run.zone"].known_by is KnownBy.ASSUMED
    grid = result.values["run.geoid_file"]
    assert (grid.value, grid.where) == (hashlib.sha256(b"grid").hexdigest(), "geoid/g.tif")


def test_bad_answers_enter_nothing(job: Path, make_tile: MakeTile) -> None:
    """A wrong answer is told before anything is hashed or entered."""
    make_tile("out/tile.las")
    with pytest.raises(UsageError, match="did you mean drone"):
        record(job, answers={"mount_mode": "dorne"})
    with Book.open(job) as book:
        assert book.processes() == ()


def test_changed_specification_is_entered_with_the_run(job: Path, make_tile: MakeTile) -> None:
    """A run is recorded under the specification of that moment."""
    make_tile("out/tile.las")
    (job / "job.toml").write_text("[job]\ntitle = 'b'\n", encoding="utf-8")
    record(job)
    with Book.open(job) as book:
        kinds = [str(entry.kind) for entry in book.entries()]
    assert kinds == ["job", "specification", "specification", "run"]


def test_spoiled_specification_does_not_stop_recording(job: Path, make_tile: MakeTile) -> None:
    """Recording needs no valid job.toml; the usual folder of outputs is searched."""
    make_tile("out/tile.las")
    (job / "job.toml").write_text("[job\n", encoding="utf-8")
    assert record(job).id == "R1"


def test_folder_of_outputs_is_the_one_specified(job: Path, make_tile: MakeTile) -> None:
    """`folders.out` says where outputs are looked for."""
    make_tile("exports/tile.las")
    (job / "job.toml").write_text("[folders]\nout = 'exports'\n", encoding="utf-8")
    assert [output.file.path for output in record(job).outputs] == ["exports/tile.las"]


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
    hashed: list[Path] = []

    def watch(paths: list[Path], progress: object) -> object:
        hashed.extend(paths)
        return read_many(paths, progress)  # type: ignore[arg-type]

    def watch_one(path: Path, progress: object) -> object:
        hashed.append(path)
        return read_fixity(path, progress)  # type: ignore[arg-type]

    monkeypatch.setattr("ledger.record.candidates.read_many", watch)
    monkeypatch.setattr("ledger.record.background.read_fixity", watch_one)
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


# Inputs.


def test_only_flight_is_assumed(job: Path, make_tile: MakeTile) -> None:
    """Where the job has one flight and nobody said, it is taken and marked as assumed."""
    make_tile("out/tile.las")
    open_flight(job, "F1")
    result = record(job)
    assert [each.flight for each in result.inputs] == ["F1"]
    assert result.inputs_assumed
    assert "inputs" not in result.not_recorded
    with Book.open(job) as book:
        entry = book.entry(result.entry)
    assert entry is not None
    assert entry.values["inputs"] == [{"flight": "F1", "known_by": "assumed"}]
    with Book.open(job) as book:
        process = book.process(result.id)
    assert process is not None
    assert [each.assumed for each in process.inputs] == [True]
    chain = trace(job, result.id).chain
    (run,) = [node for node in chain if node.kind == "run"]
    assert not run.values["run.made_from"].can_prove


def test_named_flight_is_not_assumed(job: Path, make_tile: MakeTile) -> None:
    """A flight that was named is recorded without that mark."""
    make_tile("out/tile.las")
    open_flight(job, "F1", "F2")
    result = record(job, inputs=("f2", "F1"))
    assert [each.flight for each in result.inputs] == ["F2", "F1"]
    assert not result.inputs_assumed


def test_several_flights_are_not_guessed(job: Path, make_tile: MakeTile) -> None:
    """With two flights and nobody to ask, the inputs are a blank."""
    make_tile("out/tile.las")
    open_flight(job, "F1", "F2")
    result = record(job)
    assert result.inputs == ()
    assert result.not_recorded[0] == "inputs"


def test_unknown_flight_is_refused(job: Path, make_tile: MakeTile) -> None:
    """An id that is not in the book is told with those that are."""
    make_tile("out/tile.las")
    open_flight(job, "F1")
    with pytest.raises(UsageError, match="no such flight: found F7, expected F1"):
        record(job, inputs=("F7",))
    make_tile("out/other.las", software="other 1.0")  # told before outputs are looked at
    with pytest.raises(UsageError, match="no such run or step"):
        record(job, inputs=("R1",))


def test_files_and_folders_are_inputs_by_digest(
    job: Path, make_tile: MakeTile, put_file: MakeTile
) -> None:
    """Named files are hashed; a role known from the book, or from content, comes with them."""
    make_tile("out/tile.las")
    capture = put_file("raw/a.bin", b"\x00raw")
    base = put_file("raw/deep/b.log", b"log")
    result = record(job, inputs=(str(capture), str(base.parent)))
    assert [(each.path, each.sha256) for each in result.inputs] == [
        ("raw/a.bin", hashlib.sha256(b"\x00raw").hexdigest()),
        ("raw/deep/b.log", hashlib.sha256(b"log").hexdigest()),
    ]
    assert [each.role for each in result.inputs] == ["capture", "run-log"]


def test_registered_inputs_are_not_read_again(
    job: Path, make_tile: MakeTile, put_file: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Raw files of known size and time keep the digest and role that the book has."""
    put_file("raw/a.bin", b"raw")
    register_paths(job, [job / "raw"], RegisterOptions(role=Role.CALIBRATION), NoProgress())
    make_tile("out/tile.las")
    hashed: list[Path] = []

    def watch(paths: list[Path], progress: object) -> object:
        hashed.extend(paths)
        return read_many(paths, progress)  # type: ignore[arg-type]

    def watch_one(path: Path, progress: object) -> object:
        hashed.append(path)
        return read_fixity(path, progress)  # type: ignore[arg-type]

    monkeypatch.setattr("ledger.record.candidates.read_many", watch)
    monkeypatch.setattr("ledger.record.background.read_fixity", watch_one)
    (used,) = record(job, inputs=(str(job / "raw"),)).inputs
    assert (used.path, used.role) == ("raw/a.bin", "calibration")
    assert used.sha256 == hashlib.sha256(b"raw").hexdigest()
    assert hashed == [job / "out" / "tile.las"]


def test_outputs_of_a_run_are_inputs_of_the_next(job: Path, make_tile: MakeTile) -> None:
    """Naming a run means the files that it made."""
    make_tile("out/R1/tile.las")
    first = record(job)
    make_tile("out/R2/tile.las", minutes=1)
    second = record(job, inputs=("run:r1",))
    assert [(each.path, each.sha256) for each in second.inputs] == [
        ("out/R1/tile.las", first.outputs[0].file.sha256)
    ]


def test_word_that_is_id_and_file_is_refused(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file named like a flight has to be told apart from it; both ways of doing so work."""
    make_tile("out/tile.las")
    open_flight(job, "F1")
    (job / "F1").write_bytes(b"x")
    monkeypatch.chdir(job)
    with pytest.raises(UsageError, match=r"flight:F1 or \./F1"):
        record(job, inputs=("F1",))
    assert [each.flight for each in record(job, inputs=("flight:F1",)).inputs] == ["F1"]
    make_tile("out/tile2.las")
    assert [each.path for each in record(job, inputs=("./F1",)).inputs] == ["F1"]


def test_outputs_of_a_rejected_run_are_not_recorded_again_in_silence(
    job: Path, make_tile: MakeTile
) -> None:
    """Where nobody is there to ask, the files of a rejected run cannot be given to another one."""
    make_tile("out/R1/tile.las")
    record(job, job / "out" / "R1", answers={"run.decision": "rejected"})
    with pytest.raises(UsageError, match="came from R1, which was rejected"):
        record(job, job / "out" / "R1", answers={"run.decision": "accepted"})
    with Book.open(job) as book:
        assert [process.id for process in book.processes()] == ["R1"]


def test_the_same_bytes_in_another_place_are_normal(job: Path, make_tile: MakeTile) -> None:
    """Two runs may make identical tiles: what lies elsewhere is recorded without a question."""
    first = make_tile("out/R1/tile.las")
    record(job, job / "out" / "R1", answers={"run.decision": "rejected"})
    (job / "out" / "R2").mkdir()
    (job / "out" / "R2" / "tile.las").write_bytes(first.read_bytes())
    assert record(job, job / "out" / "R2", answers={"run.decision": "accepted"}).id == "R2"


def test_a_registered_file_is_no_output(job: Path, make_tile: MakeTile) -> None:
    """A capture that was registered cannot become the output of a run."""
    scan = make_tile("raw/scan.las")
    register_paths(job, [scan], RegisterOptions(), NoProgress())
    with pytest.raises(UsageError, match="registered as raw"):
        record(job, scan)
