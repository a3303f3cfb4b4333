"""Recording a run as tests do, with nobody there to ask."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

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
