"""Recording a run or step for `swathbook record`; loaded only then, since it reads points."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.record.answers import Answers
from ledger.record.process import ProcessOptions
from ledger.record.result import RecordResult
from ledger.record.run import record_run
from ledger.record.step import record_step
from ledger.walk import read_dropped_path


def enter_run(  # noqa: PLR0913 - one for each option
    job: Path,
    words: tuple[str, ...],
    answers: Answers,
    *,
    inputs: tuple[str, ...],
    name: str,
    together: bool,
    settings_files: tuple[str, ...] = (),
    map_rows: tuple[str, ...] = (),
    evidence: tuple[str, ...] = (),
    by: str,
    kind: str = "run",
) -> RecordResult:
    """Record a run, or a step, with what was typed."""
    options = ProcessOptions(
        paths=tuple(path for word in words for path in _find_paths(word)),
        inputs=inputs,
        answers=answers,
        name=name,
        together=together,
        by=by,
        settings=tuple(read_dropped_path(each) for each in settings_files),
        map_rows=map_rows,
        evidence=tuple(read_dropped_path(each) for each in evidence),
    )
    with TerminalProgress() as progress:
        record = record_step if kind == "step" else record_run
        return record(job, options, make_ask(), progress)


def _find_paths(word: str) -> tuple[Path, ...]:
    """Return the path that was typed, or the files that a pattern names.

    Shells of Windows, and quotes in any shell, leave `out/*.laz` to the program.
    """
    path = read_dropped_path(word)
    if "*" not in path.name or os.path.lexists(path):
        return (path,)
    return tuple(sorted(path.parent.glob(path.name))) or (path,)
