"""Files that the book knows already as something else than an output of this run.

A file that lies where a rejected run wrote it, with the same bytes, is that run's file: recorded
again under a better run, a stale tile would pass. Identical bytes in another place are normal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ledger.errors import Fault, UsageError
from ledger.model.artefact import FileRecord
from ledger.model.ask import Ask, Question
from ledger.model.phrases import agree, count_things
from ledger.model.process import Decision
from ledger.record.candidates import Candidate
from ledger.record.notes import Note
from ledger.record.verbs import RUN, Verb
from ledger.store.reading import Book

_KEY = "outputs"
_NOT_WANTED = (Decision.REJECTED, Decision.SUPERSEDED)


def require_not_taken(book: Book, files: Sequence[Candidate], ask: Ask, verb: Verb = RUN) -> None:
    """Ask about files of rejected runs; refuse them without a person, and raw files always.

    Raises:
        UsageError: some files are registered raw files, or outputs of a rejected run.
    """
    raw: list[str] = []
    by_run: dict[str, list[str]] = {}
    for file in files:
        for use in book.uses(file.sha256) if file.sha256 else ():
            if use.file.path != file.stored:
                continue
            if use.relation == "registered" and file.stored not in raw:
                raw.append(file.stored)
            if use.relation == "output" and file.stored not in by_run.setdefault(use.owner, []):
                by_run[use.owner].append(file.stored)
    faults = [_explain_raw(raw, verb)] if raw else []
    for name, stored in by_run.items():
        process = book.process(name)
        if process is not None and process.decision in _NOT_WANTED:
            sentence = _describe(name, process.decision, stored)
            if not ask.interactive or not ask.confirm(Question(_KEY, f"{sentence}. Record again")):
                faults.append(_explain_run(name, sentence))
    if faults:
        raise UsageError.from_faults(tuple(faults))


def note_recorded_before(
    book: Book, outputs: Sequence[FileRecord], makers: Iterable[str], name: str
) -> tuple[Note, ...]:
    """Return that outputs, at their place, were recorded before as those of another run or step.

    Nothing is refused: two steps may leave a file as it is. But the same command typed twice makes
    two records, and nobody would know that.

    Args:
        book: the book, with or without the record that is told of.
        outputs: what that made.
        makers: runs and steps that made what it worked on: they made a file that it left as it is.
        name: its id.
    """
    before: dict[str, list[str]] = {}
    for file in outputs:
        for use in book.uses(file.sha256) if file.sha256 else ():
            if use.relation == "output" and use.file.path == file.path:
                before.setdefault(use.owner, []).append(file.path)
    return tuple(
        Note(
            f"{count_things(len(paths), 'output')} of {name} {agree(len(paths), 'was', 'were')} "
            f"recorded before as made by {owner}: {paths[0]}. If both are one and the same, type "
            f"swathbook record decision {name} superseded."
        )
        for owner, paths in before.items()
        if owner not in {name, *makers}
    )


def _describe(name: str, decision: Decision, stored: Sequence[str]) -> str:
    return f"{count_things(len(stored), 'file')} of these came from {name}, which was {decision}"


def _explain_run(name: str, sentence: str) -> Fault:
    return Fault(
        sentence,
        remedy=f"if {name} was right after all: swathbook record decision {name} accepted",
    )


def _explain_raw(stored: Sequence[str], verb: Verb) -> Fault:
    count = len(stored)
    return Fault(
        f"{count_things(count, 'file')} of these {agree(count, 'is', 'are')} registered as raw, so "
        f"no {verb.kind} made {agree(count, 'it', 'them')}",
        found=", ".join(stored[:3]),
        remedy=f"name the outputs of the {verb.kind} alone",
    )
