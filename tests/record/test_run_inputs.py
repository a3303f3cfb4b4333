"""What a run was made from: flights, files and the outputs of other runs."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from recorded_runs import MakeTile, record, watch_hashing

from ledger.errors import UsageError
from ledger.model.artefact import Role
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.register import RegisterOptions, register_paths
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.trace import trace


def open_flight(job: Path, *names: str) -> None:
    """Enter empty flights, as registering raw files does."""
    with BookWriter.open(job) as writer:
        for name in names:
            writer.append(Draft(Kind.FLIGHT, {"id": name, "name": "", "values": {}}))


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
    hashed = watch_hashing(monkeypatch)
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
