"""Running a command and recording it: what it was, how it ended, what it wrote.

Invariants:

- No shell: the words are handed over as they were typed, in the folder where they were typed.
- Nothing runs before a person said so, or `--yes` did.
- Of the command line only what is clean of secrets is kept, of the environment nothing.
- What the command wrote is told from the files before and after it; a file that it left alone is
  not attributed to it.
- What it only copied is no output of it: the run that wrote those bytes first made them.
- A command that fails and leaves files is recorded as rejected, since stale files come from just
  such attempts; one that fails and leaves nothing is not recorded. One that a person stopped is
  never recorded.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.jobfolder import find_places
from ledger.model.ask import Ask, NobodyToAsk, Progress, Question
from ledger.model.filename import make_book_path
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import agree, count_things
from ledger.model.process import Decision
from ledger.outputs import list_outputs
from ledger.record.copied import find_copied
from ledger.record.process import ProcessOptions, see_again
from ledger.record.result import RecordResult
from ledger.record.run import record_run
from ledger.record.running import Ended, run_words
from ledger.record.step import record_step
from ledger.record.verbs import STEP, Verb
from ledger.settings.commandline import CleanedCommand, clean_command
from ledger.store.reading import Book

# Words that only a shell would understand; to a program they are file names.
_OF_A_SHELL = frozenset({"|", "||", "&", "&&", ";", ">", ">>", "<", "2>", "2>&1"})

Stamps = Mapping[Path, tuple[int, int, int]]


@dataclass(frozen=True)
class CommandOptions:
    """What a person said about a command.

    Args:
        words: the command and its arguments.
        yes: run it without asking.
        stdout: where its output goes; None to the program's own.
    """

    words: tuple[str, ...]
    yes: bool = False
    stdout: int | None = None


def record_command(  # noqa: PLR0913 - what is run, what is said of it, who answers
    job: Path,
    verb: Verb,
    options: ProcessOptions,
    command: CommandOptions,
    *,
    ask: Ask,
    progress: Progress,
) -> RecordResult:
    """Run a command and record it with the files that it wrote.

    Args:
        job: the job folder.
        verb: run or step.
        options: what was said already; named paths are looked at for outputs, else the folder of
            outputs.
        command: the command.
        ask: the person; where nobody is there, only `yes` lets it run.
        progress: is told what is read afterwards.

    Raises:
        UsageError: nothing to run, nobody agreed, it cannot be started, it failed and left nothing,
            or it wrote nothing where it was looked for.
        KeyboardInterrupt: the person stopped it.
    """
    options.answers.read(verb.kind, job)  # what is wrong there is better said before it runs
    cleaned = clean_command(command.words)
    _require_plain(command.words)
    _require_consent(cleaned, command, ask)
    folders = [path.absolute() for path in options.paths] or [find_places(job).out]
    before = _stamp(folders, job)
    ended = run_words(command.words, stdout=command.stdout)
    written = _list_written(before, _stamp(folders, job))
    if ended.stopped:
        raise KeyboardInterrupt(_tell_stopped(written))
    _require_written(verb, ended, written, folders)
    with Book.open(job) as book:
        copied = find_copied(book, written, command.words, progress)
    if copied:
        seen = see_again(job, copied, options.by)
        return replace(seen, exit_status=ended.status, is_copy=True)
    told = {**_describe(job, verb, cleaned, ended), **_reject(verb, options, ended)}
    answers = replace(options.answers, values={**told, **options.answers.values})
    full = replace(options, paths=_name_places(written, job), together=True, answers=answers)
    record = record_step if verb == STEP else record_run
    result = record(job, full, NobodyToAsk() if ended.status else ask, progress)
    taken_out = [f"command: {name}" for name in cleaned.taken_out]
    return replace(result, taken_out=(*result.taken_out, *taken_out), exit_status=ended.status)


def _require_plain(words: Sequence[str]) -> None:
    """Refuse a command line that needs a shell.

    Raises:
        UsageError: there is no command, or a word that only a shell understands.
    """
    if not words:
        raise UsageError("no command is named", remedy="swathbook record --command -- CMD …")
    found = [word for word in words if word in _OF_A_SHELL]
    if found:
        raise UsageError(
            "a command is run without a shell",
            found=found[0],
            remedy="put the line into a script, and run that",
        )


def _require_consent(cleaned: CleanedCommand, command: CommandOptions, ask: Ask) -> None:
    if command.yes:
        ask.tell(f"Running: {cleaned.text}")
        return
    if not ask.interactive:
        raise UsageError(
            "nobody is there to say that the command may run",
            found=cleaned.text,
            remedy="add --yes",
        )
    if not ask.confirm(Question("command", f"Run this: {cleaned.text}", default="yes")):
        raise UsageError("the command was not run, and nothing was entered")


def _stamp(places: Iterable[Path], job: Path) -> Stamps:
    """Return the files at and below places that are there, each with what the system says of it."""
    stamps: dict[Path, tuple[int, int, int]] = {}
    for path in list_outputs([place for place in places if os.path.lexists(place)], job):
        with contextlib.suppress(OSError):  # gone in this moment
            status = path.stat()
            stamps[path] = (status.st_size, status.st_mtime_ns, status.st_ino)
    return stamps


def _list_written(before: Stamps, after: Stamps) -> tuple[Path, ...]:
    return tuple(sorted(path for path in after if after[path] != before.get(path)))


def _require_written(
    verb: Verb, ended: Ended, written: Sequence[Path], folders: Sequence[Path]
) -> None:
    if written:
        return
    where = ", ".join(str(folder) for folder in folders)
    if ended.status:
        raise UsageError(
            f"the command ended with exit status {ended.status} and left no file; nothing was "
            "entered",
            where=where,
        )
    raise UsageError(
        "the command wrote no file there; nothing was entered",
        where=where,
        remedy=f"record what it made: {verb.command} PATH…",
    )


def _tell_stopped(written: Sequence[Path]) -> str:
    told = "the command was stopped, and nothing was entered"
    if not written:
        return told
    left = count_things(len(written), "file")
    return f"{told}; {left} that it left {agree(len(written), 'has', 'have')} no run"


def _describe(
    job: Path, verb: Verb, cleaned: CleanedCommand, ended: Ended
) -> dict[str, str | KnownValue]:
    """Return what is known of the command, by field key."""
    said = {
        "command": cleaned.text,
        "folder": make_book_path(Path.cwd(), job)[0] or ".",
        "exit_status": ended.status,
        "started": ended.started,
        "ended": ended.ended,
    }
    return {
        f"{verb.kind}.{name}": KnownValue(value, known_by=KnownBy.READ)
        for name, value in said.items()
    }


def _reject(verb: Verb, options: ProcessOptions, ended: Ended) -> dict[str, str | KnownValue]:
    """Return the decision on a command that failed; none where a person decided already."""
    said = {*options.answers.values, *(each.partition("=")[0] for each in options.answers.settings)}
    if not ended.status or said & {"decision", f"{verb.kind}.decision"}:
        return {}
    return {
        f"{verb.kind}.decision": str(Decision.REJECTED),
        f"{verb.kind}.reason": f"the command ended with exit status {ended.status}",
    }


def _name_places(written: Sequence[Path], job: Path) -> tuple[Path, ...]:
    """Return the written files, a folder in place of all its files where it holds no other."""
    known = set(written)
    places: dict[Path, None] = {}
    for path in written:
        whole = set(list_outputs([path.parent], job)) <= known
        places[path.parent if whole and path.parent != find_places(job).out else path] = None
    return tuple(places)
