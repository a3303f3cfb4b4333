"""Recording a run as tests do, with nobody there to ask."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.fixity import read_fixity, read_many
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.known import KnownValue
from ledger.record.answers import Answers
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run

MakeTile = Callable[..., Path]


NOBODY = NobodyToAsk()


def record(
    job: Path,
    *paths: Path,
    ask: object = NOBODY,
    answers: dict[str, str | KnownValue] | None = None,
    **more: object,
) -> RecordResult:
    """Record a run with these answers."""
    options = RunOptions(paths=paths, answers=Answers(values=answers or {}), **more)  # type: ignore[arg-type]
    return record_run(job, options, ask, NoProgress())  # type: ignore[arg-type]


def watch_hashing(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Return a list that every file comes into that recording a run reads through from now on."""
    hashed: list[Path] = []

    def watch(paths: list[Path], progress: object) -> object:
        hashed.extend(paths)
        return read_many(paths, progress)  # type: ignore[arg-type]

    def watch_one(path: Path, progress: object) -> object:
        hashed.append(path)
        return read_fixity(path, progress)  # type: ignore[arg-type]

    monkeypatch.setattr("ledger.record.candidates.read_many", watch)
    monkeypatch.setattr("ledger.record.background.read_fixity", watch_one)
    return hashed
