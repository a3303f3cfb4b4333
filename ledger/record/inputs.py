"""What a run used: flights, files, and what earlier runs made."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ledger.content import read_facts
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.fixity import Fixity
from ledger.forms import read_dropped_path
from ledger.jobfolder import leave_out_book
from ledger.model.artefact import FileRecord, Role
from ledger.model.ask import Ask, Progress, Question
from ledger.model.filename import make_book_path
from ledger.model.ids import read_id
from ledger.model.phrases import join_choices
from ledger.model.process import Input, Process
from ledger.outputs import is_untouched
from ledger.record.candidates import hash_all
from ledger.store.reading import Book
from ledger.walk import list_files

_USABLE = ("flight", "run", "step")
_KEY = "inputs"


@dataclass(frozen=True)
class Used:
    """The inputs of a run.

    Args:
        inputs: the inputs.
        assumed: nobody said so; it is the only flight of the job.
        beside: other inputs, which are never assumed.
    """

    inputs: tuple[Input, ...] = ()
    assumed: bool = False
    beside: tuple[Input, ...] = ()

    def with_inputs(self, beside: tuple[Input, ...]) -> Used:
        """Return these inputs with others that are sure, such as settings files."""
        return replace(self, beside=(*self.beside, *beside))


def find_named_inputs(book: Book, named: Sequence[str], progress: Progress) -> Used:
    """Return the inputs that a person named.

    Args:
        book: an open book.
        named: ids (`F1`, `R1`) and paths.
        progress: is told what is read.

    Raises:
        UsageError: an id that is not in the book, or a word that is an id and a path.
        UnreadableFileError: a path does not exist.
    """
    inputs: list[Input] = []
    paths: list[Path] = []
    for word in named:
        found = _find_id(book, word)
        if found is None:
            paths.append(read_dropped_path(word))
        else:
            inputs += found
    inputs += _read_paths(book, paths, progress)
    return Used(tuple(dict.fromkeys(inputs)))


def read_evidence(book: Book, paths: Sequence[Path], progress: Progress) -> tuple[Input, ...]:
    """Return photos and screenshots of settings as inputs, known by their bytes alone.

    Raises:
        FaultsError: some of them cannot be read.
    """
    if not paths:
        return ()
    fixities = hash_all([path.absolute() for path in paths], progress)
    return tuple(
        Input(
            sha256=fixity.sha256,
            path=make_book_path(path, book.folder)[0],
            role=str(Role.PHOTO),
            bytes=fixity.bytes,
        )
        for path, fixity in fixities.items()
    )


def ask_inputs(book: Book, ask: Ask) -> Used:
    """Return the flights that a person says; where nobody is there, the only one, as assumed."""
    flights = [card.id for card in book.cards("flight")]
    if len(flights) == 1 and not ask.interactive:
        return Used((Input(flight=flights[0]),), assumed=True)
    if not flights or not ask.interactive:
        return Used()
    if len(flights) == 1:
        question = Question(_KEY, f"Made from flight {flights[0]}", default="yes")
        return Used((Input(flight=flights[0]),)) if ask.confirm(question) else Used()
    question = Question(_KEY, "Made from which flights", choices=tuple(flights))
    return Used(tuple(Input(flight=name) for name in ask.choose_many(question)))


def find_only_flight(book: Book, named: Sequence[str]) -> tuple[str, ...]:
    """Return the id of the only flight of a job; none where inputs were named, or others fly."""
    flights = book.cards("flight")
    return (flights[0].id,) if len(flights) == 1 and not named else ()


def _find_id(book: Book, word: str) -> list[Input] | None:
    """Return the inputs that an id means; None where the word is a path."""
    read = read_id(word)
    if read is None or read.kind not in _USABLE:
        return None
    name = read.name
    if not read.is_named and os.path.lexists(word):
        raise UsageError(
            f"{word} is an id and a file here",
            remedy=f"write {read.kind}:{name} or ./{word}",
        )
    if read.kind == "flight":
        _require_known(name, [card.id for card in book.cards("flight")], "flight")
        return [Input(flight=name)]
    process = book.process(name)
    if process is None:
        _require_known(name, [each.id for each in book.processes()], "run or step")
    return [] if process is None else list_outputs(process)


def _require_known(name: str, known: Sequence[str], kind: str) -> None:
    if name not in known:
        raise UsageError(
            f"there is no such {kind}",
            found=name,
            expected=join_choices(known) if known else "",
            remedy="" if known else "name the input files instead",
        )


def list_outputs(process: Process) -> list[Input]:
    """Return what a run or step made, as inputs."""
    return [
        Input(sha256=output.file.sha256, path=output.file.path, role=output.file.role)
        for output in process.outputs
    ]


def _read_paths(book: Book, paths: Sequence[Path], progress: Progress) -> list[Input]:
    """Return files as inputs; known ones of unchanged size and time are not read again."""
    if not paths:
        return []
    seen = {record.path: record for record in book.files_last_seen()}
    known: dict[Path, FileRecord] = {}
    fresh: list[Path] = []
    for path in leave_out_book(list_files(paths), book.folder):
        record = seen.get(make_book_path(path, book.folder)[0])
        if record and is_untouched(path, record):
            known[path] = record
        else:
            fresh.append(path)
    inputs = [_make_input(record) for record in known.values()]
    if fresh:
        for path, fixity in hash_all(fresh, progress).items():
            inputs.append(_make_fresh(book, path, fixity))
    return sorted(inputs, key=lambda each: each.path)


def _make_input(record: FileRecord) -> Input:
    return Input(sha256=record.sha256, path=record.path, role=record.role, bytes=record.bytes)


def _make_fresh(book: Book, path: Path, fixity: Fixity) -> Input:
    stored = make_book_path(path, book.folder)[0]
    uses = book.uses(fixity.sha256)
    role = uses[-1].file.role if uses and uses[-1].file.role else str(read_facts(path).role)
    return Input(sha256=fixity.sha256, path=stored, role=role, bytes=fixity.bytes)
