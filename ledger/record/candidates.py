"""Finding the files that a run may have made, and their digests.

What no process explains is told by the rule of `ledger.outputs`. What that rule leaves open is read
here: known bytes under a new name, or with another time, are no outputs of a new run.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from ledger.errors import FaultsError, MalformedFileError
from ledger.fixity import Fixity, read_many
from ledger.lasheader import read_las_header
from ledger.model.artefact import FileRecord
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.model.header import LasHeader
from ledger.outputs import find_explained, holds_points, list_outputs, needs_run, sort_outputs
from ledger.store.reading import Book


@dataclass(frozen=True)
class Candidate:
    """A file that a run may have made.

    Args:
        path: absolute path.
        stored: the path as the book writes it.
        raw: its raw bytes in hex where `stored` is not exactly it.
        fixity: its bytes at the moment they were hashed.
        holds_points: whether it is, or should be, a point file.
        header: header of a point file; None when it has none or it cannot be read.
        fault: why the header cannot be read; empty otherwise.
    """

    path: Path
    stored: str
    raw: str
    fixity: Fixity
    holds_points: bool = False
    header: LasHeader | None = None
    fault: str = ""


@dataclass(frozen=True)
class Found:
    """What lies in the folder of outputs.

    Args:
        fresh: files that no process made and nobody registered; none unless a point or raster
            file is among them.
        known: explained files that lie at a place, or have a time, that the book does not know.
    """

    fresh: tuple[Candidate, ...] = ()
    known: tuple[FileRecord, ...] = ()


def find_unexplained(book: Book, folder: Path, progress: Progress) -> Found:
    """Return what no process explains in a folder, once all that is in doubt has been read.

    Raises:
        FaultsError: some of them cannot be read, or are still being written.
        UnreadableFileError: a folder cannot be listed.
    """
    outputs = sort_outputs(book, folder)
    if not outputs.waiting and not outputs.touched:
        return Found()
    doubtful = sorted(each.path for each in (*outputs.waiting, *outputs.touched, *outputs.beside))
    candidates = _read(doubtful, book.folder, progress)
    explained = find_explained(book)
    fresh: list[Candidate] = []
    known: list[FileRecord] = []
    for each in candidates:
        if each.fixity.sha256 in explained:
            known.append(_see_again(book, each))
        else:
            fresh.append(each)
    some = any(needs_run(each.path) for each in fresh)
    return Found(tuple(fresh) if some else (), tuple(known))


def _see_again(book: Book, each: Candidate) -> FileRecord:
    """Return the record of known bytes, with the place and the time that they have here."""
    return replace(
        book.uses(each.fixity.sha256)[-1].file,
        path=each.stored,
        path_bytes=each.raw,
        bytes=each.fixity.bytes,
        mtime_ns=each.fixity.mtime_ns,
    )


def read_named(book: Book, paths: Iterable[Path], progress: Progress) -> tuple[Candidate, ...]:
    """Return the files that a person named, and those inside folders that a person named.

    Raises:
        UnreadableFileError: a path does not exist.
        FaultsError: some of them cannot be read, or are still being written.
    """
    return _read(list_outputs(paths, book.folder), book.folder, progress)


def _read(paths: list[Path], job: Path, progress: Progress) -> tuple[Candidate, ...]:
    fixities = hash_all(paths, progress)
    return tuple(_describe(path, fixities[path], job) for path in paths)


def hash_all(paths: list[Path], progress: Progress) -> dict[Path, Fixity]:
    """Return the digests of files, or every reason why some could not be had.

    Raises:
        FaultsError: with one fault for each file that could not be read whole.
    """
    progress.start("hashing", sum(_measure(path) for path in paths), "bytes")
    read = list(read_many(paths, progress))
    progress.finish()
    errors = [outcome for _, outcome in read if not isinstance(outcome, Fixity)]
    if errors:
        raise FaultsError.from_faults(tuple(fault for error in errors for fault in error.faults))
    return {path: outcome for path, outcome in read if isinstance(outcome, Fixity)}


def _measure(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # the reader says what is wrong with it


def _describe(path: Path, fixity: Fixity, job: Path) -> Candidate:
    stored, raw = make_book_path(path, job)
    if not holds_points(path):
        return Candidate(path, stored, raw, fixity)
    try:
        header, fault = read_las_header(path), ""
    except MalformedFileError as error:
        header, fault = None, error.faults[0].what
    return Candidate(path, stored, raw, fixity, holds_points=True, header=header, fault=fault)
