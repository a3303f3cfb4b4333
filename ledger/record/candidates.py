"""Finding the files that a run may have made, and their digests.

A file under the folder of outputs is left aside when a recorded run made those very bytes. A file
that the book saw under its path with the same size and time is taken for that one, without reading
it again: this finds work to record and is no evidence, which an audit reads the bytes for.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import FaultsError, FileError, MalformedFileError
from ledger.fixity import Fixity, read_many
from ledger.jobfolder import leave_out_book
from ledger.lasheader import looks_like_las, read_las_header
from ledger.model.artefact import POINT_SUFFIXES, FileRecord
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.model.header import LasHeader
from ledger.store.reading import Book
from ledger.walk import list_files

# Hidden files, and what office programs leave beside an open document.
_NOT_OUTPUTS = (".", "~$")
_EXPLAINED = frozenset({"output", "registered"})


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


def find_unexplained(book: Book, folder: Path, progress: Progress) -> tuple[Candidate, ...]:
    """Return the files below a folder that no process made and nobody registered.

    Raises:
        FaultsError: some of them cannot be read, or are still being written.
    """
    if not os.path.isdir(folder):
        return ()
    seen = {record.path: record for record in book.files_last_seen()}
    fresh = []
    for path in _list_outputs([folder], book.folder):
        record = seen.get(make_book_path(path, book.folder)[0])
        if record is None or not _is_untouched(path, record) or not is_explained(book, record):
            fresh.append(path)
    candidates = _read(fresh, book.folder, progress)
    return tuple(each for each in candidates if not _is_known(book, each.fixity.sha256, _EXPLAINED))


def read_named(book: Book, paths: Iterable[Path], progress: Progress) -> tuple[Candidate, ...]:
    """Return the files that a person named, and those inside folders that a person named.

    Raises:
        UnreadableFileError: a path does not exist.
        FaultsError: some of them cannot be read, or are still being written.
    """
    return _read(_list_outputs(paths, book.folder), book.folder, progress)


def is_explained(book: Book, record: FileRecord) -> bool:
    """Say whether a recorded process made these bytes, or somebody registered them."""
    return _is_known(book, record.sha256, _EXPLAINED)


def _is_known(book: Book, sha256: str, relations: frozenset[str]) -> bool:
    return any(use.relation in relations for use in book.uses(sha256))


def _list_outputs(paths: Iterable[Path], job: Path) -> list[Path]:
    found = leave_out_book(list_files(paths), job)
    return [path for path in found if not path.name.startswith(_NOT_OUTPUTS)]


def _is_untouched(path: Path, record: FileRecord) -> bool:
    try:
        found = path.stat()
    except OSError:
        return False
    return (found.st_size, found.st_mtime_ns) == (record.bytes, record.mtime_ns)


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
    if not _holds_points(path):
        return Candidate(path, stored, raw, fixity)
    try:
        header, fault = read_las_header(path), ""
    except MalformedFileError as error:
        header, fault = None, error.faults[0].what
    return Candidate(path, stored, raw, fixity, holds_points=True, header=header, fault=fault)


def _holds_points(path: Path) -> bool:
    if path.suffix.lower() in POINT_SUFFIXES:
        return True
    try:
        with path.open("rb") as stream:
            return looks_like_las(stream.read(4))
    except OSError as error:
        raise FileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
