"""How the command ends: 0 as recorded, 1 wrong, 3 a drive is away with nothing lost for certain."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.cli.frame import main
from ledger.store.reading import BOOK_NAME
from ledger.store.schema import TRIGGERS


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a job with one raw file, which was seen on another drive, too."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/a.bin", "a")
    book.register("raw/a.bin")
    return book


def run(book: MadeBook, *words: str) -> int:
    """Return the exit status of a recheck."""
    return main(["--job", str(book.folder), "recheck", *words])


def see_away(book: MadeBook, content: str) -> None:
    """Enter a file on a drive that is not connected."""
    seen = book.see("raw/a.bin", "capture")
    digest = seen.sha256 if content == "a" else "b" * 64
    book.sight(type(seen)("/media/u/ONE/a.bin", digest, 1, 0, "capture"))


def test_as_recorded_is_0_and_anything_wrong_1(job: MadeBook) -> None:
    """A changed or missing file ends with 1, with --json as well."""
    job.close()
    assert run(job) == 0
    job.write("raw/a.bin", "b")
    assert run(job) == 1
    assert run(job, "--json") == 1
    (job.folder / "raw/a.bin").unlink()
    assert run(job) == 1


def test_a_drive_that_is_away_is_3_unless_the_bytes_were_read_elsewhere(job: MadeBook) -> None:
    """Another good copy makes it 0; bytes that lie nowhere else leave it open."""
    see_away(job, "a")
    job.close()
    assert run(job) == 0
    other = MadeBook(job.folder.parent / "other")
    other.write("raw/a.bin", "a")
    see_away(other, "else")
    other.close()
    assert run(other) == 3


def test_a_broken_book_is_1(job: MadeBook, capsys: pytest.CaptureFixture[str]) -> None:
    """However good the files are."""
    job.close()
    connection = sqlite3.connect(job.folder / BOOK_NAME)
    for name in TRIGGERS:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("UPDATE journal SET root = zeroblob(32)")
    connection.commit()
    connection.close()
    assert run(job) == 1
    assert "broken at entry 1" in capsys.readouterr().out


def test_on_media_that_takes_no_writing_the_answer_is_given_and_not_entered(
    job: MadeBook, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A read-only drive changes neither the answer nor the status; the screen says so."""
    job.close()

    def refuse(*_: object, **__: object) -> None:
        raise sqlite3.OperationalError("attempt to write a readonly database")

    monkeypatch.setattr("ledger.recheck.BookWriter.open", refuse)
    assert run(job) == 0
    shown = capsys.readouterr().out
    assert "Everything is as recorded." in shown
    assert "This recheck was not entered" in shown


def test_what_the_book_never_saw_is_wrong_usage(job: MadeBook) -> None:
    """A path of which nothing is recorded, and no file to look up, ends with 2."""
    job.close()
    assert run(job, str(job.folder / "nothing.bin")) == 2
