"""Recording a run or step for `swathbook record`; loaded only then, since it reads points."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.errors import UsageError
from ledger.record.answers import Answers
from ledger.record.command import CommandOptions, record_command
from ledger.record.process import ProcessOptions
from ledger.record.result import RecordResult
from ledger.record.run import record_run
from ledger.record.step import record_step
from ledger.record.verbs import RUN, STEP
from ledger.walk import read_dropped_path

_STDERR = 2


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
    command: tuple[str, ...] | None = None,
    yes: bool = False,
    quiet: bool = False,
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
    verb = STEP if kind == STEP.kind else RUN
    with TerminalProgress() as progress:
        if command is None:
            if yes:
                raise UsageError("--yes speaks of a command", remedy="add --command -- CMD …")
            record = record_step if verb == STEP else record_run
            return record(job, options, make_ask(), progress)
        # Where JSON was asked for, nothing else may stand on stdout.
        run = CommandOptions(command, yes=yes, stdout=_STDERR if quiet else None)
        return record_command(job, verb, options, run, ask=make_ask(), progress=progress)


def _find_paths(word: str) -> tuple[Path, ...]:
    """Return the path that was typed, or the files that a pattern names.

    Shells of Windows, and quotes in any shell, leave `out/*.laz` to the program.
    """
    path = read_dropped_path(word)
    if "*" not in path.name or os.path.lexists(path):
        return (path,)
    return tuple(sorted(path.parent.glob(path.name))) or (path,)
