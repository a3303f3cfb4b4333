"""A quick audit reads the book whole again as soon as anything happened to its file."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from ledger.bookstamp import BookStamp
from ledger.store.schema import BOOK_NAME
from ledger.store.writing import BookWriter


@pytest.fixture
def checks(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list that grows each time a book is read whole."""
    done: list[str] = []
    check = BookWriter.check

    def note(self: BookWriter, *given: Any) -> Any:
        done.append(str(self.path))
        return check(self, *given)

    monkeypatch.setattr(BookWriter, "check", note)
    return done


def test_a_book_that_nothing_happened_to_is_read_whole_once(bench, checks: list[str]) -> None:
    """Quick audits in a row read it once; a full one always does."""
    bench.audit(quick=True)
    bench.audit(quick=True)
    bench.audit(quick=True)
    assert len(checks) == 1
    bench.audit()
    assert len(checks) == 2
    bench.audit(quick=True)
    assert len(checks) == 2


def test_tables_altered_since_are_mended(bench, checks: list[str]) -> None:
    """What another program did to the derived tables is found, with the clock turned back too."""
    bench.audit(quick=True)
    book = bench.job / BOOK_NAME
    before = book.stat()
    raw = sqlite3.connect(book)
    raw.execute("UPDATE files SET bytes = bytes + 1")
    raw.commit()
    raw.close()
    os.utime(book, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert book.stat().st_size == before.st_size
    bench.audit(quick=True)
    assert len(checks) == 2
    raw = sqlite3.connect(book)
    sizes = {row[0] for row in raw.execute("SELECT bytes FROM files")}
    raw.close()
    assert sizes == {path.stat().st_size for path in bench.survey.paths}


def test_what_is_kept_may_be_lost_or_unreadable(bench, checks: list[str]) -> None:
    """Without the note, or with another text in it, the book is read again."""
    bench.audit(quick=True)
    (kept,) = (bench.job / ".swathbook").glob("book.*")
    kept.write_bytes(b"\xff\xfe")
    bench.audit(quick=True)
    kept.unlink()
    bench.audit(quick=True)
    assert len(checks) == 3


def test_a_file_that_is_not_there_has_no_stamp(tmp_path: Path) -> None:
    """What cannot be read is never the same as anything."""
    stamp = BookStamp.read(tmp_path / BOOK_NAME)
    stamp.keep(tmp_path)
    assert not stamp.is_kept(tmp_path)
