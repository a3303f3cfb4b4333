"""Searching all jobs, and calling back what something bad reached."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from job_bench import run_here
from made_book import MadeBook, known

from ledger.canonical import compute_digest
from ledger.errors import UsageError
from ledger.find.jobindex import JobIndex
from ledger.find.office import find_everywhere, recall
from ledger.office import note_job
from ledger.store.machine import HOME_VARIABLE, find_home
from ledger.store.reading import BOOK_NAME, Book

GRID = "geoid grid"
BAD = compute_digest(GRID.encode())


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give this computer a memory of its own."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))


def make_job(folder: Path, *, grid: str = GRID, sent: int = 1, version: str = "4.1.0") -> Path:
    """Make a job whose run used a geoid grid, with an audited folder that went out."""
    book = MadeBook(folder)
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    book.card("flight", "F1", {"flight.rig": known("G1"), "flight.base_mark": known("QM1")})
    book.write("raw/cap.bin", f"capture of {folder.name}")
    book.write("geoid/a.tif", grid)
    book.register("raw/cap.bin", flight="F1")
    book.register("geoid/a.tif", role="geoid")
    book.write("out/tile.las", f"tile of {folder.name}")
    values = {
        "run.software": known("demo-proc"),
        "run.version": known(version),
        "run.geoid_file": known(compute_digest(grid.encode())),
    }
    book.run("out/tile.las", flights=["F1"], values=values)
    shutil.copytree(book.folder / "out", book.folder / "deliver")
    book.audit("deliver")
    book.close()
    for number in range(sent):
        words = ["handover", "deliver", "--to", f"client {number}", "--use", "tests"]
        assert run_here(words, folder).status == 0
    note_job(folder)
    return folder


def list_sent(result) -> list[tuple[str, str]]:
    """Return job and recipient of everything that went out."""
    return [(each.job, sent.to) for each in result.touched for sent in each.sent]


def test_a_bad_grid_reaches_every_recipient_in_every_job(tmp_path: Path) -> None:
    """Jobs with the grid and what went out of them; none of a job with another grid."""
    make_job(tmp_path / "a", sent=2)
    make_job(tmp_path / "b", grid="another grid")
    make_job(tmp_path / "c", sent=0)
    result = recall([BAD[:12]], None, everywhere=True)
    assert list_sent(result) == [("a", "client 0"), ("a", "client 1")]
    assert [(each.job, each.deliverable) for each in result.touched] == [("a", "D1"), ("c", "D1")]
    assert result.asked.jobs == 3


@pytest.mark.parametrize("typed", ["su-07", "SU-07"])
def test_a_word_is_told_as_it_is_recorded(tmp_path: Path, typed: str) -> None:
    """A serial is read out to somebody: its large letters stay."""
    job = make_job(tmp_path / "a")
    assert recall([typed], job).words == ("SU-07",)
    assert "SU-07: behind 1 delivery" in run_here(["find", "--recall", typed], job).out


@pytest.mark.parametrize(
    "words", [["SU-07"], ["qm1"], ["demo-proc", "4.1.0"], ["R1"], ["G1"], [BAD]]
)
def test_rig_base_version_run_and_file_are_followed(tmp_path: Path, words: list[str]) -> None:
    """Whatever record names it, what was made from it is reached, in this job alone."""
    job = make_job(tmp_path / "a")
    make_job(tmp_path / "b")
    assert list_sent(recall(words, job)) == [("a", "client 0")]


def test_what_reaches_nothing_is_said(tmp_path: Path) -> None:
    """Another version of the program; and a word that nothing holds."""
    job = make_job(tmp_path / "a")
    assert recall(["demo-proc", "9.9"], job).touched == ()
    told = run_here(["find", "--recall", "9.9"], job).out
    assert "no delivery has it behind it" in " ".join(told.split())
    with pytest.raises(UsageError):
        recall([" "], job)


def test_a_replaced_delivery_is_named_with_what_replaced_it(tmp_path: Path) -> None:
    """Who has the old one has to know of the new one."""
    job = make_job(tmp_path / "a")
    words = ["handover", "deliver", "--to", "client 0", "--use", "again"]
    assert run_here(words, job).status == 0
    (touched,) = recall([BAD], job).touched
    assert [(sent.id, sent.replaced_by) for sent in touched.sent] == [("H1", "H2"), ("H2", "")]


def test_all_jobs_are_searched(tmp_path: Path) -> None:
    """Each hit with the job that it is of; every word in one record."""
    for name in ("a", "b"):
        make_job(tmp_path / name)
    result = find_everywhere(["demo-proc", "4.1"])
    assert [(each.job, each.hit.kind, each.hit.id) for each in result.hits] == [
        ("a", "run", "R1"),
        ("b", "run", "R1"),
    ]
    assert find_everywhere(["demo-proc", "SU-07"]).hits == ()


def test_the_index_follows_the_books(tmp_path: Path) -> None:
    """A book that grew is read again, others are not; a deleted index is made anew."""
    job = make_job(tmp_path / "a", sent=0)
    make_job(tmp_path / "b")
    assert list_sent(recall([BAD], None, everywhere=True)) == [("b", "client 0")]
    with JobIndex(find_home() / "find-index.sqlite") as index:
        assert index.is_current(job)
    words = ["handover", "deliver", "--to", "client", "--use", "tests"]
    assert run_here(words, job).status == 0
    with JobIndex(find_home() / "find-index.sqlite") as index:
        assert not index.is_current(job)
        assert index.is_current(tmp_path / "b")
    expected = [("a", "client"), ("b", "client 0")]
    assert list_sent(recall([BAD], None, everywhere=True)) == expected
    (find_home() / "find-index.sqlite").write_bytes(b"no index")
    assert list_sent(recall([BAD], None, everywhere=True)) == expected


def test_a_book_with_the_same_root_is_not_read_again(tmp_path: Path) -> None:
    """Touched by a backup: its root says that nothing came in."""
    job = make_job(tmp_path / "a")
    with JobIndex(None) as index, Book.open(job) as book:
        index.read(book)
        before = list(index.ask("SELECT rowid FROM records"))
        (job / BOOK_NAME).touch()
        assert not index.is_current(job)
        index.read(book)
        assert index.is_current(job)
        assert list(index.ask("SELECT rowid FROM records")) == before


def test_jobs_that_are_away_are_named(tmp_path: Path) -> None:
    """What was read of them once still answers; of one that never was, nothing is known."""
    shutil.move(make_job(tmp_path / "never"), tmp_path / "elsewhere")
    job = make_job(tmp_path / "a")
    assert list_sent(recall([BAD], None, everywhere=True)) == [("a", "client 0")]
    shutil.move(job, tmp_path / "away")
    result = recall([BAD], None, everywhere=True)
    assert list_sent(result) == [("a", "client 0")]
    assert result.asked.unreached == (str(job),)
    assert result.asked.unknown == (str(tmp_path / "never"),)
    told = " ".join(run_here(["find", "--recall", BAD, "--everywhere"], tmp_path).out.split())
    assert "not there now and never read" in told


def test_commands(tmp_path: Path) -> None:
    """Search, recall and question over all jobs, as screens and as JSON."""
    job = make_job(tmp_path / "a")
    ran = run_here(["find", "QM1", "--everywhere"], tmp_path)
    assert ran.status == 0, ran.err
    assert "flight F1" in ran.out
    ran = run_here(["find", "--recall", BAD[:8], "--json"], job)
    assert json.loads(ran.out)["touched"][0]["sent"][0]["to"] == "client 0"
    ran = run_here(["find", "--ask", "16", "--everywhere", "--json"], tmp_path)
    assert "client 0" in json.loads(ran.out)["jobs"][0]["answers"][0][1]
    ran = run_here(["find", "--ask", "1", "--everywhere"], tmp_path)
    assert (ran.status, ran.err) == (0, "")
    assert BAD[:12] in " ".join(ran.out.split())
    ran = run_here(["find", "--recall", BAD[:8]], tmp_path)
    assert (ran.status, len(ran.lines)) == (2, 1)


def test_a_book_that_was_edited_is_named_at_its_entry_and_in_every_recall(tmp_path: Path) -> None:
    """Entry 7 of one of three jobs, changed as with an editor; then a grid and a mark are bad.

    Runs, files, transmittals and recipients of all jobs are told, and that one book cannot be
    trusted; another look at the whole jobs finds what it found before.
    """
    jobs = [make_job(tmp_path / name, sent=2) for name in "abc"]
    with Book.open(jobs[1]) as book:
        body = book.body(7)
    path = jobs[1] / BOOK_NAME
    content = path.read_bytes()
    assert content.count(body) == 1
    path.write_bytes(content.replace(body, body.replace(b'"by":"t', b'"by":"T')))
    ran = run_here(["recheck", "--book-only"], jobs[1])
    assert ran.status == 1
    assert "The book is broken at entry 7: " in ran.out
    recipients = [(name, f"client {number}") for name in "abc" for number in (0, 1)]
    for words in ([BAD], ["QM1"]):
        result = recall(words, None, everywhere=True)
        assert list_sent(result) == recipients
        assert result.asked.broken == (str(jobs[1]),)
        assert {each.hit.kind for each in result.records} <= {"run", "file", "flight"}
        assert {each.job for each in result.records} == set("abc")
    told = run_here(["find", "--recall", BAD, "--everywhere"], tmp_path)
    assert "1 book found broken" in told.out
    assert recall([BAD], jobs[0]).asked.broken == ()
