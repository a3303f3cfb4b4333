"""A job in a folder of a test, worked on through the real commands."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ledger.canonical import decode
from ledger.cli.frame import main
from ledger.model.ask import NoProgress
from ledger.model.entry import Entry
from ledger.store.reading import Book


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it printed."""

    status: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        """Return the lines on stderr."""
        return self.err.splitlines()


def run_here(words: Sequence[str | Path], folder: Path) -> Ran:
    """Run one command line in this process, from a folder."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        status = main([str(word) for word in words])
    return Ran(status, out.getvalue(), err.getvalue())


class JobBench:
    """A job folder, `job` below a folder of the test, and commands typed in it."""

    def __init__(self, base: Path) -> None:
        """Make the job with `swathbook start`."""
        self.base = base
        self.job = base / "job"
        ran = self.run("start", str(self.job), cwd=base)
        assert ran.status == 0, ran.err

    def run(self, *words: str | Path, cwd: Path | None = None) -> Ran:
        """Run one command line in this process, from the job folder unless told otherwise."""
        return run_here(words, cwd or self.job)

    def run_apart(self, *words: str | Path, cwd: Path | None = None) -> Ran:
        """Run one command line in a process of its own, as a person does."""
        done = subprocess.run(
            [sys.executable, "-P", "-m", "ledger.cli", *(str(word) for word in words)],
            cwd=cwd or self.job,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
            timeout=300,
        )
        return Ran(done.returncode, done.stdout, done.stderr)

    def ask(self, *words: str | Path, status: int | None = 0) -> dict[str, Any]:
        """Return the JSON that a command prints; it may print nothing else."""
        ran = self.run(*words, "--json")
        assert ran.err == "", ran.err
        assert status is None or ran.status == status, ran.out
        values = read_json(ran.out)
        assert values["schema"] == 1
        return values

    def refuse(self, *words: str | Path, lines: int = 1, status: int = 2) -> list[str]:
        """Return the lines of a command that is refused; the book is as it was before."""
        before = self.read_journal()
        ran = self.run(*words)
        assert ran.status == status, (ran.status, ran.out, ran.err)
        assert len(ran.lines) == lines, ran.err
        assert all(line.startswith("swathbook: ") for line in ran.lines), ran.err
        assert ran.out == ""
        assert self.read_journal() == before
        return [line.removeprefix("swathbook: ") for line in ran.lines]

    def copy(self, source: Path, to: str) -> Path:
        """Copy a file into the job."""
        place = self.job / to
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source, place)
        return place

    def write(self, to: str, content: bytes) -> Path:
        """Write a file of the job."""
        place = self.job / to
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
        return place

    def read_journal(self) -> list[Entry]:
        """Return every entry, of a book that is unbroken."""
        with Book.open(self.job) as book:
            state = book.check(NoProgress())
            assert (state.unbroken, state.derived_difference) == (True, ""), state.sentence
            return list(book.entries())

    def read_list(self, entry: Entry, key: str) -> Any:
        """Return a list that an entry keeps aside."""
        with Book.open(self.job) as book:
            return decode(book.blob(entry.values[key]))


def read_json(text: str) -> dict[str, Any]:
    """Return one JSON object, read as strictly as RFC 8259 allows, and nothing behind it."""
    assert text.count("\n") == 1, text
    values = json.loads(text, parse_constant=_refuse, object_pairs_hook=_require_single)
    text.encode("ascii")
    json.dumps(values, ensure_ascii=False).encode("utf-8")  # no half of a surrogate pair
    assert isinstance(values, dict)
    return values


def _refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is no JSON number")


def _require_single(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    assert len({key for key, _ in pairs}) == len(pairs), "a key stands there twice"
    return dict(pairs)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobBench:
    """Return an empty job; the machine id of the tests stays out of the user's own folder."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    return JobBench(tmp_path)


def make_bench(factory: pytest.TempPathFactory) -> JobBench:
    """Return a job that the tests of a module share."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(factory.mktemp("home")))
        return JobBench(factory.mktemp("work"))
