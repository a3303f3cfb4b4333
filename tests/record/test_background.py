"""Outputs are read while the person answers; nobody waits for them before the first question."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from pathlib import Path

import pytest
from scripted import Scripted

from ledger.errors import ChangedFileError, FaultsError, UnreadableFileError
from ledger.fixity import Fixity, read_fixity, read_many
from ledger.model.artefact import Output
from ledger.model.ask import NobodyToAsk, NoProgress, Progress, Question
from ledger.record import background
from ledger.record.answers import Answers
from ledger.record.background import BackgroundReading
from ledger.record.candidates import Candidate, Stamp, take_digest
from ledger.record.outputs import describe_output
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book

MakeTile = Callable[..., Path]
_PATIENCE_S = 20.0


def record(job: Path, ask: object, progress: Progress | None = None) -> RecordResult:
    """Record a run, asking a person."""
    return record_run(job, RunOptions(answers=Answers()), ask, progress or NoProgress())  # type: ignore[arg-type]


def list_readers() -> list[str]:
    """Return the threads that read outputs."""
    return [each.name for each in threading.enumerate() if each.name.startswith("outputs")]


class Shown(NoProgress):
    """Notes what work was announced."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self.started: list[tuple[str, int, str]] = []
        self.done = 0
        self.threads: set[int] = set()

    def start(self, label: str, total: int, unit: str) -> None:
        """Note it."""
        self.started.append((label, total, unit))

    def advance(self, amount: int) -> None:
        """Add, and note who did."""
        self.done += amount
        self.threads.add(threading.get_ident())


def test_points_are_counted_while_a_question_waits(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the first question of the form the files are being read, and all are before the last."""
    make_tile("out/a.las")
    make_tile("out/b.las")
    counted = threading.Semaphore(0)

    def watch(each: Candidate, progress: Progress, *, parallel: bool) -> Output:
        assert not parallel  # it would hold the terminal up
        output = describe_output(each, progress, parallel=parallel)
        counted.release()
        return output

    monkeypatch.setattr(background, "describe_output", watch)

    class Waiting(Scripted):
        def answer(self, question: Question) -> str:
            if question.key == "run.mount_mode":
                assert counted.acquire(timeout=_PATIENCE_S)
                assert counted.acquire(timeout=_PATIENCE_S)
            return super().answer(question)

    shown = Shown()
    result = record(job, Waiting(), shown)
    assert [output.points for output in result.outputs] == [5, 5]
    assert shown.started == []  # nothing was left to wait for


def test_only_files_whose_bytes_may_be_known_are_read_first(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new file of a size that the book does not have is not read before the first question."""
    make_tile("out/R1/a.las")
    record(job, NobodyToAsk())
    same = make_tile("out/R2/b.las", minutes=1)
    make_tile("out/R2/c.las", points=7, minutes=1)
    first: list[Path] = []

    def watch(paths: list[Path], progress: Progress) -> Iterator[object]:
        first.extend(paths)
        return read_many(paths, progress)

    monkeypatch.setattr("ledger.record.candidates.read_many", watch)
    result = record(job, Scripted())
    assert first == [same]
    assert [output.points for output in result.outputs] == [5, 7]


def test_progress_is_shown_only_for_what_is_left_and_by_the_asking_thread(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nobody is asked, all of it is left; counts add up, in the thread that waits."""
    sizes = [make_tile(f"out/{name}.las").stat().st_size for name in "ab"]
    begin = threading.Event()

    def wait(path: Path, progress: Progress) -> Fixity:
        begin.wait(_PATIENCE_S)
        return read_fixity(path, progress)

    monkeypatch.setattr(background, "read_fixity", wait)

    class Beginning(Shown):
        def start(self, label: str, total: int, unit: str) -> None:
            super().start(label, total, unit)
            begin.set()

    shown = Beginning()
    record(job, NobodyToAsk(), shown)
    assert shown.started[0] == ("hashing", sum(sizes), "bytes")
    assert shown.threads <= {threading.get_ident()}


def test_ctrl_c_ends_the_reading_and_keeps_the_answers(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who stops does not wait for files that are half read, and no thread is left behind."""
    make_tile("out/tile.las")
    reading, ended = threading.Event(), threading.Event()

    def read_for_ever(each: Candidate, progress: Progress, *, parallel: bool) -> Output:
        reading.set()
        try:
            while True:
                progress.advance(0)
        except CancelledError:
            ended.set()
            raise

    monkeypatch.setattr(background, "describe_output", read_for_ever)

    class Stopping(Scripted):
        def answer(self, question: Question) -> str:
            assert reading.wait(_PATIENCE_S)
            return super().answer(question)

    with pytest.raises(KeyboardInterrupt, match="1 answer is kept"):
        record(job, Stopping({"run.mount_mode": "drone"}, at="run.lever_arm"))
    assert ended.is_set()
    assert list_readers() == []


def test_what_cannot_be_read_is_told_after_the_form_with_every_answer_kept(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both files are named, then the draft and the command; the next form goes on with it."""
    paths = [make_tile(f"out/{name}.las") for name in "ab"]

    def refuse(path: Path, progress: Progress) -> Fixity:
        raise UnreadableFileError("the drive could not read it", where=str(path))

    with monkeypatch.context() as patch:
        patch.setattr(background, "read_fixity", refuse)
        with pytest.raises(UnreadableFileError) as caught:
            record(job, Scripted({"run.mount_mode": "drone"}))
    lines = str(caught.value).splitlines()
    assert [line.partition(": ")[0] for line in lines[:2]] == [str(path) for path in paths]
    assert "1 answer is kept" in lines[2]
    assert "go on with: swathbook record" in lines[2]
    assert len(lines) == 3
    with Book.open(job) as book:
        assert book.processes() == ()
    ask = Scripted()
    assert record(job, ask).values["run.mount_mode"].value == "drone"


def test_several_kinds_of_error_are_told_together(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One file that cannot be read and one that changed make two lines."""
    first, second = (make_tile(f"out/{name}.las") for name in "ab")

    def refuse(path: Path, progress: Progress) -> Fixity:
        if path == first:
            raise UnreadableFileError("the drive could not read it", where=str(first))
        os.utime(second)
        return read_fixity(second, progress)

    monkeypatch.setattr(background, "read_fixity", refuse)
    with pytest.raises(FaultsError) as caught:
        record(job, NobodyToAsk())
    lines = str(caught.value).splitlines()
    assert ["could not read" in lines[0], "changed while it was recorded" in lines[1]] == [True] * 2


def test_a_fault_of_the_program_comes_out(
    job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What goes wrong in the thread is not lost there."""
    make_tile("out/tile.las")

    def break_down(each: Candidate, progress: Progress, *, parallel: bool) -> Output:
        raise ZeroDivisionError

    monkeypatch.setattr(background, "describe_output", break_down)
    with pytest.raises(ZeroDivisionError):
        record(job, NobodyToAsk())
    assert list_readers() == []


def test_nothing_to_read_is_nothing_to_wait_for() -> None:
    """A run of which no file was kept has no outputs."""
    with BackgroundReading((), asking=False) as reading:
        assert reading.finish(NoProgress()) == ()


def test_a_file_replaced_by_one_of_the_same_time_and_size_is_seen(
    job: Path, make_tile: MakeTile
) -> None:
    """Another file under the same name is another file."""
    path = make_tile("out/tile.las")

    class Swapping(Scripted):
        def answer(self, question: Question) -> str:
            if question.key == "run.mount_mode":
                status = path.stat()
                other = path.with_suffix(".new")
                other.write_bytes(bytes(status.st_size))
                os.utime(other, ns=(status.st_atime_ns, status.st_mtime_ns))
                other.replace(path)
            return super().answer(question)

    with pytest.raises((ChangedFileError, FaultsError), match="changed while it was recorded"):
        record(job, Swapping())


def test_a_fixity_is_taken_only_for_the_file_that_was_found(job: Path, make_tile: MakeTile) -> None:
    """The digest of a file that has grown since is not that of the file that was grouped."""
    path = make_tile("out/tile.las")
    each = Candidate(path, "out/tile.las", "", Stamp(1, 2, "3:4"))
    assert take_digest(each, Fixity("ab", 1, 2, "3:4")).sha256 == "ab"
    with pytest.raises(ChangedFileError):
        take_digest(each, Fixity("ab", 2, 2, "3:4"))
