"""Recording a processing run: what it made, from what, with which settings, and what became of it.

Invariants:

- Outputs are read while the person answers.
- Nothing is entered until everything is known: an interruption leaves the book as it was, and the
  answers in a draft.
- Files that differ from each other are never attributed together without a person.
- What a file tells is not asked; what was not said is listed as not recorded, never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.forms import Interview, Unfinished
from ledger.model.ask import Ask, Progress
from ledger.model.entry import Kind
from ledger.model.fields import CAPTURE_SETTINGS
from ledger.model.known import KnownValue
from ledger.model.process import Input, works_on_others
from ledger.record.answers import make_finder
from ledger.record.background import BackgroundReading
from ledger.record.choosing import Chosen
from ledger.record.findsettings import read_or_offer_settings
from ledger.record.geoids import NAME as GEOID
from ledger.record.geoids import offer_geoids
from ledger.record.inputs import (
    Used,
    ask_inputs,
    find_named_inputs,
    find_only_flight,
    read_evidence,
)
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
from ledger.record.verbs import RUN
from ledger.status import find_next_step
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

RunOptions = ProcessOptions


def record_run(job: Path, options: RunOptions, ask: Ask, progress: Progress) -> RecordResult:
    """Record one run, asking for what neither files nor options tell.

    A run that works on nothing but what other runs made is not asked for settings of a capture.

    Args:
        job: the job folder.
        options: what was said already.
        ask: the person; where nobody is there, only what was said and read is recorded.
        progress: is told what is read.

    Raises:
        UsageError: there is nothing to record, outputs of several runs and nobody to ask, or an
            answer that cannot be used.
        FaultsError: outputs that cannot be read, or are still being written.
        ChangedFileError: an output changed while it was recorded.
        BookError: the book cannot be used.
    """
    given = options.answers.read(RUN.kind, job)
    with Book.open(job) as book:
        named = find_named_inputs(book, options.inputs, progress)
        evidence = read_evidence(book, options.evidence, progress)
        only = find_only_flight(book, options.inputs)
        source = f"flight {only[0]}" if only else ""
        chosen = choose_outputs(
            book, RUN, options, given, ask=ask, progress=progress, source=source
        )
    if not chosen.files and chosen.known and not is_thrown_away(RUN, given):
        return see_again(job, chosen.known, options.by)
    unfinished = Unfinished(job, RUN.kind, name_outputs(chosen))
    with (
        unfinished.explain_stop(options.write_command(RUN)),
        BackgroundReading(chosen.files, asking=ask.interactive) as reading,
    ):
        with Book.open(job) as book:
            used = _settle_inputs(book, named, chosen, only, ask)
            makers = find_makers(book, used.inputs)
            carried = _find_carried(book)
            offers = offer_geoids(book) if ask.interactive else ()
            read = read_or_offer_settings(book, RUN, options, chosen.files, ask)
        later = works_on_others(RUN.kind, used.inputs, makers)
        interview = Interview(
            RUN.kind,
            ask,
            make_finder(job),
            unfinished,
            carried,
            choices=dict.fromkeys(CAPTURE_SETTINGS, ()) if later else {},
            title=f"Run that made {unfinished.about}",
            offers={GEOID: offers},
        )
        values = interview.fill({**read_told(chosen.files), **read.values, **given})
        outputs = reading.finish(progress)
        used = used.with_inputs((*read.inputs, *evidence))
        record = ProcessRecord(RUN, options, values, used, makers, outputs, chosen, read=read)
        with BookWriter.open(job) as writer:
            result = record.enter(writer, chosen.known)
    unfinished.clear()
    return replace(result, step=find_next_step(job))


def _settle_inputs(book: Book, named: Used, chosen: Chosen, only: Sequence[str], ask: Ask) -> Used:
    """Return what was named or said with the outputs; else what a person says now."""
    if named.inputs:
        return named
    if chosen.is_sourced is not None:
        return Used(tuple(Input(flight=name) for name in only if chosen.is_sourced))
    return ask_inputs(book, ask)


def _find_carried(book: Book) -> Mapping[str, KnownValue]:
    runs = [process for process in book.processes() if process.kind == Kind.RUN]
    return runs[-1].values if runs else {}
