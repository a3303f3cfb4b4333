"""What the books say beyond the runs behind a delivery, as checks are given it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from ledger.audit.jobrecords import read_job_records
from ledger.model.jobrecords import JobRecords
from ledger.office import note_job
from ledger.store.reading import Book
from ledger.testing import BookBuilder, known


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the list of jobs in the folder of one test."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))


def make_book(folder: Path, like: str = "") -> BookBuilder:
    """Return a book with a capture of F1, a base log of no flight and two runs."""
    book = BookBuilder(folder)
    book.enter("job", {"reference": folder.name, "title": "", "like": like})
    book.write("raw/cap.bin", f"scan of {folder.name}")
    book.write("raw/base.obs", "base")
    book.write("raw/other.bin", "of another flight")
    book.register("raw/cap.bin", flight="F1")
    book.register("raw/base.obs", role="base-log")
    book.register("raw/other.bin", flight="F2")
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    return book


def read(book: BookBuilder, runs: Iterable[str] = ()) -> JobRecords:
    """Return what is behind these runs, and flight F1."""
    book.close()
    with Book.open(book.folder) as opened:
        processes = [process for process in opened.processes() if process.id in runs]
        return read_job_records(opened, processes, opened.cards("flight"))


def test_raw_files_of_the_flights_and_of_none(tmp_path: Path) -> None:
    """Files of a flight behind the delivery and of no flight are there, others are not."""
    book = make_book(tmp_path / "job")
    found = read(book)
    assert [(raw.file.path, raw.flight) for raw in found.raw] == [
        ("raw/base.obs", ""),
        ("raw/cap.bin", "F1"),
    ]
    assert found.raw[1].time == "2026-05-14T09:00:00Z"
    assert found.raw[1].wrong == {}
    assert (found.raw[1].copies, found.copies_needed) == (0, 2)


def test_what_is_wrong_with_a_raw_file_by_now(tmp_path: Path) -> None:
    """Another size now, and other bytes entered under the same path, are told by place."""
    book = make_book(tmp_path / "job")
    book.write("raw/cap.bin", "longer than what was registered")
    book.write("raw/base.obs", "BASE")
    book.register("raw/base.obs", role="base-log")
    found = {(raw.file.path, raw.entry): dict(raw.wrong) for raw in read(book).raw}
    assert found == {
        ("raw/cap.bin", 2): {"raw/cap.bin": "changed"},
        ("raw/base.obs", 3): {"raw/base.obs": "changed"},
        ("raw/base.obs", 6): {},
    }


def test_a_raw_file_that_is_gone_is_not_called_changed(tmp_path: Path) -> None:
    """Nothing can be said of a drive that is away; only a recheck tells missing files."""
    book = make_book(tmp_path / "job")
    (book.folder / "raw" / "cap.bin").unlink()
    assert all(raw.wrong == {} for raw in read(book).raw)


def test_the_run_before_and_the_run_on_the_same_flight(tmp_path: Path) -> None:
    """The last accepted run counts as precedent, the last one of the same flight as former."""
    book = make_book(tmp_path / "job")
    for name in ("a", "b", "c"):
        book.write(f"out/{name}.las", name)
    book.run("out/a.las", flights=["F2"])
    book.run("out/b.las", flights=["F1"], decision="rejected")
    book.run("out/c.las", flights=["F1"])
    precedent = read(book, ["R3"]).precedents["R3"]
    assert precedent.accepted is not None
    assert precedent.former is not None
    assert (precedent.accepted.id, precedent.job, precedent.former.id) == ("R1", "", "R2")


def test_the_first_run_is_held_against_the_job_that_it_is_like(tmp_path: Path) -> None:
    """Where this job has no accepted run yet, the job that it was begun like has one."""
    old = make_book(tmp_path / "old")
    old.write("job.toml", "")
    old.write("out/a.las", "a")
    old.run("out/a.las", flights=["F1"])
    old.close()
    note_job(old.folder)
    new = make_book(tmp_path / "new", like="old")
    new.write("out/b.las", "b")
    new.run("out/b.las", flights=["F1"])
    precedent = read(new, ["R1"]).precedents["R1"]
    assert precedent.accepted is not None
    assert (precedent.accepted.id, precedent.job, precedent.former) == ("R1", "old", None)


def test_steps_are_held_against_steps_of_their_kind(tmp_path: Path) -> None:
    """A classification is no precedent of a cleaning."""
    book = make_book(tmp_path / "job")
    for name in ("a", "b", "c"):
        book.write(f"out/{name}.las", name)
    for name, kind in (("a", "cleaning"), ("b", "classification"), ("c", "cleaning")):
        book.step(f"out/{name}.las", values={"step.kind": known(kind)})
    precedent = read(book, ["S3"]).precedents["S3"]
    assert precedent.accepted is not None
    assert precedent.accepted.id == "S1"


def test_past_audits_and_statements(tmp_path: Path) -> None:
    """The latest audit of each folder is there with its digests, and what reports state."""
    book = make_book(tmp_path / "job")
    book.write("deliver/a.las", "a")
    book.audit("deliver", verdict="do not send")
    book.audit("deliver")
    book.card("statement", "T1", {"statement.count": known(14)})
    found = read(book)
    (audit,) = found.audits
    assert (audit.folder, audit.verdict, list(audit.files)) == (
        "deliver",
        "fit to send",
        ["a.las"],
    )
    assert [card.id for card in found.statements] == ["T1"]
