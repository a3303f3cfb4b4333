"""Finding the files that a run may have made.

What no process explains is told by the rule of `ledger.outputs`. What that rule leaves open is read
here: known bytes under a new name, or with another time, are no outputs of a new run. Bytes can be
known only where their number is, so that all other files are hashed later, while a person answers.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import field, replace
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import (
    ChangedFileError,
    Fault,
    FaultsError,
    FileError,
    LockedFileError,
    MalformedFileError,
    UnreadableFileError,
)
from ledger.fixity import Fixity, look_at, make_file_id, read_many, read_pieces
from ledger.lasheader import read_las_header
from ledger.model.artefact import FileRecord
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.model.header import LasHeader
from ledger.outputs import (
    find_explained,
    find_explained_sizes,
    holds_points,
    list_outputs,
    needs_run,
    sort_outputs,
)
from ledger.store.reading import Book


@dataclass(frozen=True)
class Stamp:
    """What the system said of a file when it was found.

    Args:
        bytes: size.
        mtime_ns: modification time, nanoseconds since the epoch of the system.
        file_id: device and file number as `dev:inode`.
    """

    bytes: int
    mtime_ns: int
    file_id: str


@dataclass(frozen=True)
class Candidate:
    """A file that a run may have made.

    Args:
        path: absolute path.
        stored: the path as the book writes it.
        raw: its raw bytes in hex where `stored` is not exactly it.
        stamp: the file when it was found; any other later is another file.
        sha256: digest of its bytes; empty while nobody has read them.
        holds_points: whether it is, or should be, a point file.
        header: header of a point file; None when it has none or it cannot be read.
        fault: why the header cannot be read; empty otherwise.
    """

    path: Path
    stored: str
    raw: str
    stamp: Stamp
    sha256: str = ""
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
        unread: files that the system does not let be read, in one sentence each, by their paths
            as the book writes them; none without a fresh one beside them, as they are then refused.
    """

    fresh: tuple[Candidate, ...] = ()
    known: tuple[FileRecord, ...] = ()
    unread: Mapping[str, str] = field(default_factory=dict)


def find_unexplained(book: Book, folder: Path, progress: Progress) -> Found:
    """Return what no process explains in a folder, once all that is in doubt has been read.

    Raises:
        FaultsError: none of them can be read, or some are still being written.
        UnreadableFileError: a folder cannot be listed.
    """
    outputs = sort_outputs(book, folder)
    if not outputs.waiting and not outputs.touched:
        return Found()
    doubtful = sorted(each.path for each in (*outputs.waiting, *outputs.touched, *outputs.beside))
    candidates, unread = _read(book, doubtful, (), progress)
    explained = find_explained(book)
    fresh: list[Candidate] = []
    known: list[FileRecord] = []
    for each in candidates:
        if each.sha256 in explained:
            known.append(_see_again(book, each))
        else:
            fresh.append(each)
    some = any(needs_run(each.path) for each in fresh)
    if unread and not some:
        raise _refuse_all(unread)
    return Found(tuple(fresh) if some else (), tuple(known), _write_unread(unread))


def _see_again(book: Book, each: Candidate) -> FileRecord:
    """Return the record of known bytes, with the place and the time that they have here."""
    return replace(
        book.uses(each.sha256)[-1].file,
        path=each.stored,
        path_bytes=each.raw,
        bytes=each.stamp.bytes,
        mtime_ns=each.stamp.mtime_ns,
    )


def read_named(book: Book, paths: Iterable[Path], progress: Progress) -> Found:
    """Return the files that a person named, and those inside folders that a person named.

    All are fresh here, whatever the book knows of them.

    Raises:
        UnreadableFileError: a path does not exist.
        FaultsError: one that was named itself, or none at all, can be read; or some are still
            being written.
    """
    named = tuple(paths)
    itself = frozenset(Path(os.path.abspath(path)) for path in named)  # noqa: PTH100 - links stay
    candidates, unread = _read(book, list_outputs(named, book.folder), itself, progress)
    if unread and not candidates:
        raise _refuse_all(unread)
    return Found(candidates, unread=_write_unread(unread))


_Unread = dict[str, UnreadableFileError]


def _read(
    book: Book, paths: Sequence[Path], needed: Collection[Path], progress: Progress
) -> tuple[tuple[Candidate, ...], _Unread]:
    """Look at files, and hash those whose bytes the book may know; return what cannot be read."""
    candidates, unread = _look_at_all(paths, needed, book.folder)
    sizes = find_explained_sizes(book)
    doubtful = [each.path for each in candidates if each.stamp.bytes in sizes]
    fixities = hash_all(doubtful, progress) if doubtful else {}
    hashed = (
        take_digest(each, fixities[each.path]) if each.path in fixities else each
        for each in candidates
    )
    return tuple(hashed), unread


def _look_at_all(
    paths: Sequence[Path], needed: Collection[Path], job: Path
) -> tuple[list[Candidate], _Unread]:
    """Return the files as they are found, and those that cannot be read.

    Raises:
        FaultsError: some of those that are needed cannot be read, or some are still being written.
    """
    candidates: list[Candidate] = []
    unread: _Unread = {}
    faults: list[Fault] = []
    for path in paths:
        try:
            candidates.append(_look(path, job))
        except UnreadableFileError as error:
            # Another program may be writing it: a run without it would be a wrong record.
            if path in needed or isinstance(error, LockedFileError):
                faults += error.faults
            else:
                unread[make_book_path(path, job)[0]] = error
        except FileError as error:
            faults += error.faults
    if faults:
        raise FaultsError.from_faults(tuple(faults))
    return candidates, unread


def _refuse_all(unread: _Unread) -> FaultsError:
    faults = (fault for error in unread.values() for fault in error.faults)
    return FaultsError.from_faults(tuple(faults))


def _write_unread(unread: _Unread) -> dict[str, str]:
    """Return why each file cannot be read; its path stands before it already."""
    return {name: replace(each.faults[0], where="").sentence() for name, each in unread.items()}


def _look(path: Path, job: Path) -> Candidate:
    stored, raw = make_book_path(path, job)
    status = look_at(path)
    _require_readable(path)
    stamp = Stamp(status.st_size, status.st_mtime_ns, make_file_id(status))
    if not holds_points(path):
        return Candidate(path, stored, raw, stamp)
    try:
        header, fault = read_las_header(path), ""
    except MalformedFileError as error:
        header, fault = None, error.faults[0].what
    return Candidate(path, stored, raw, stamp, "", holds_points=True, header=header, fault=fault)


def _require_readable(path: Path) -> None:
    """Read one byte, so that a file that cannot be opened is known before anything is asked."""
    with closing(read_pieces(path, 1)) as pieces:
        next(pieces, None)


def take_digest(each: Candidate, fixity: Fixity) -> Candidate:
    """Return a file with its digest.

    Raises:
        ChangedFileError: it is another file than was found.
    """
    if Stamp(fixity.bytes, fixity.mtime_ns, fixity.file_id) != each.stamp:
        raise _make_changed_error(each)
    return replace(each, sha256=fixity.sha256)


def require_unchanged(each: Candidate) -> None:
    """Refuse a file that is not what was found.

    Raises:
        ChangedFileError: size, modification time or file id differ, or it is gone.
    """
    try:
        status = look_at(each.path)
    except FileError:
        raise _make_changed_error(each) from None
    if Stamp(status.st_size, status.st_mtime_ns, make_file_id(status)) != each.stamp:
        raise _make_changed_error(each)


def _make_changed_error(each: Candidate) -> ChangedFileError:
    """Return the error about a file that changed while it was recorded."""
    return ChangedFileError(
        "the file changed while it was recorded",
        where=str(each.path),
        remedy="record it again when nothing writes to it",
    )


def hash_all(paths: Sequence[Path], progress: Progress) -> dict[Path, Fixity]:
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
