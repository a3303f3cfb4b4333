"""Files that another program holds open: named in one line each, and nothing else is lost.

Windows refuses to open a file that another program has opened for itself: `PermissionError`, with
the number 32 or 33 of that system beside (Microsoft, System Error Codes: ERROR_SHARING_VIOLATION,
ERROR_LOCK_VIOLATION). Here an opener refuses in its place, while the folder is walked through.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from drive_bench import NAMES, make_drive_bench
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

SAID = "The process cannot access the file because it is being used by another process"
TOLD = "another program has it open"


@contextlib.contextmanager
def locked(*paths: Path, number: int = 32) -> Iterator[None]:
    """Refuse to open some files, by whatever way."""
    names = {str(path) for path in paths}  # absolute, as the commands open them
    opened, opened_by_number = io.open, os.open

    def refuse(file: Any) -> None:
        if isinstance(file, str | os.PathLike) and str(Path(file).absolute()) in names:
            error = PermissionError(errno.EACCES, SAID, os.fspath(file))
            error.winerror = number  # type: ignore[attr-defined]
            raise error

    def open_file(file: Any, *words: Any, **more: Any) -> Any:
        refuse(file)
        return opened(file, *words, **more)

    def open_number(file: Any, *words: Any, **more: Any) -> int:
        refuse(file)
        return opened_by_number(file, *words, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builtins, "open", open_file)
        patch.setattr(io, "open", open_file)
        patch.setattr(os, "open", open_number)
        yield


@pytest.fixture
def bench(tmp_path, monkeypatch) -> JobBench:
    """A job with three raw files and three tiles."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    bench = JobBench(tmp_path)
    SurveyBuilder(bench.job / "out", Layout(compressed=False), Scene(columns=3, density=0.5))
    for name in ("a.bin", "b.bin", "c.bin"):
        bench.write(f"raw/{name}", name.encode())
    return bench


@pytest.fixture
def tile(bench) -> Path:
    """The tile in the middle."""
    return bench.job / "out" / "tile_1_0.las"


def record(bench: JobBench) -> None:
    """Enter the raw files and a run that made the tiles."""
    bench.ask("register", "raw", "--flight", "F1")
    ran = bench.run("record", "out", "--set", "mount_mode=drone")
    assert (ran.status, ran.err) == (0, "")


@pytest.mark.parametrize("number", [32, 33])
def test_the_others_are_registered_and_the_card_is_not_cleared(bench, number: int) -> None:
    """The locked one is one line and stays outside; the next register takes it."""
    with locked(bench.job / "raw" / "b.bin", number=number):
        ran = bench.run("register", "raw", "--flight", "F1")
    assert ran.status == 1
    told = [line for line in ran.out.splitlines() if "raw/b.bin: " in line]
    assert told == [f"  raw/b.bin: cannot be read: {TOLD}; close it there"]
    assert "Do not clear the card: raw/b.bin could not be read" in ran.out
    assert "Registered 2 files" in ran.out
    assert "Registered 3 files" in bench.run("register", "raw", "--flight", "F1").out


def test_a_run_is_recorded_whole_or_not_at_all(bench, tile) -> None:
    """A run with one output too few would be a wrong record: one line, nothing entered."""
    bench.ask("register", "raw", "--flight", "F1")
    with locked(tile):
        (line,) = bench.refuse("record", "out", "--set", "mount_mode=drone")
    assert line.endswith(f"out/tile_1_0.las: cannot be read: {TOLD}; close it there")
    record(bench)


def test_an_audit_says_what_it_could_not_read(bench, tile) -> None:
    """The other files are judged; the locked one is never a pass."""
    record(bench)
    with locked(tile):
        told = bench.ask("audit", "out", status=None)
    assert told["verdict"] in ("do not send", "incomplete")
    about = [each for each in told["findings"] if each["subject"] == "tile_1_0.las"]
    assert TOLD in next(each for each in about if each["check"] == "audit")["sentence"]
    assert told["files"] == 3
    assert all(each["outcome"] != "conforms" for each in about)
    after = bench.ask("audit", "out", status=None)
    assert [each for each in after["findings"] if each["check"] == "audit"] == []


def test_a_recheck_says_unread_and_not_changed(bench, tile) -> None:
    """What could not be read is neither as recorded nor altered, and the rest is checked."""
    record(bench)
    with locked(tile, bench.job / "raw" / "b.bin"):
        ran = bench.run("recheck")
    assert ran.status == 1
    assert ran.out.count(f"cannot be read: {TOLD}") == 2
    assert "4 as recorded, 2 cannot be read" in ran.out
    assert bench.run("recheck").status == 0


def test_a_trace_says_why_it_cannot_tell(bench, tile) -> None:
    """One line, and the record is still there."""
    record(bench)
    with locked(tile):
        (line,) = bench.refuse("trace", "out/tile_1_0.las")
    assert TOLD in line
    assert bench.run("trace", "out/tile_1_0.las").status == 0


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("job.toml", ("audit", "out")),
        ("form.toml", ("record", "flight", "F1", "--from", "form.toml")),
        ("run.ini", ("record", "out", "--settings", "run.ini")),
    ],
)
def test_a_text_that_is_locked_is_one_line(bench, path: str, words: tuple[str, ...]) -> None:
    """Wishes, forms and settings: named, with what the system said."""
    if path == "form.toml":
        bench.write(path, b"[flight]\nmount_mode = 'drone'\n")
    if path == "run.ini":
        bench.write(path, b"[a]\nb = 1\n")
    with locked(bench.job / path):
        (line,) = bench.refuse(*words)
    assert path in line
    assert SAID in line


def test_a_locked_file_of_the_card_is_in_no_copy_and_the_others_are(tmp_path, monkeypatch) -> None:
    """Copying goes on, the card stays, and what was missing follows."""
    bench = make_drive_bench(tmp_path, monkeypatch)
    stick = bench.plug("E")
    with locked(bench.card / NAMES[1]):
        result = bench.register(bench.job, stick)
    assert not result.is_complete
    kept = [path.name for path in sorted(stick.rglob("cap_*.bin"))]
    assert kept == ["cap_p1.bin", "cap_p3.bin"]
    assert TOLD in str(result)
    assert bench.register(bench.job, stick).is_complete
    assert len(list(stick.rglob("cap_*.bin"))) == 3
