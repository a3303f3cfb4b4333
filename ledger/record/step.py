"""Recording a step after processing: cleaning, classifying, tiling, merging, reprojecting.

Invariants beyond those of a run:

- A step works on what runs or other steps made, so its descent never ends at it.
- The program that stands in the headers is taken for the step's own only where it is another one
  than in what went in: many programs leave that text as they found it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.errors import UsageError
from ledger.forms import Interview, Unfinished
from ledger.model.artefact import Role
from ledger.model.ask import Ask, Progress, Question
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things, join_choices
from ledger.model.process import Decision, Input, Process
from ledger.record.answers import make_finder
from ledger.record.background import BackgroundReading
from ledger.record.candidates import Candidate
from ledger.record.findsettings import read_or_offer_settings
from ledger.record.inputs import Used, find_named_inputs, list_outputs, read_evidence
from ledger.record.process import (
    ProcessOptions,
    ProcessRecord,
    choose_outputs,
    find_makers,
    is_thrown_away,
    name_outputs,
    see_again,
)
from ledger.record.result import RecordResult
from ledger.record.told import read_told
from ledger.record.verbs import RUN, STEP
from ledger.status import find_next_step
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

StepOptions = ProcessOptions

_KEY = "inputs"
# Only the program is likely the same one as last time; what was done with it is not.
_CARRIED = ("step.software", "step.version")
_POINTS = (Role.POINTS, Role.CAPTURE, "")


def record_step(job: Path, options: StepOptions, ask: Ask, progress: Progress) -> RecordResult:
    """Record one step, asking for what neither files nor options tell.

    Args:
        job: the job folder.
        options: what was said already.
        ask: the person; where nobody is there, only what was said and read is recorded.
        progress: is told what is read.

    Raises:
        UsageError: there is nothing to record, nothing that a run or step made went in, outputs
            of several steps and nobody to ask, or an answer that cannot be used.
        FaultsError: outputs that cannot be read, or are still being written.
        ChangedFileError: an output changed while it was recorded.
        BookError: the book cannot be used.
    """
    given = options.answers.read(STEP.kind, job)
    with Book.open(job) as book:
        named = find_named_inputs(book, options.inputs, progress)
        evidence = read_evidence(book, options.evidence, progress)
        chosen = choose_outputs(book, STEP, options, given, ask=ask, progress=progress)
    if not chosen.files and chosen.known and not is_thrown_away(STEP, given):
        return see_again(job, chosen.known, options.by)
    unfinished = Unfinished(job, STEP.kind, name_outputs(chosen))
    with (
        unfinished.explain_stop(options.write_command(STEP)),
        BackgroundReading(chosen.files, asking=ask.interactive) as reading,
    ):
        with Book.open(job) as book:
            used = named if options.inputs else _ask_sources(book, options, ask)
            makers = find_makers(book, used.inputs)
            _require_sources(used, makers, options)
            told = _read_told(book, chosen.files, used.inputs)
            points_in = _count_points(book, used.inputs)
            carried = _find_carried(book)
            read = read_or_offer_settings(book, STEP, options, chosen.files, ask)
        title = f"Step that made {unfinished.about}"
        interview = Interview(STEP.kind, ask, make_finder(job), unfinished, carried, title=title)
        values = interview.fill({**told, **read.values, **given})
        outputs = reading.finish(progress)
        used = used.with_inputs((*read.inputs, *evidence))
        record = ProcessRecord(
            STEP, options, values, used, makers, outputs, chosen, points_in, read
        )
        with BookWriter.open(job) as writer:
            result = record.enter(writer, chosen.known)
    unfinished.clear()
    return replace(result, step=find_next_step(job))


def _ask_sources(book: Book, options: StepOptions, ask: Ask) -> Used:
    """Return what the runs and steps made that a person names.

    Raises:
        UsageError: nobody is there, or nothing is recorded that a step could work on.
    """
    makers = [process for process in book.processes() if process.outputs]
    if not makers:
        raise UsageError(
            "a step works on what a run made, and no run with outputs is recorded",
            remedy=f"record the run first: {RUN.command}",
        )
    if not ask.interactive:
        raise _make_source_error("nobody said what the step worked on", options, makers)
    picked = _pick(sorted(makers, key=_prefer), ask)
    if not picked:
        raise _make_source_error("nothing was chosen that the step worked on", options, makers)
    return Used(tuple(each for process in picked for each in list_outputs(process)))


def _prefer(process: Process) -> tuple[bool, int]:
    """Return the key that puts what is wanted first, the latest of it first."""
    unwanted = process.decision in (Decision.REJECTED, Decision.SUPERSEDED)
    return unwanted, -process.entry


def _pick(makers: Sequence[Process], ask: Ask) -> list[Process]:
    """Return the runs and steps that a person names; who forgot the tick is asked again."""
    if len(makers) == 1:
        text = f"Did this step work on what {_describe(makers[0])} made"
        return list(makers) if ask.confirm(Question(_KEY, text, default="yes")) else []
    choices = {_describe(process): process for process in makers}
    text = "Which of these made what this step worked on"
    question = Question(_KEY, text, choices=tuple(choices))
    again = Question(_KEY, "Nothing is ticked (the space bar ticks). Choose again", default="yes")
    while True:
        picked = [choices[choice] for choice in ask.choose_many(question)]
        if picked or not ask.confirm(again):
            return picked


def _describe(process: Process) -> str:
    known = (process.find_value(name) for name in ("software", "version"))
    program = " ".join(str(value.value) for value in known if value is not None)
    parts = [program, count_things(len(process.outputs), "output"), str(process.decision)]
    return f"{process.kind} {process.id} ({', '.join(part for part in parts if part)})"


def _make_source_error(what: str, options: StepOptions, makers: Sequence[Process]) -> UsageError:
    last = makers[-1].id
    return UsageError(
        what,
        expected=join_choices([process.id for process in makers]),
        remedy=f"name it: {options.write_command(STEP)} --input {last}",
    )


def _require_sources(used: Used, makers: Mapping[str, object], options: StepOptions) -> None:
    """Refuse a step on raw data: that is a run.

    Raises:
        UsageError: a flight went in, or nothing that a run or step made.
    """
    flights = [each.flight for each in used.inputs if each.flight]
    if flights:
        raise UsageError(
            "a step works on what runs made, not on a flight",
            found=", ".join(flights),
            remedy=f"record it as a run: {options.write_command(RUN)}",
        )
    if not makers:
        raise UsageError(
            "no run or step made what this step is said to have worked on",
            found=", ".join(options.inputs),
            remedy="name the run or step: --input R1; if this is raw data, record a run: "
            f"{options.write_command(RUN)}",
        )


def _read_told(
    book: Book, files: Sequence[Candidate], inputs: Sequence[Input]
) -> dict[str, KnownValue]:
    """Return what the outputs tell, less a program that only stayed in their headers."""
    programs = {
        str(use.file.facts.get("software", ""))
        for each in inputs
        if each.sha256
        for use in book.uses(each.sha256)
    }
    told = read_told(files, STEP.kind)
    stated = {each.header.generating_software for each in files if each.header is not None}
    if stated & programs:
        told = {key: known for key, known in told.items() if key not in _CARRIED}
    return told


def _count_points(book: Book, inputs: Sequence[Input]) -> int | None:
    """Return the points in what went in, as they were counted; None where one is not known."""
    digests = {each.sha256 for each in inputs if each.sha256 and each.role in _POINTS}
    counted = [book.fingerprint(digest) for digest in sorted(digests)]
    if not counted or any(each is None for each in counted):
        return None
    return sum(each.count for each in counted if each is not None)


def _find_carried(book: Book) -> Mapping[str, KnownValue]:
    steps = [process for process in book.processes() if process.kind == STEP.kind]
    values = steps[-1].values if steps else {}
    return {key: values[key] for key in _CARRIED if key in values}
