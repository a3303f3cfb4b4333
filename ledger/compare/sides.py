"""What two words after `compare` stand for: files on disk, a deliverable, or what a run made."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.audited import read_audited_folder
from ledger.dataclass import dataclass
from ledger.errors import FileError, NoBookError, UsageError
from ledger.fixity import Fixity, read_many
from ledger.jobfolder import leave_out_book
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import Progress
from ledger.model.entry import Kind
from ledger.model.filename import find_path, make_book_path
from ledger.model.ids import TypedId, read_id
from ledger.model.phrases import join_choices
from ledger.model.process import Process
from ledger.store.reading import Book
from ledger.walk import list_files, read_dropped_path

_HINT = "name two runs, two folders or files, two deliverables, or two jobs"


@dataclass(frozen=True)
class SideFile:
    """One file of a side.

    Args:
        name: relative to its side, as the book writes paths.
        place: where it lies, or lay.
        sha256: digest of its bytes; of a recorded file that is no longer there, as recorded.
        is_there: the bytes at its place are those.
        fingerprint: of its points, as the book knows it; None where it does not.
    """

    name: str
    place: Path
    sha256: str
    is_there: bool = True
    fingerprint: FingerprintValue | None = None


@dataclass(frozen=True)
class Side:
    """A set of files.

    Args:
        label: what a person calls it.
        files: its files, by name.
    """

    label: str
    files: tuple[SideFile, ...]


def read_word(word: str, book: Book | None) -> TypedId | Path:
    """Return what a word after `compare` means: an id of this job, or a path.

    Args:
        word: as typed.
        book: the book of this job; None outside one.

    Raises:
        UsageError: it means both, or nothing.
        NoBookError: it is an id, and there is no job here.
    """
    path = read_dropped_path(word)
    if not os.path.lexists(path) and book is not None and os.path.lexists(book.folder / path):
        path = book.folder / path
    meant = read_id(word)
    if meant is None or meant.kind not in ("run", "step", "audit"):
        if os.path.lexists(path):
            return path
        known = join_choices([each.id for each in book.processes()]) if book is not None else ""
        raise UsageError(
            "there is no such run or step, file or folder",
            found=word,
            expected=known,
            remedy="" if known else _HINT,
        )
    if not meant.is_named and os.path.lexists(path):
        raise UsageError(
            f"{word} is both {meant.kind} {meant.name} of the book and a path here",
            remedy=f"write {meant.kind}:{meant.name} for the one, ./{word} for the other",
        )
    if book is None:
        raise NoBookError(
            f"{word} is an id of a job, and there is no job here",
            remedy="stand in the job folder, name it with --job, or begin one: swathbook start",
        )
    return meant


def find_process(book: Book, word: str) -> Process:
    """Return a run or step by its id.

    Raises:
        UsageError: there is no such run or step.
    """
    meant = read_id(word)
    found = None if meant is None else book.process(meant.name)
    if found is None:
        known = [each.id for each in book.processes()]
        raise UsageError(
            "there is no such run or step",
            found=word,
            expected=join_choices(known),
            remedy="" if known else "record it first: swathbook record",
        )
    return found


def find_side(meant: TypedId | Path, label: str, book: Book | None, progress: Progress) -> Side:
    """Return the files that a word stands for, each read once for its digest.

    Args:
        meant: an id or a path, as `read_word` gave it.
        label: the word as typed.
        book: the book of this job; None outside one.
        progress: told the bytes read.

    Raises:
        UsageError: the book knows no such thing, or there are no files.
        NoBookError: an id needs a book.
        FileError: a file cannot be read.
    """
    if isinstance(meant, Path):
        return read_folder(meant, label, book, progress)
    if book is None:
        raise NoBookError(f"{label} is an id of a job, and there is no job here")
    if meant.kind == "audit":
        return _read_deliverable(book, meant.name, progress)
    return read_outputs(book, find_process(book, meant.name), progress)


def read_folder(path: Path, label: str, book: Book | None, progress: Progress) -> Side:
    """Return the files at and below a path, with their digests.

    Raises:
        UsageError: there are none.
        FileError: a file cannot be read.
    """
    found = list_files([path])
    if book is not None:
        found = leave_out_book(found, book.folder)
    if not found:
        raise UsageError("there are no files to compare", where=str(path))
    base = Path(os.path.abspath(path))  # noqa: PTH100 - links stay links
    root = base if os.path.isdir(base) else base.parent
    return read_files(found, root, label, book, progress)


def read_files(
    found: Sequence[Path], root: Path, label: str, book: Book | None, progress: Progress
) -> Side:
    """Return files with their digests, named from a folder on.

    Raises:
        FileError: a file cannot be read.
    """
    progress.start("reading files", sum(_measure(each) for each in found), "bytes")
    files = []
    for place, outcome in read_many(found, progress):
        if isinstance(outcome, FileError):
            raise outcome
        known = book.fingerprint(outcome.sha256) if book is not None else None
        name = make_book_path(place, root)[0]
        files.append(SideFile(name, place, outcome.sha256, fingerprint=known))
    progress.finish()
    return Side(label, tuple(files))


def _measure(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # the reader says why


def read_outputs(book: Book, process: Process, progress: Progress) -> Side:
    """Return what a run or step made, and whether it is still there as recorded.

    Raises:
        UsageError: it made no file.
    """
    records = [output.file for output in process.outputs]
    if not records:
        raise UsageError(f"{process.id} has no outputs to compare")
    shared = find_shared_folder([record.path for record in records])
    files = [
        SideFile(
            record.path.removeprefix(shared),
            find_path(record.path, record.path_bytes, book.folder),
            record.sha256,
            fingerprint=output.fingerprint or book.fingerprint(record.sha256),
        )
        for record, output in zip(records, process.outputs, strict=True)
    ]
    return Side(process.id, look_again(files, progress))


def _read_deliverable(book: Book, name: str, progress: Progress) -> Side:
    audits = [entry for entry in book.entries(Kind.AUDIT) if entry.values["id"] == name]
    if not audits:
        known = dict.fromkeys(str(entry.values["id"]) for entry in book.entries(Kind.AUDIT))
        raise UsageError(
            "there is no such deliverable", found=name, expected=join_choices(list(known))
        )
    files = [
        SideFile(file.name, file.place, file.sha256, fingerprint=book.fingerprint(file.sha256))
        for file in read_audited_folder(book, audits[-1]).files.values()
    ]
    return Side(name, look_again(files, progress))


def find_shared_folder(paths: Sequence[str]) -> str:
    """Return the folder that all paths lie in, with its `/`; empty for none."""
    folders = [path.split("/")[:-1] for path in paths]
    shared: list[str] = []
    for parts in zip(*folders, strict=False):
        if len(set(parts)) > 1:
            break
        shared.append(parts[0])
    return "".join(f"{part}/" for part in shared)


def look_again(files: Iterable[SideFile], progress: Progress) -> tuple[SideFile, ...]:
    """Return recorded files, each with whether its bytes are still those that were recorded."""
    listed = tuple(files)
    here = [file for file in listed if os.path.isfile(file.place)]
    progress.start("reading files", sum(_measure(file.place) for file in here), "bytes")
    digests = {
        place: outcome.sha256
        for place, outcome in read_many([file.place for file in here], progress)
        if isinstance(outcome, Fixity)
    }
    progress.finish()
    return tuple(replace(file, is_there=digests.get(file.place) == file.sha256) for file in listed)
