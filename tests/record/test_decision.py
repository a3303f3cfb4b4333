"""The latest decision on a run counts, and the earlier ones stay in the book."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from job_bench import run_here

from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.entry import Kind
from ledger.model.process import Decision
from ledger.record.answers import Answers
from ledger.record.decision import record_decision
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book


@pytest.fixture
def run(job: Path) -> str:
    """Return the id of a recorded run."""
    options = RunOptions(answers=Answers(values={"decision": "rejected", "reason": "drift"}))
    return record_run(job, options, NobodyToAsk(), NoProgress()).id


@pytest.mark.parametrize(
    ("typed", "decision"),
    [("accepted", Decision.ACCEPTED), ("Rej", Decision.REJECTED), ("sup", Decision.SUPERSEDED)],
)
def test_decision_is_entered(job: Path, run: str, typed: str, decision: Decision) -> None:
    """A decision, or its beginning, replaces the one that came with the run."""
    result = record_decision(job, f"run:{run}", typed, " better ", "engineer")
    assert (result.id, result.decision, result.reason) == ("R1", str(decision), "better")
    with Book.open(job) as book:
        process = book.process("R1")
        entries = list(book.entries(Kind.DECISION))
    assert process is not None
    assert (process.decision, process.reason) == (decision, "better")
    assert process.decision_entry == result.entry
    assert [entry.by for entry in entries] == ["engineer"]


@pytest.mark.parametrize("typed", ["r1", "Run:r1", " R1"])
def test_the_run_is_found_in_any_case(job: Path, run: str, typed: str) -> None:
    """Small letters mean the same run; the id is echoed and entered in its one form."""
    assert record_decision(job, typed, "accepted").id == run == "R1"
    with Book.open(job) as book:
        assert [entry.values["process"] for entry in book.entries(Kind.DECISION)] == ["R1"]


def test_the_same_decision_twice_is_one_entry(job: Path, run: str) -> None:
    """Who decides the same again reads that it stands, and the book does not grow."""
    first = record_decision(job, run, "rejected", "drift", "engineer")
    for reason in ("drift", ""):
        again = record_decision(job, run, "rejected", reason, "engineer")
        assert (again.entry, again.reason, again.is_new) == (first.entry, "drift", False)
    assert record_decision(job, run, "rejected", "drift", "client").is_new
    assert record_decision(job, run, "rejected", "tilt", "client").is_new
    assert record_decision(job, run, "accepted", "tilt", "client").is_new


def test_a_decision_that_came_with_the_run_is_one_too(job: Path, run: str) -> None:
    """What the form of the run said already needs no entry of its own."""
    assert not record_decision(job, run, "rejected").is_new


@pytest.mark.parametrize("typed", ["", "maybe", "acepted"])
def test_what_is_no_decision_is_refused(job: Path, run: str, typed: str) -> None:
    """A word that is none of the decisions is told with all of them."""
    with pytest.raises(UsageError, match="accepted, rejected, superseded or undecided"):
        record_decision(job, run, typed)


def test_run_that_is_not_there_is_refused(job: Path, run: str) -> None:
    """A decision is about a run of the book."""
    with pytest.raises(UsageError, match="found R9, expected R1"):
        record_decision(job, "R9", "accepted")


def test_a_decision_names_the_audits_that_it_ends(
    job: Path, make_tile: Callable[..., Path]
) -> None:
    """An audit of what a run made judged the run as it stood: it is named with its verdict.

    Of an audit of other files nothing is said, nor where nothing was decided anew.
    """
    for name in ("R1", "R2"):
        make_tile(f"out/{name}/tile.las")
        options = RunOptions(
            paths=(job / "out" / name,), answers=Answers(values={"decision": "accepted"})
        )
        record_run(job, options, NobodyToAsk(), NoProgress())
    assert run_here(["audit", "--quick", "out/R1"], job).status in (1, 3)
    other = record_decision(job, "R2", "rejected")
    assert other.notes == ()
    result = record_decision(job, "R1", "rejected", "drift")
    (note,) = result.notes
    assert note.sentence.startswith("This follows audit D1 of out/R1 (“")
    assert note.sentence.endswith("holds no longer: swathbook audit out/R1.")
    assert record_decision(job, "R1", "rejected", "drift").notes == ()
    shown = run_here(["record", "decision", "R1", "accepted", "--reason", "no drift"], job).out
    assert "follows audit D1 of out/R1" in " ".join(shown.split())
