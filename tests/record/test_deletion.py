"""Deletions: entered, never done by the program; looked for no more, and counted as no copy."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from job_bench import run_here
from made_book import MadeBook

from ledger.copies import find_copies
from ledger.errors import UsageError
from ledger.recheck import FileState, recheck
from ledger.recheck.rawcopies import OLD_DAYS
from ledger.record.deletion import record_deletion
from ledger.store.machine import HOME_VARIABLE
from ledger.store.reading import Book
from ledger.testing.books import BookBuilder


@pytest.fixture
def book(tmp_path: Path) -> BookBuilder:
    """Give a job with two raw files, one of them copied to a drive, and the output of a run."""
    made = MadeBook(tmp_path / "job")
    for name in ("raw/a.bin", "raw/b.bin", "out/R1/tile.las"):
        made.write(name, name)
    made.register("raw/a.bin", "raw/b.bin")
    made.run("out/R1/tile.las", decision="rejected")
    return made


def test_what_was_deleted_is_looked_for_no_more(book: BookBuilder) -> None:
    """Missing before the entry, not looked for afterwards; the record of it stays."""
    book.close()
    shutil.rmtree(book.folder / "out" / "R1")
    assert recheck(book.folder).counts.get(FileState.MISSING) == 1
    result = record_deletion(book.folder, [book.folder / "out" / "R1"], "rejected run")
    assert result.paths == ("out/R1/tile.las",)
    again = recheck(book.folder)
    assert FileState.MISSING not in again.counts
    with Book.open(book.folder) as opened:
        assert opened.process("R1") is not None


def test_what_is_still_there_cannot_be_entered_as_deleted(book: BookBuilder) -> None:
    """Nothing is deleted by the program, and nothing is entered."""
    book.close()
    with Book.open(book.folder) as opened:
        size = opened.size
    for words in (["out"], ["raw/a.bin"]):
        with pytest.raises(UsageError, match="still there"):
            record_deletion(book.folder, [book.folder / word for word in words], "space")
    with pytest.raises(UsageError, match="recorded no file"):
        record_deletion(book.folder, [book.folder / "nowhere"], "space")
    with pytest.raises(UsageError, match="reason"):
        record_deletion(book.folder, [book.folder / "out"], " … ")
    with Book.open(book.folder) as opened:
        assert opened.size == size
    assert (book.folder / "raw" / "a.bin").exists()


def test_what_comes_back_is_expected_again(book: BookBuilder) -> None:
    """Bytes that are registered again after a deletion count as any others."""
    book.close()
    (book.folder / "raw" / "a.bin").unlink()
    record_deletion(book.folder, [book.folder / "raw" / "a.bin"], "card was full")
    with Book.open(book.folder) as opened:
        assert "raw/a.bin" not in [place.path for place in find_copies(opened).places]
    (book.folder / "raw" / "a.bin").write_text("raw/a.bin", encoding="utf-8")
    assert run_here(["register", "raw/a.bin", "--as", "capture"], book.folder).status == 0
    with Book.open(book.folder) as opened:
        assert "raw/a.bin" in [place.path for place in find_copies(opened).places]


def test_what_it_leaves_of_the_raw_data_is_said(book: BookBuilder) -> None:
    """The last place of a raw file is gone: that is said in so many words."""
    book.close()
    (book.folder / "raw" / "a.bin").unlink()
    words = ["record", "deletion", "raw/a.bin", "--reason", "by mistake"]
    ran = run_here([*words, "--json"], book.folder)
    assert ran.status == 0, ran.err
    assert json.loads(ran.out)["paths"] == ["raw/a.bin"]
    (book.folder / "raw" / "b.bin").unlink()
    told = run_here(["record", "deletion", "raw/b.bin", "--reason", "too"], book.folder).out
    assert "deleted, too" in told


def copy_to_drive(book: BookBuilder, drive: Path, *names: str) -> None:
    """Enter copies that were read back from a drive."""
    for name in names:
        (drive / Path(name).name).write_bytes((book.folder / name).read_bytes())
    records = [book.see(str(drive / Path(name).name), "capture") for name in names]
    book.sight(*records, volume="uuid:drive", root=str(drive), reread=True, past_cache=True)


def test_single_copies_and_old_ones_are_told(book: BookBuilder, tmp_path: Path) -> None:
    """One good copy alone, and one that nobody read for half a year, want looking after."""
    drive = tmp_path / "drive"
    drive.mkdir()
    copy_to_drive(book, drive, "raw/a.bin", "raw/b.bin")
    book.close()
    shutil.rmtree(drive)
    copies = recheck(book.folder).copies
    assert copies is not None
    assert any("one good copy alone" in line for line in copies.care)
    old = [line for line in copies.care if f"more than {OLD_DAYS} days" in line]
    assert bool(old) == (datetime.now(UTC) - book.now > timedelta(days=OLD_DAYS))


def test_the_end_of_retention_is_told(
    book: BookBuilder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Until when a closed job is kept, and afterwards that its files may go."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    book.close()
    assert recheck(book.folder).retention == ""
    assert run_here(["seal", "--close", "2999-12-31"], book.folder).status == 0
    assert "kept until 2999-12-31" in recheck(book.folder).retention
    assert run_here(["seal", "--close", "2020-01-31"], book.folder).status == 0
    assert "may be deleted" in recheck(book.folder).retention
