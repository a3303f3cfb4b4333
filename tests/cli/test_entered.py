"""Commands that fail after their entry is in the book: the one line says so."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from job_bench import JobBench

from ledger.errors import BookError
from ledger.model.entry import Draft, Entry
from ledger.record import decision
from ledger.store.entered import note_entries, tell_stored
from ledger.store.writing import BookWriter, create_book

DECISION = ("record", "decision", "R1", "accepted", "--reason", "looks right")


@pytest.fixture
def run(bench: JobBench) -> JobBench:
    """Return a job with a run."""
    bench.write("raw/a.bin", b"raw")
    bench.write("out/R1/surface.tif", b"II*\0")
    bench.ask("register", "raw", "--flight", "F1")
    bench.ask("record", "out/R1", "--input", "F1", "--set", "software=demo-proc")
    return bench


def fail_later(patch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Let a decision be refused at what is looked up once its entry is stored."""

    def refuse(*_: object) -> None:
        raise error

    patch.setattr(decision, "find_next_step", refuse)


@pytest.mark.parametrize(
    "error",
    [BookError("the book cannot be used"), OSError(5, "Input/output error", "/x/a.bin")],
    ids=["ours", "of the system"],
)
def test_a_late_refusal_names_the_entry_that_stays(
    run: JobBench, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """In the line and in the object, so that nobody enters the same thing twice."""
    fail_later(monkeypatch, error)
    ran = run.run(*DECISION, "--json")
    last = run.read_journal()[-1]
    assert (ran.status, last.kind) == (2, "decision")
    (line,) = ran.lines
    assert f"; entry {last.seq} (decision) is in the book all the same" in line
    assert json.loads(ran.out)["entries"] == [last.seq]


def test_who_interrupts_after_the_entry_is_told_of_it(
    run: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Status 130, one line, and the entry in it."""
    fail_later(monkeypatch, KeyboardInterrupt())
    ran = run.run(*DECISION)
    assert ran.status == 130
    line = ran.lines[-1]  # after the line that the terminal's ^C stands on
    assert f"entry {run.read_journal()[-1].seq} (decision) is in the book all the same" in line


def test_an_early_refusal_names_none(run: JobBench) -> None:
    """What was not entered is not told of as if it were."""
    before = run.read_journal()
    ran = run.run("record", "decision", "R9", "accepted", "--reason", "x", "--json")
    assert run.read_journal() == before
    assert "all the same" not in ran.err
    assert json.loads(ran.out)["entries"] == []


# Noting.


class _LateConnection:
    """A connection that refuses the end of a commit which the file holds already."""

    def __init__(self, real: sqlite3.Connection) -> None:
        self._real = real

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        result = self._real.execute(sql, *args)
        if sql == "COMMIT":
            raise sqlite3.OperationalError("disk I/O error")
        return result


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[BookWriter]:
    """Return a new book."""
    with create_book(tmp_path, machine="m") as book:
        yield book


def add(writer: BookWriter, *kinds: str) -> tuple[Entry, ...]:
    """Store an entry of each kind, one after the other."""
    return tuple(writer.append(Draft(kind, {})) for kind in kinds)


def test_a_commit_that_is_refused_at_its_end_is_looked_up(writer: BookWriter) -> None:
    """The drive did not answer, and the entry is there: it is told of."""
    writer._connection = _LateConnection(writer._connection)  # type: ignore[assignment]
    with note_entries() as noted, pytest.raises(BookError):
        add(writer, "later")
    assert [entry.seq for entry in noted] == [1]


def test_a_write_that_is_undone_is_not_noted(
    writer: BookWriter, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing of it is in the book."""
    monkeypatch.setattr(writer, "_store_rows", lambda: 1 / 0)
    with note_entries() as noted, pytest.raises(ZeroDivisionError):
        add(writer, "later")
    assert (noted, writer.size) == ([], 0)


def test_where_nobody_listens_nothing_is_kept(writer: BookWriter) -> None:
    """Entries are noted inside the block alone, and each block has its own."""
    add(writer, "later")
    with note_entries() as outer:
        with note_entries() as inner:
            add(writer, "later")
        add(writer, "later")
    add(writer, "later")
    assert ([entry.seq for entry in inner], [entry.seq for entry in outer]) == ([2], [3])


def test_what_stays_is_told_in_one_sentence(writer: BookWriter) -> None:
    """Numbers and kinds, and where the last is shown."""
    one, two, three = add(writer, "early", "middle", "late")
    rest = "in the book all the same: see with swathbook trace entry:"
    assert tell_stored([]) == ""
    assert tell_stored([one]) == f"entry 1 (early) is {rest}1"
    assert tell_stored([one, two]) == f"entries 1 (early) and 2 (middle) are {rest}2"
    told = tell_stored([one, two, three])
    assert told == f"entries 1 (early), 2 (middle) and 3 (late) are {rest}3"
