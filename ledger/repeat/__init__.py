"""Doing a run again: can it be, with which settings, and does it give the same?

Invariants:

- Nothing is run before a person saw the command and said so.
- Recorded inputs and outputs are never written to; new outputs lie elsewhere.
- The outcome is graded as `compare` grades two sets of files, and entered.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from ledger.compare.anything import find_scratch
from ledger.compare.setresult import SetComparison
from ledger.compare.sides import (
    Side,
    SideFile,
    find_process,
    find_shared_folder,
    read_files,
    read_folder,
    read_outputs,
)
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.loading import load_part
from ledger.model.ask import Ask, Progress, Question
from ledger.model.filename import make_book_path
from ledger.model.process import Process
from ledger.record.running import Ended, run_words
from ledger.repeat.cleanfolder import CleanFolder, prepare
from ledger.repeat.entry import describe_environment, enter_repeat
from ledger.repeat.readiness import grade, list_items
from ledger.repeat.result import RepeatResult
from ledger.repeat.sheet import make_sheet
from ledger.store.reading import Book

__all__ = ["RepeatOptions", "RepeatResult", "repeat"]

FAILED = "failed"
_KNOWN = ("output", "audited")
_BY_HAND, _BY_COMMAND = "by hand", "command"


@dataclass(frozen=True)
class RepeatOptions:
    """What a person asked for.

    Args:
        run: id of the run or step.
        outputs: folder of new outputs that were made by hand; None for none.
        is_run: run the recorded command.
        into: folder to run it in; None for one in `.swathbook/`.
        yes: run it without asking.
        stdout: where the command's output goes; None to the program's own.
        by: function of the person.
    """

    run: str
    outputs: Path | None = None
    is_run: bool = False
    into: Path | None = None
    yes: bool = False
    stdout: int | None = None
    by: str = "technician"


def repeat(job: Path, options: RepeatOptions, ask: Ask, progress: Progress) -> RepeatResult:
    """Say whether a run can be done again and how; run its command or grade new outputs on demand.

    Args:
        job: the job folder.
        options: what was asked for.
        ask: the person.
        progress: told the bytes and points read.

    Raises:
        UsageError: there is no such run, or nothing that could be run or graded.
        FileError: an input or output cannot be read, or is not what was recorded.
        BookError: the book cannot be opened or written.
    """
    if options.outputs is not None and options.is_run:
        raise UsageError("--run makes new outputs, --with grades those made by hand: choose one")
    if not options.is_run and (options.into is not None or options.yes):
        raise UsageError("--into and --yes speak of --run, which was not asked for")
    with Book.open(job) as book:
        process = find_process(book, options.run)
        items = list_items(book, process)
        result = RepeatResult(process.id, grade(items), items, make_sheet(book, process))
        if options.outputs is not None:
            return _grade_by_hand(book, process, result, options, progress)
        if options.is_run:
            return _run_again(book, process, result, options, ask, progress)
    return result


def _grade_by_hand(
    book: Book, process: Process, result: RepeatResult, options: RepeatOptions, progress: Progress
) -> RepeatResult:
    if options.outputs is None:
        raise UsageError("no new outputs are named")
    made = read_folder(options.outputs, str(options.outputs), None, progress)
    first = read_outputs(book, process, progress)
    own = {os.path.realpath(file.place) for file in first.files}
    if any(os.path.realpath(file.place) in own for file in made.files):
        raise UsageError(
            f"that is what {process.id} itself made",
            where=str(options.outputs),
            remedy="name the folder of the new outputs",
        )
    _require_new(book, made)
    folder = Path(os.path.abspath(options.outputs))  # noqa: PTH100 - links stay links
    told = {"manner": _BY_HAND}
    return _enter(book, (first, made), replace(result, folder=str(folder)), told, options, progress)


def _require_new(book: Book, made: Side) -> None:
    """Refuse files that the book knows at their place: copied there once, they repeat nothing.

    Raises:
        UsageError: a run made one of them, or an audit found it there.
    """
    for file in made.files:
        path = make_book_path(file.place, book.folder)[0]
        for use in book.uses(file.sha256):
            if use.relation in _KNOWN and use.file.path == path:
                raise UsageError(
                    f"that is no new output: the book knows it since entry {use.entry}",
                    found=path,
                    remedy="let the program write to a folder of its own, and name that",
                )


def _run_again(  # noqa: PLR0913, PLR0917 - what is run, what of, who says so
    book: Book,
    process: Process,
    result: RepeatResult,
    options: RepeatOptions,
    ask: Ask,
    progress: Progress,
) -> RepeatResult:
    if not result.sheet.command:
        raise UsageError(
            f"{process.id} was not run by a command that the book knows",
            remedy=f"set what swathbook repeat {process.id} lists, then name what came of it: "
            f"swathbook repeat {process.id} --with FOLDER",
        )
    first = read_outputs(book, process, progress)
    _require_consent(result, options, ask)
    clean = prepare(book, process, result.sheet, options.into, progress)
    environment = describe_environment(clean.words[0], clean.cwd)
    ended = run_words(clean.words, stdout=options.stdout, folder=clean.cwd)
    written = clean.list_written()
    clean.drop_copies()
    if ended.stopped:
        clean.drop()
        raise KeyboardInterrupt("the command was stopped, and nothing was entered")
    told = _describe(result, clean, ended, environment)
    done = replace(
        result,
        folder=str(clean.root),
        exit_status=ended.status,
        unrecorded=clean.unrecorded,
    )
    expected = process.find_value("exit_status")
    has_failed = ended.status != (expected.value if expected is not None else 0)
    if has_failed or not written:
        values = {**told, "outcome": FAILED, "change": "", "sentence": ""}
        values |= {"process": process.id, "readiness": str(result.readiness)}
        entry = enter_repeat(book.folder, values, None, clean.root, options.by)
        return replace(done, outcome=FAILED, entry=entry)
    made = _gather(process, clean, written, progress)
    return _enter(book, (first, made), done, told, options, progress)


def _require_consent(result: RepeatResult, options: RepeatOptions, ask: Ask) -> None:
    shown = f"{result.sheet.command}   (recorded in {result.sheet.folder or '.'})"
    if options.yes:
        ask.tell(f"Running again: {shown}")
        return
    if not ask.interactive:
        raise UsageError(
            "nobody is there to say that the command may run", found=shown, remedy="add --yes"
        )
    question = Question("command", f"Run this again, in a clean folder: {shown}", default="no")
    if not ask.confirm(question):
        raise UsageError("the command was not run, and nothing was entered")


def _describe(
    result: RepeatResult, clean: CleanFolder, ended: Ended, environment: dict[str, Any]
) -> dict[str, Any]:
    return {
        "manner": _BY_COMMAND,
        "command": result.sheet.command,
        "exit_status": ended.status,
        "started": ended.started,
        "ended": ended.ended,
        "environment": environment,
        "unrecorded": list(clean.unrecorded),
    }


def _gather(process: Process, clean: CleanFolder, written: list[Path], progress: Progress) -> Side:
    """Return what the command wrote where the first run's outputs lie, else all it wrote."""
    shared = find_shared_folder([output.file.path for output in process.outputs])
    below = [path for path in written if path.is_relative_to(clean.root / shared)]
    chosen, root = (below, clean.root / shared) if below else (written, clean.root)
    return read_files(chosen, root, "the new outputs", None, progress)


def _enter(  # noqa: PLR0913, PLR0917 - both sides, and what is told of them
    book: Book,
    sides: tuple[Side, Side],
    result: RepeatResult,
    told: dict[str, Any],
    options: RepeatOptions,
    progress: Progress,
) -> RepeatResult:
    compare = load_part("ledger.compare.sets", "compare_sets")
    first, made = (_keep_traced(side) for side in sides)
    found: SetComparison = compare(first, made, find_scratch(book.folder), progress)
    values = {
        **told,
        "process": result.run,
        "readiness": str(result.readiness),
        "outcome": str(found.grade),
        "change": str(found.change),
        "sentence": found.sentence,
    }
    entry = enter_repeat(book.folder, values, made, Path(result.folder), options.by)
    return replace(result, outcome=str(found.grade), comparison=found, entry=entry)


def _keep_traced(side: Side) -> Side:
    """Return a side without hidden files, which systems leave behind and no run makes."""
    kept: tuple[SideFile, ...] = tuple(
        file for file in side.files if not file.name.rpartition("/")[2].startswith(".")
    )
    return replace(side, files=kept)
