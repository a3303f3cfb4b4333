"""At a terminal a run is asked for what files do not tell, and no answer is lost."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from scripted import Scripted

from ledger.errors import ChangedFileError
from ledger.model.ask import NobodyToAsk, NoProgress, Question
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.record.answers import Answers
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

MakeTile = Callable[..., Path]


def record(job: Path, ask: object, **answers: str | KnownValue) -> RecordResult:
    """Record a run, asking a person."""
    options = RunOptions(answers=Answers(values=answers))
    return record_run(job, options, ask, NoProgress())  # type: ignore[arg-type]


def test_what_files_tell_is_not_asked(job: Path, make_tile: MakeTile) -> None:
    """Program, version and coordinate system stand in the header; mount mode does not."""
    make_tile("out/tile.las")
    ask = Scripted({"run.mount_mode": "drone", "run.decision": "accepted", "run.reason": "fits"})
    result = record(job, ask, orientation="upright")
    asked = {question.key for question in ask.asked}
    assert not {"run.software", "run.version", "run.crs", "run.orientation"} & asked
    assert result.values["run.mount_mode"] == KnownValue("drone")
    assert (result.decision, result.reason) == ("accepted", "fits")


def test_second_run_offers_the_first(job: Path, make_tile: MakeTile) -> None:
    """Enter confirms what the last run had; its decision is not offered."""
    make_tile("out/R1/tile.las")
    record(job, NobodyToAsk(), lever_arm="0,1 0 0,2", decision="rejected")
    make_tile("out/R2/tile.las", minutes=1)
    result = record(job, Scripted())
    arm = result.values["run.lever_arm"]
    assert (arm.value, arm.known_by, arm.confirmed) == (["0.1", "0", "0.2"], KnownBy.CARRIED, True)
    assert result.decision == "undecided"


def test_interruption_enters_nothing_and_loses_nothing(job: Path, make_tile: MakeTile) -> None:
    """After Ctrl-C the book is as it was; the next time goes on where it stopped."""
    make_tile("out/tile.las")
    with pytest.raises(KeyboardInterrupt):
        record(job, Scripted({"run.mount_mode": "drone"}, at="run.lever_arm"))
    with Book.open(job) as book:
        assert book.processes() == ()
    ask = Scripted({"run.lever_arm": "0.1 0 0.2"})
    result = record(job, ask)
    assert result.values["run.mount_mode"] == KnownValue("drone")
    assert ask.texts("run.mount_mode") == []
    assert ask.texts("unfinished") == ["Go on with 1 answer (no throws them away)"]
    make_tile("out/tile2.las", minutes=1)
    again = Scripted()
    record(job, again)
    assert again.texts("unfinished") == []


def test_draft_stays_where_nobody_is_asked(job: Path, make_tile: MakeTile) -> None:
    """A script does not take up the answers of a person."""
    make_tile("out/tile.las")
    with pytest.raises(KeyboardInterrupt):
        record(job, Scripted({"run.mount_mode": "drone"}, at="run.lever_arm"))
    assert "run.mount_mode" not in record(job, NobodyToAsk()).values


@pytest.mark.parametrize(
    ("script", "expected"),
    [
        ({}, ["F1"]),
        ({"yes": (False, True)}, []),
        ({"ticks": (0, 2), "more": ("F2", "F3")}, ["F1", "F3"]),
    ],
)
def test_flights_are_asked(
    job: Path, make_tile: MakeTile, script: dict[str, Any], expected: list[str]
) -> None:
    """One flight is confirmed with the outputs, several are ticked; neither is an assumption."""
    make_tile("out/tile.las")
    more = script.pop("more", ())
    with BookWriter.open(job) as writer:
        for name in ("F1", *more):
            writer.append(Draft(Kind.FLIGHT, {"id": name, "name": "", "values": {}}))
    result = record(job, Scripted(**script))
    assert [each.flight for each in result.inputs] == expected
    assert not result.inputs_assumed


@pytest.mark.parametrize("name", ["out/tile.las", "out/dtm.tif"])
def test_output_that_changes_meanwhile_enters_nothing(
    job: Path, make_tile: MakeTile, put_file: MakeTile, name: str
) -> None:
    """A file rewritten while questions are answered is not the one that was hashed."""
    make_tile("out/tile.las")
    put_file("out/dtm.tif")

    class Slow(Scripted):
        def answer(self, question: Question) -> str:
            os.utime(job / name)
            return super().answer(question)

    with pytest.raises(ChangedFileError, match=Path(name).name):
        record(job, Slow())
    with Book.open(job) as book:
        assert book.processes() == ()


def test_output_that_grows_meanwhile_enters_nothing(job: Path, make_tile: MakeTile) -> None:
    """Points appended while questions are answered are seen by the size alone."""
    path = make_tile("out/tile.las")
    status = path.stat()

    class Slow(Scripted):
        def answer(self, question: Question) -> str:
            path.write_bytes(path.read_bytes() + bytes(30))
            os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
            return super().answer(question)

    with pytest.raises(ChangedFileError):
        record(job, Slow())
