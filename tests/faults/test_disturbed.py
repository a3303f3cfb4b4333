"""What a computer, a clock, a drive and an earlier version do to a job while it is worked on."""

from __future__ import annotations

import errno
import gzip
import io
import os
import shutil
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fuzzseeds import describe_book, forge_book, make_job
from job_bench import JobBench, run_here

from ledger import fixity
from ledger.model.ask import NoProgress
from ledger.store import writing
from ledger.store.reading import BOOK_NAME, Book
from ledger.testing import Layout, Scene, SurveyBuilder

BOOKS = sorted((Path(__file__).parent / "books").glob("*.gz"))
LOOKS = (
    (),
    ("recheck", "--book-only"),
    ("trace", "R1"),
    ("find", "software"),
    ("record", "decision", "R1", "rejected", "--reason", "looked at again"),
    ("seal",),
)


def look_at(job: Path) -> None:
    """Type what reads and what writes; all of it works, and the book stays unbroken."""
    for words in LOOKS:
        ran = run_here(words, job)
        assert (ran.status in (0, 1, 3), ran.err) == (True, ""), words
    with Book.open(job) as book:
        state = book.check(NoProgress())
        assert (state.unbroken, state.derived_difference) == (True, "")


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job with a flight, a run, a decision, an audit and a seal."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        place = tmp_path_factory.mktemp("laid") / "job"
        make_job(place)
        return place


# Books.


@pytest.mark.parametrize("packed", BOOKS, ids=[path.name for path in BOOKS])
def test_a_book_of_each_earlier_version_is_read_and_goes_on(packed: Path, tmp_path: Path) -> None:
    """Books that earlier versions wrote, with tables laid out as they did then."""
    content = gzip.decompress(packed.read_bytes())
    (tmp_path / BOOK_NAME).write_bytes(content)
    with Book.open(tmp_path) as book:
        before = list(book.bodies())
    look_at(tmp_path)
    with Book.open(tmp_path) as book:
        assert list(book.bodies())[: len(before)] == before


def test_a_book_of_an_earlier_version_is_read_where_nothing_can_be_written(tmp_path: Path) -> None:
    """Its tables are made anew in memory, and the file stays byte for byte as it was."""
    content = gzip.decompress(BOOKS[0].read_bytes())
    (tmp_path / BOOK_NAME).write_bytes(content)
    for words in (("trace", "R1"), ("find", "software")):
        assert run_here(words, tmp_path).status == 0
    assert (tmp_path / BOOK_NAME).read_bytes() == content


# Clocks.


class _SteppedClock(datetime):
    """A clock that somebody sets between any two entries: years back, years ahead."""

    steps = 0

    @classmethod
    def now(cls, tz: Any = None) -> datetime:  # type: ignore[override]
        cls.steps += 1
        years = (0, -12, 3, -50, 40)[cls.steps % 5]
        return datetime(2026, 5, 4, tzinfo=UTC) + timedelta(days=365 * years)


def test_a_clock_that_is_set_back_leaves_the_order_of_entries(
    laid: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Entries are in order by their numbers; times are what the clock said."""
    job = shutil.copytree(laid, tmp_path / "job")
    monkeypatch.setattr(writing, "datetime", _SteppedClock)
    look_at(job)
    look_at(job)
    with Book.open(job) as book:
        entries = list(book.entries())
    assert [entry.seq for entry in entries] == list(range(1, len(entries) + 1))
    times = [entry.time for entry in entries]
    assert times != sorted(times)


def test_a_leap_second_and_other_times_of_a_foreign_book(laid: Path, tmp_path: Path) -> None:
    """23:59:60 is a time of RFC 3339, section 5.7; a book that holds it is read and goes on."""
    text = describe_book(laid)
    with Book.open(laid) as book:
        times = {entry.time for entry in book.entries()}
    for time in times:
        text = text.replace(time.encode(), b"2016-12-31T23:59:60Z")
    job = shutil.copytree(laid, tmp_path / "job")
    (job / BOOK_NAME).unlink()
    forge_book(text, job / BOOK_NAME)
    for words in LOOKS[:-1]:  # its seal does not fit, which a new one would say
        ran = run_here(words, job)
        assert ran.status in (0, 1, 3), ran.err


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="zones are set in another way there")
def test_a_zone_that_changes_between_two_commands_changes_no_time(bench: JobBench) -> None:
    """Whoever travels with the laptop: entries are in UTC, to the minute."""
    zones = ("Pacific/Kiritimati", "America/Adak")  # 14 h ahead, 10 h behind
    for number, zone in enumerate(zones):
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("TZ", zone)
            bench.write(f"raw/{number}.bin", bytes(number + 1))
            ran = bench.run_apart("register", "raw", "--flight", "F1")
            assert ran.status == 0, ran.err
    now = datetime.now(UTC)
    for entry in bench.read_journal():
        told = datetime.fromisoformat(entry.time)
        assert abs(now - told) < timedelta(minutes=10)


# Drives.


def break_reading(path: Path, number: int, patch: pytest.MonkeyPatch) -> None:
    """Let the drive of a file go away once its first piece was read."""

    class Stream(io.FileIO):
        def readinto(self, into: memoryview) -> int | None:  # type: ignore[override]
            if self.name == str(path) and self.tell():
                raise OSError(number, os.strerror(number))
            return super().readinto(into)

    def open_it(place: Path, mode: str, *, opener: Any, **_: Any) -> io.FileIO:
        return Stream(str(place), mode, opener=opener)

    patch.setattr(fixity, "open", open_it, raising=False)


@pytest.mark.parametrize("number", [errno.EIO, errno.ENODEV, errno.ESTALE])
def test_a_drive_that_goes_away_while_a_file_is_read(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """One line with the file; nothing of it is entered, and the next try reads it again."""
    path = bench.write("raw/a.bin", bytes(3 << 20))
    with monkeypatch.context() as patch:
        break_reading(path, number, patch)
        (line,) = bench.refuse("register", "raw")
    assert "a.bin: cannot be read" in line
    assert bench.ask("register", "raw")["files"][0]["bytes"] == 3 << 20


def test_a_drive_that_goes_away_once_a_file_was_looked_at(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Closing is refused as well: one line with the file, and the next try records it."""
    path = bench.write("out/R1/surface.tif", b"II*\0" * 9)
    bench.write("raw/a.bin", b"raw")
    bench.ask("register", "raw", "--flight", "F1")
    words = ("record", "out/R1", "--input", "F1", "--set", "software=demo-proc")

    class Stream(io.FileIO):
        def close(self) -> None:
            super().close()
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    def open_it(place: Path, mode: str, *, opener: Any, **_: Any) -> io.FileIO:
        return (Stream if place == path else io.FileIO)(str(place), mode, opener=opener)

    unheard: list[object] = []
    with monkeypatch.context() as patch:
        patch.setattr(fixity, "open", open_it, raising=False)
        patch.setattr(sys, "unraisablehook", unheard.append)
        ran = bench.run(*words)
    assert (ran.status, unheard) == (2, [])
    assert "surface.tif: cannot be read" in ran.lines[0]
    bench.ask(*words)


def test_a_drive_that_goes_away_during_an_audit(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that can no longer be read is a major finding, never a pass."""
    survey = SurveyBuilder(bench.job / "out", Layout(compressed=False), Scene(columns=1))
    path = survey.path(0)
    with monkeypatch.context() as patch:
        break_reading(path, errno.EIO, patch)
        result = bench.ask("audit", "out", status=1)
    majors = {each["subject"] for each in result["findings"] if each["grade"] == "major"}
    assert path.name in majors
    assert [each for each in result["findings"] if each["outcome"] == "errored"] == []


@pytest.mark.parametrize("year", [1901, 2262, 2400])
def test_files_with_a_time_of_any_century_are_registered_and_recorded(
    bench: JobBench, year: int
) -> None:
    """A scanner without a battery, and a damaged file system, write any year."""
    seconds = (datetime(year, 6, 1, tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    for name in ("raw/a.bin", "out/R1/surface.tif"):
        path = bench.write(name, name.encode())
        try:
            os.utime(path, (seconds, seconds))
        except (OSError, OverflowError):
            pytest.skip("this file system has no such time")
    bench.ask("register", "raw", "--flight", "F1")
    bench.ask("record", "out/R1", "--input", "F1", "--set", "software=demo-proc")
    bench.ask("trace", "R1")
    bench.ask("trace", "F1")
    bench.ask("recheck")
    bench.read_journal()
