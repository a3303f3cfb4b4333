"""A run is recorded with what it made and how; what nobody said is a blank."""

from __future__ import annotations

import hashlib
from pathlib import Path

import laspy
import pytest
from recorded_runs import NOBODY, MakeTile, record

from ledger.errors import UsageError
from ledger.model.ask import NoProgress
from ledger.model.entry import Kind
from ledger.model.fields import list_fields
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision
from ledger.record.answers import Answers
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book

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
