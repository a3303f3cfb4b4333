"""What runs and steps have in common when they are recorded: options, outputs, entry, result."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest, encode
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.jobfolder import find_places
from ledger.model.artefact import FileRecord, Output
from ledger.model.ask import Ask, Progress
from ledger.model.blanks import Blank
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Decision, Input, works_on_others
from ledger.model.typed import quote_path, quote_word
from ledger.record.answers import Answers
from ledger.record.choosing import Chosen, choose_found, choose_named
from ledger.record.fromsettings import NOTHING_READ, ReadSettings
from ledger.record.inputs import Used
from ledger.record.notes import Note
from ledger.record.result import INPUTS, RecordResult, price_blanks
from ledger.record.taken import note_recorded_before
from ledger.record.verbs import Verb
from ledger.sighting import enter_sighting
from ledger.specentry import enter_specification
from ledger.status import find_next_step
from ledger.store.mapping import output_to_values
from ledger.store.reading import Book
from ledger.store.writing import Addition, BookWriter

_NO_SOURCE = {
    "run": "nobody can say which raw files the outputs came from",
    "step": "nobody can say which runs the outputs came from",
}


@dataclass(frozen=True)
class ProcessOptions:
    """What a person said about a run or step.

    Args:
        paths: its outputs, files or folders; empty to look in the folder of outputs.
        inputs: ids and paths of what it used.
        answers: settings that were given.
        name: optional name.
        together: all named outputs belong to it, alike or not.
        by: function of the person.
        settings: files with the settings that the program left.
        map_rows: what is said of keys in them: `mount_mode=scanner.mount`.
        evidence: photos and screenshots of settings; kept by their digest, never read.
    """

    paths: tuple[Path, ...] = ()
    inputs: tuple[str, ...] = ()
    answers: Answers = field(default_factory=Answers)
    name: str = ""
    together: bool = False
    by: str = "technician"
    settings: tuple[Path, ...] = ()
    map_rows: tuple[str, ...] = ()
    evidence: tuple[Path, ...] = ()

    def write_command(self, verb: Verb) -> str:
        """Return the command that goes on with a form that was interrupted."""
        outputs = (quote_path(str(path)) for path in self.paths)
        inputs = (f"--input {quote_word(each)}" for each in self.inputs)
        name = (f"--name {quote_word(self.name)}",) if self.name else ()
        together = ("--together",) if self.together else ()
        settings = (f"--settings {quote_path(str(path))}" for path in self.settings)
        evidence = (f"--evidence {quote_path(str(path))}" for path in self.evidence)
        return " ".join([verb.command, *outputs, *inputs, *settings, *evidence, *name, *together])


def choose_outputs(  # noqa: PLR0913 - what decides which files are meant
    book: Book,
    verb: Verb,
    options: ProcessOptions,
    given: Mapping[str, KnownValue],
    *,
    ask: Ask,
    progress: Progress,
    source: str = "",
) -> Chosen:
    """Return the outputs that were named, or those found in the folder of outputs.

    Of those that were found, `source` is asked about in the same question; see `choose_found`.

    Raises:
        UsageError: there is nothing to record, or outputs of several processes and nobody to ask.
        FaultsError: some files cannot be read.
    """
    if options.paths:
        return choose_named(book, options.paths, ask, progress, verb, together=options.together)
    if options.together:
        raise UsageError(
            "--together speaks of named outputs, and none is named",
            remedy=f"name them: {verb.command} PATH… --together",
        )
    folder = find_places(book.folder).out
    chosen = choose_found(book, folder, ask, progress, verb, source=source)
    if not chosen.files and not chosen.known and not is_thrown_away(verb, given):
        raise UsageError(
            "there is no point or raster file that no run or step explains",
            where=str(folder),
            remedy=f"name the outputs: {verb.command} PATH…",
        )
    return chosen


def name_outputs(chosen: Chosen) -> str:
    """Return the outputs in a few words, so that a form is known again."""
    count = count_things(len(chosen.files), "output")
    folders = sorted({each.stored.rpartition("/")[0] for each in chosen.files} - {""})
    return f"{count} in {', '.join(folders)}" if folders else count


def is_thrown_away(verb: Verb, given: Mapping[str, KnownValue]) -> bool:
    """Say whether it is an attempt of which no file was kept."""
    decision = given.get(f"{verb.kind}.decision")
    return decision is not None and decision.value == Decision.REJECTED


def see_again(job: Path, known: tuple[FileRecord, ...], by: str) -> RecordResult:
    """Enter that all there is was made by runs of the book: nothing is left to record."""
    with BookWriter.open(job) as writer:
        enter_specification(writer, by)
        entry = enter_sighting(writer, known, by)
    seen = tuple(file.path for file in known)
    return RecordResult(entry, "", str(Kind.SIGHTING), seen=seen, step=find_next_step(job))


def find_makers(book: Book, inputs: tuple[Input, ...]) -> dict[str, tuple[str, ...]]:
    """Return the ids of the runs and steps that made each input, by digest; raw ones are absent."""
    makers: dict[str, tuple[str, ...]] = {}
    for each in inputs:
        uses = book.uses(each.sha256) if each.sha256 else ()
        owners = dict.fromkeys(use.owner for use in uses if use.relation == "output")
        if owners:
            makers[each.sha256] = tuple(owners)
    return makers


@dataclass(frozen=True)
class ProcessRecord:
    """A run or step before it has a number.

    Args:
        verb: what is recorded.
        options: what a person said.
        values: what is recorded of it, by field key; decision and reason included.
        used: what it used.
        makers: ids of the runs and steps that made its inputs, by digest.
        outputs: what it made.
        chosen: which files those are, and what stayed out.
        points_in: points in what it used; None where that is not known.
        read: what settings files said.
    """

    verb: Verb
    options: ProcessOptions
    values: Mapping[str, KnownValue]
    used: Used
    makers: Mapping[str, tuple[str, ...]]
    outputs: tuple[Output, ...]
    chosen: Chosen
    points_in: int | None = None
    read: ReadSettings = NOTHING_READ

    def _say(self, name: str, absent: str = "") -> str:
        known = self.values.get(f"{self.verb.kind}.{name}")
        return str(known.value) if known is not None else absent

    @property
    def decision(self) -> str:
        """Return what became of it."""
        return self._say("decision", str(Decision.UNDECIDED))

    @property
    def reason(self) -> str:
        """Return the reason given."""
        return self._say("reason")

    def enter(self, writer: BookWriter, known: tuple[FileRecord, ...]) -> RecordResult:
        """Enter it, and the files that were seen beside it.

        Args:
            writer: the book.
            known: what other runs made, seen at a new place or with a new time.
        """
        enter_specification(writer, self.options.by)
        enter_sighting(writer, known, self.options.by)
        manifest = encode([output_to_values(output) for output in self.outputs])
        record = Addition(
            self._draft(manifest), (manifest, *self.read.blobs), id_prefix=self.verb.prefix
        )
        learned = self.read.draft_map(self.options.by)
        entry = writer.append_all([*learned, record])[-1]
        reported = self._report(entry.seq, entry.values["id"])
        made = [output.file for output in self.outputs]
        notes = note_recorded_before(writer, made, reported.sources, reported.id)
        return replace(reported, notes=(*map(Note, self.read.silent), *notes))

    def _draft(self, manifest: bytes) -> Draft:
        """Return the entry. Decision and reason stand by themselves: later entries replace them."""
        apart = {f"{self.verb.kind}.{name}" for name in ("decision", "reason")}
        kept = {key: known for key, known in self.values.items() if key not in apart}
        values: dict[str, Any] = {
            "name": self.options.name,
            "values": {key: known.to_values() for key, known in kept.items()},
            "inputs": [
                *(_write_input(each, assumed=self.used.assumed) for each in self.used.inputs),
                *(_write_input(each, assumed=False) for each in self.used.beside),
            ],
            "outputs": compute_digest(manifest),
            "output_count": len(self.outputs),
            "decision": self.decision,
            "reason": self.reason,
            "left_out": sorted({*self.chosen.left_out, *self.chosen.unread}),
            **({"settings": list(self.read.stored)} if self.read.stored else {}),
        }
        return Draft(self.verb.kind, values, by=self.options.by)

    def _report(self, entry: int, name: str) -> RecordResult:
        """Return the result; inputs that nobody named are a blank like any other."""
        kind = self.verb.kind
        later = works_on_others(kind, self.used.inputs, self.makers)
        blanks = price_blanks(kind, name, self.values, later=later)
        if not self.used.inputs:
            blanks = (Blank(INPUTS, (), (name,), _NO_SOURCE[kind]), *blanks)
        return RecordResult(
            entry=entry,
            id=name,
            kind=kind,
            name=self.options.name,
            values=self.values,
            inputs=self.used.inputs,
            inputs_assumed=self.used.assumed,
            beside=self.used.beside,
            makers=self.makers,
            outputs=self.outputs,
            left_out=self.chosen.left_out,
            unread=self.chosen.unread,
            decision=self.decision,
            reason=self.reason,
            blanks=blanks,
            points_in=self.points_in,
            not_understood=self.read.not_understood,
            taken_out=self.read.taken_out,
        )


def _write_input(used: Input, *, assumed: bool) -> dict[str, Any]:
    """Return an input as an entry stores it, with the mark of one that nobody named."""
    stored: dict[str, Any] = {"flight": used.flight}
    if not used.flight:
        stored = {"sha256": used.sha256, "path": used.path, "role": used.role}
        stored |= {"bytes": used.bytes} if used.bytes else {}
    if assumed:
        stored["known_by"] = str(KnownBy.ASSUMED)
    return stored
