"""Recording a processing run: what it made, from what, with which settings, and what became of it.

Invariants:

- Nothing is entered until everything is known: an interruption leaves the book as it was, and the
  answers in a draft.
- Files that differ from each other are never attributed together without a person.
- What a file tells is not asked; what was not said is listed as not recorded, never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.errors import UsageError
from ledger.forms import Interview, Unfinished
from ledger.jobfolder import find_places
from ledger.model.artefact import FileRecord, Output
from ledger.model.ask import Ask, Progress
from ledger.model.audit import Blank
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Decision, Input
from ledger.model.typed import quote_path, quote_word
from ledger.record.answers import Answers, make_finder
from ledger.record.choosing import Chosen, choose_found, choose_named
from ledger.record.inputs import Used, ask_inputs, find_named_inputs
from ledger.record.outputs import describe_outputs
from ledger.record.result import INPUTS, RecordResult, price_blanks
from ledger.record.told import read_told
from ledger.sighting import enter_sighting
from ledger.specentry import enter_specification
from ledger.status import find_next_step
from ledger.store.mapping import output_to_values
from ledger.store.reading import Book
from ledger.store.writing import BookWriter

_DECISION = "run.decision"
_REASON = "run.reason"


@dataclass(frozen=True)
class RunOptions:
    """What a person said about a run.

    Args:
        paths: its outputs, files or folders; empty to look in the folder of outputs.
        inputs: ids and paths of what it used.
        answers: settings that were given.
        name: optional name of the run.
        together: all named outputs belong to it, alike or not.
        by: function of the person.
    """

    paths: tuple[Path, ...] = ()
    inputs: tuple[str, ...] = ()
    answers: Answers = field(default_factory=Answers)
    name: str = ""
    together: bool = False
    by: str = "technician"

    @property
    def command(self) -> str:
        """Return the command that goes on with a form that was interrupted."""
        outputs = (quote_path(str(path)) for path in self.paths)
        inputs = (f"--input {quote_word(each)}" for each in self.inputs)
        name = (f"--name {quote_word(self.name)}",) if self.name else ()
        together = ("--together",) if self.together else ()
        return " ".join(["swathbook record", *outputs, *inputs, *name, *together])


def record_run(job: Path, options: RunOptions, ask: Ask, progress: Progress) -> RecordResult:
    """Record one run, asking for what neither files nor options tell.

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
    given = options.answers.read("run", job)
    with Book.open(job) as book:
        named = find_named_inputs(book, options.inputs, progress)
        chosen = _choose(book, options, given, ask, progress)
        used = named if options.inputs else ask_inputs(book, ask)
        carried = _find_carried(book)
    if not chosen.files and chosen.known and not _is_thrown_away(given):
        return _see_again(job, chosen.known, options.by)
    unfinished = Unfinished(job, "run", _name_outputs(chosen))
    title = f"Run that made {unfinished.about}"
    interview = Interview("run", ask, make_finder(job), unfinished, carried, title=title)
    with unfinished.explain_stop(options.command):
        values = interview.fill({**read_told(chosen.files), **given})
        outputs = describe_outputs(chosen.files, progress)
    record = _Record(options, values, used, outputs, chosen.left_out)
    with BookWriter.open(job) as writer:
        enter_specification(writer, options.by)
        enter_sighting(writer, chosen.known, options.by)
        manifest = encode([output_to_values(output) for output in outputs])
        entry = writer.append(record.draft(manifest), (manifest,), id_prefix="R")
    unfinished.clear()
    return replace(record.report(entry.seq, entry.values["id"]), step=find_next_step(job))


def _choose(
    book: Book, options: RunOptions, given: Mapping[str, KnownValue], ask: Ask, progress: Progress
) -> Chosen:
    if options.paths:
        return choose_named(book, options.paths, ask, progress, together=options.together)
    if options.together:
        raise UsageError(
            "--together speaks of named outputs, and none is named",
            remedy="name them: swathbook record PATH… --together",
        )
    folder = find_places(book.folder).out
    chosen = choose_found(book, folder, ask, progress)
    if not chosen.files and not chosen.known and not _is_thrown_away(given):
        raise UsageError(
            "there is no point or raster file that no run explains",
            where=str(folder),
            remedy="name the outputs: swathbook record PATH…",
        )
    return chosen


def _name_outputs(chosen: Chosen) -> str:
    """Return the outputs in a few words, so that a form is known again."""
    count = count_things(len(chosen.files), "output")
    folders = sorted({each.stored.rpartition("/")[0] for each in chosen.files} - {""})
    return f"{count} in {', '.join(folders)}" if folders else count


def _is_thrown_away(given: Mapping[str, KnownValue]) -> bool:
    """Say whether the run is an attempt of which no file was kept."""
    decision = given.get(_DECISION)
    return decision is not None and decision.value == Decision.REJECTED


def _see_again(job: Path, known: tuple[FileRecord, ...], by: str) -> RecordResult:
    """Enter that all there is was made by runs of the book: nothing is left to record."""
    with BookWriter.open(job) as writer:
        enter_specification(writer, by)
        entry = enter_sighting(writer, known, by)
    paths = tuple(file.path for file in known)
    return RecordResult(entry, "", str(Kind.SIGHTING), seen=paths, step=find_next_step(job))


def _find_carried(book: Book) -> Mapping[str, KnownValue]:
    runs = [process for process in book.processes() if process.kind == Kind.RUN]
    return runs[-1].values if runs else {}


@dataclass(frozen=True)
class _Record:
    """A run before it has a number."""

    options: RunOptions
    values: Mapping[str, KnownValue]
    used: Used
    outputs: tuple[Output, ...]
    left_out: tuple[str, ...]

    @property
    def decision(self) -> str:
        known = self.values.get(_DECISION)
        return str(known.value) if known is not None else str(Decision.UNDECIDED)

    @property
    def reason(self) -> str:
        known = self.values.get(_REASON)
        return str(known.value) if known is not None else ""

    def draft(self, manifest: bytes) -> Draft:
        """Return the entry. Decision and reason stand by themselves: later entries replace them."""
        kept = {key: v for key, v in self.values.items() if key not in (_DECISION, _REASON)}
        values: dict[str, Any] = {
            "name": self.options.name,
            "values": {key: known.to_values() for key, known in kept.items()},
            "inputs": [_write_input(each, assumed=self.used.assumed) for each in self.used.inputs],
            "outputs": compute_digest(manifest),
            "output_count": len(self.outputs),
            "decision": self.decision,
            "reason": self.reason,
            "left_out": list(self.left_out),
        }
        return Draft(Kind.RUN, values, by=self.options.by)

    def report(self, entry: int, name: str) -> RecordResult:
        """Return the result; inputs that nobody named are a blank like any other."""
        blanks = price_blanks("run", name, self.values)
        if not self.used.inputs:
            why = "nobody can say which raw files the outputs came from"
            blanks = (Blank(INPUTS, (), (name,), why), *blanks)
        return RecordResult(
            entry=entry,
            id=name,
            kind=str(Kind.RUN),
            name=self.options.name,
            values=self.values,
            inputs=self.used.inputs,
            inputs_assumed=self.used.assumed,
            outputs=self.outputs,
            left_out=self.left_out,
            decision=self.decision,
            reason=self.reason,
            blanks=blanks,
        )


def _write_input(used: Input, *, assumed: bool) -> dict[str, str]:
    """Return an input as an entry stores it, with the mark of one that nobody named."""
    if used.flight:
        stored = {"flight": used.flight}
    else:
        stored = {"sha256": used.sha256, "path": used.path, "role": used.role}
    if assumed:
        stored["known_by"] = str(KnownBy.ASSUMED)
    return stored
