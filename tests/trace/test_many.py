"""A trace asks the book as often for a flight of many files as for a small one."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.model.artefact import FileRecord, Output
from ledger.store.reading import Book
from ledger.trace import trace


def make_record(name: str, role: str) -> FileRecord:
    """Return the record of a file that is not there."""
    return FileRecord(name, hashlib.sha256(name.encode()).hexdigest(), 1000, 0, role)


def make_job(folder: Path, files: int, runs: int) -> MadeBook:
    """Return a job of one flight, of which every run used all files."""
    book = MadeBook(folder)
    book.card("flight", "F1")
    records = [make_record(f"raw/{number}.bin", "capture") for number in range(files)]
    book._list("files", records, flight="F1", volume="", bytes=0)
    for run in range(runs):
        made = [Output(make_record(f"out/{run}/{number}.las", "points")) for number in range(files)]
        book.run(*made, inputs=[{"flight": "F1"}])
    book.close()
    return book


@pytest.mark.parametrize("onward", [False, True])
def test_questions_do_not_grow_with_the_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, onward: bool
) -> None:
    """Twenty times the files take no more questions about single files."""
    asked: list[str] = []
    uses = Book.uses

    def count(self: Book, sha256: str) -> object:
        asked.append(sha256)
        return uses(self, sha256)

    monkeypatch.setattr(Book, "uses", count)
    counts = []
    for files in (5, 100):
        asked.clear()
        job = make_job(tmp_path / str(files), files, runs=3)
        result = trace(job.folder, "F1", onward=onward)
        assert len([node for node in result.chain if node.kind == "file"]) == files
        counts.append(len(asked))
    assert counts[0] == counts[1]
