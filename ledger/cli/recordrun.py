"""Recording a run for `swathbook record`; loaded only then, since it reads points."""

from __future__ import annotations

from pathlib import Path

from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.record.answers import Answers
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.walk import read_dropped_path


def enter_run(  # noqa: PLR0913 - one for each option
    job: Path,
    words: tuple[str, ...],
    answers: Answers,
    *,
    inputs: tuple[str, ...],
    name: str,
    together: bool,
    by: str,
) -> RecordResult:
    """Record a run with what was typed."""
    options = RunOptions(
        paths=tuple(read_dropped_path(word) for word in words),
        inputs=inputs,
        answers=answers,
        name=name,
        together=together,
        by=by,
    )
    with TerminalProgress() as progress:
        return record_run(job, options, make_ask(), progress)
