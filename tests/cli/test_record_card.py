"""`record flight --card` and `record rig --card`: a page for the field, and nothing is entered."""

from __future__ import annotations

from pathlib import Path

import pytest
from browser import count_printed_pages
from job_bench import JobBench, run_here

from ledger.model.fields import list_fields
from ledger.store.reading import Book


@pytest.mark.parametrize("kind", ["flight", "rig"])
def test_a_card_is_made_and_its_place_is_told(bench: JobBench, kind: str):
    """Every field of the field stands on it, the job by its reference; the book stays as it was."""
    bench.write("job.toml", b'[job]\nreference = "QM-0412"\n')
    with Book.open(bench.job) as book:
        size = book.size
    ran = bench.run("record", kind, "--card", "card.html")
    assert ran.status == 0
    assert f"The {kind} card lies in card.html" in ran.out
    page = (bench.job / "card.html").read_text(encoding="utf-8")
    # How a file is laid out is asked at the desk, where the file is.
    wanted = [f.key for f in list_fields(kind) if not f.key.startswith("flight.track_")]
    assert all(key in page for key in wanted)
    assert "Job: QM-0412" in page
    with Book.open(bench.job) as book:
        assert book.size == size


def test_a_named_flight_stands_on_its_card(bench: JobBench):
    """In the one form of its id, with the command that it is typed in with."""
    shown = bench.ask("record", "flight", "f2", "--card", "card.html")
    assert shown == {"schema": 1, "kind": "flight", "id": "F2", "file": "card.html"}
    page = (bench.job / "card.html").read_text(encoding="utf-8")
    assert "Flight: F2" in page
    assert "swathbook record flight F2" in page


def test_nothing_is_written_over(bench: JobBench):
    """Somebody's page stays."""
    place = bench.write("card.html", b"filled in")
    ran = bench.run("record", "flight", "--card", "card.html")
    assert ran.status == 2
    assert "a file lies there already, and is not written over" in ran.err
    assert place.read_bytes() == b"filled in"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("raw/card.html", "nothing is written among the raw data"),
        ("card.pdf", "expected a name that ends in .html"),
        ("nowhere/card.html", "the file cannot be written"),
    ],
)
def test_a_wrong_place_is_one_line(bench: JobBench, name: str, words: str):
    """Refused, and nothing is left."""
    (bench.job / "raw").mkdir(exist_ok=True)
    ran = bench.run("record", "rig", "--card", name)
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert words in ran.err
    assert not (bench.job / name).exists()


def test_a_card_is_made_outside_of_a_job(tmp_path: Path):
    """Somebody prints a few before the job begins; its name is left to be written."""
    ran = run_here(["record", "flight", "--card", "card.html"], tmp_path)
    assert ran.status == 0
    assert "Job: ____" in (tmp_path / "card.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", ["flight", "rig"])
def test_a_card_is_one_page(tmp_path: Path, kind: str):
    """One A4 page, as a browser prints it."""
    run_here(["record", kind, "--card", "card.html"], tmp_path)
    assert count_printed_pages(tmp_path / "card.html", tmp_path) == 1
