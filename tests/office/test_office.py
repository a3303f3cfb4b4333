"""The list of jobs that a computer has met, and what their books say of the same bytes."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from ledger.model.process import Decision
from ledger.office import (
    INVENTED_MARK,
    ask_other_jobs,
    find_last_accepted,
    list_known_jobs,
    note_job,
)
from ledger.store.reading import Book
from ledger.testing import BookBuilder


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the user's own folder of one test."""
    place = tmp_path / "home"
    monkeypatch.setenv("SWATHBOOK_HOME", str(place))
    return place


def make_job(folder: Path, reference: str, content: str) -> str:
    """Make a job with one raw file; return the digest of the file."""
    with BookBuilder(folder) as book:
        # The first entry tells one job from another.
        book.enter("job", {"reference": reference, "title": "", "like": ""})
        book.write("job.toml", f'[job]\nreference = "{reference}"\n')
        book.write("raw/cap.bin", content)
        book.register("raw/cap.bin", flight="F1")
        digest = book.see("raw/cap.bin").sha256
        book.run("raw/cap.bin", flights=["F1"])
    note_job(folder)
    return digest


def test_a_job_is_noted_once_and_in_order(tmp_path: Path) -> None:
    """The list holds each job once, oldest first, whatever its path is made of."""
    names = ["b", "ä ö", "a"]
    for name in (*names, "b"):
        note_job(tmp_path / name)
    assert list_known_jobs() == tuple(tmp_path / name for name in names)


def test_a_broken_line_is_passed_over(home: Path, tmp_path: Path) -> None:
    """Half a line, or one that is no text, costs no other."""
    note_job(tmp_path / "a")
    with (home / "jobs.jsonl").open("a", encoding="ascii") as stream:
        stream.write('[1]\n"C:\\\\half\n"\\ud800"\n')
    note_job(tmp_path / "b")
    assert list_known_jobs() == (tmp_path / "a", tmp_path / "b")


def test_where_nothing_can_be_kept_nothing_is(tmp_path: Path, home: Path) -> None:
    """A home that is a file takes no list, and nothing else stops."""
    home.write_text("no folder")
    note_job(tmp_path / "a")
    assert list_known_jobs() == ()


def test_made_up_jobs_stay_out(tmp_path: Path) -> None:
    """A job beside the mark of the demo is nobody's job."""
    (tmp_path / INVENTED_MARK).write_text("")
    note_job(tmp_path / "QM-0412")
    assert list_known_jobs() == ()


def test_the_same_bytes_in_another_job_are_found(tmp_path: Path) -> None:
    """Job, path and day of the other registration are told; a job with other bytes is not."""
    digest = make_job(tmp_path / "one", "A-1", "scan")
    make_job(tmp_path / "two", "A-2", "scan")
    make_job(tmp_path / "three", "A-3", "other")
    with Book.open(tmp_path / "one") as book:
        others = ask_other_jobs(book, {digest})
    ((found,),) = others.found.values()
    assert (found.job, found.path, found.time) == ("A-2", "raw/cap.bin", "2026-05-14T09:00:00Z")
    assert (others.asked, others.unreached) == (2, ())


def test_a_copy_of_a_job_is_the_same_job(tmp_path: Path) -> None:
    """A backup of the job folder holds the same files, and that is no double use."""
    digest = make_job(tmp_path / "one", "A-1", "scan")
    shutil.copytree(tmp_path / "one", tmp_path / "backup")
    note_job(tmp_path / "backup")
    with Book.open(tmp_path / "one") as book:
        assert ask_other_jobs(book, {digest}).found == {}


def test_a_job_that_is_away_is_named(tmp_path: Path) -> None:
    """A folder that is gone is told, since nothing is known of it."""
    digest = make_job(tmp_path / "one", "A-1", "scan")
    note_job(tmp_path / "gone")
    with Book.open(tmp_path / "one") as book:
        assert ask_other_jobs(book, {digest}).unreached == (str(tmp_path / "gone"),)


def test_the_last_accepted_run_of_a_named_job(tmp_path: Path) -> None:
    """A job is found by reference or folder name, and not where two have one name."""
    make_job(tmp_path / "one", "A-1", "scan")
    make_job(tmp_path / "two", "A-2", "other")
    with Book.open(tmp_path / "one") as book:
        for name in ("A-2", "two"):
            found = find_last_accepted(name, "run", book)
            assert found is not None
            assert (found.id, found.decision) == ("R1", Decision.ACCEPTED)
        assert find_last_accepted("A-2", "step", book) is None
        assert find_last_accepted("A-9", "run", book) is None
        make_job(tmp_path / "three", "A-2", "more")
        assert find_last_accepted("A-2", "run", book) is None
