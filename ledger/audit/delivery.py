"""Digests, headers and coordinate systems of the files of a folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ledger.audit.folder import POINTS, Found
from ledger.contract.evidence import DeliveredFile
from ledger.contract.guard import describe_fault
from ledger.crs import CrsReader
from ledger.dataclass import dataclass
from ledger.errors import FileError, StoreError, SwathbookError
from ledger.fixity import Fixity, read_many
from ledger.lasheader import HeaderReader
from ledger.model.ask import Progress
from ledger.remote.files import Place, RemoteFile, Sight, list_store, look

CHANGED = "it changed while it was being audited"


@dataclass(frozen=True)
class ReadFile:
    """One file of the folder, as read.

    Args:
        found: where it lies.
        file: what is known of it.
        fixity: its digest and stamp; None when its bytes were not read, or could not be.
        known: whether the digest was taken from an earlier audit.
    """

    found: Found
    file: DeliveredFile
    fixity: Fixity | None
    known: bool = False


@dataclass(frozen=True)
class Stamp:
    """What has to be unchanged for an earlier digest to be taken again."""

    name: str
    bytes: int
    mtime_ns: int
    file_id: str


@dataclass(frozen=True)
class _Readers:
    """What reads headers, and the systems in them."""

    headers: HeaderReader
    systems: CrsReader


def read_delivery(
    found: Sequence[Found],
    known: Mapping[Stamp, str],
    progress: Progress,
    *,
    headers_only: bool = False,
) -> tuple[ReadFile, ...]:
    """Hash every file and read the headers of the point files.

    Args:
        found: the files of the folder.
        known: digests that may be taken instead of computed, by stamp; empty to compute all.
        progress: counts bytes.
        headers_only: compute none: what is not known stays without a digest.
    """
    taken = _take_known(found, known) if known else {}
    hashed = _leave_unhashed(found) if headers_only else _hash(found, taken, progress)
    fixities = {**hashed, **taken}
    readers = _Readers(HeaderReader(), CrsReader())
    return tuple(
        _read(each, fixities[each.path], readers, known=each.path in taken) for each in found
    )


def _take_known(found: Iterable[Found], known: Mapping[Stamp, str]) -> dict[Place, Fixity]:
    stamps = {each.path: _read_stamp(each) for each in found if not each.fault}
    return {
        path: Fixity(known[stamp], stamp.bytes, stamp.mtime_ns, stamp.file_id)
        for path, stamp in stamps.items()
        if stamp is not None and stamp in known
    }


def _read_stamp(found: Found) -> Stamp | None:
    sight = _look(found.path)
    if sight is None:
        return None
    return Stamp(found.name, sight.bytes, sight.mtime_ns, sight.file_id)


def _look(path: Place) -> Sight | None:
    """Return what is said of a file; of an object, what was said of it when it was listed."""
    if isinstance(path, RemoteFile):
        return Sight(path.size, path.mtime_ns, path.file_id)
    try:
        return look(path)
    except OSError:
        return None


def _leave_unhashed(found: Iterable[Found]) -> dict[Place, Fixity | str | None]:
    return {each.path: each.fault or None for each in found}


def _hash(
    found: Iterable[Found], taken: Mapping[Place, Fixity], progress: Progress
) -> dict[Place, Fixity | str | None]:
    outcomes: dict[Place, Fixity | str | None] = {each.path: each.fault for each in found}
    wanted = [path for path, fault in outcomes.items() if not fault and path not in taken]
    progress.start("hashing", sum(_read_size(path) for path in wanted), "bytes")
    for path, outcome in read_many(wanted, progress):
        outcomes[path] = outcome if isinstance(outcome, Fixity) else describe_fault(outcome)
    progress.finish()
    return outcomes


def _read_size(path: Place) -> int:
    sight = _look(path)
    return 0 if sight is None else sight.bytes  # the reader says what is wrong with it


def _read(
    found: Found, outcome: Fixity | str | None, readers: _Readers, *, known: bool
) -> ReadFile:
    if isinstance(outcome, str):
        fault = outcome or "it could not be read"
        header_fault = fault if found.kind == POINTS else ""
        file = DeliveredFile(found.name, "", 0, found.kind, header_fault=header_fault, fault=fault)
        return ReadFile(found, file, None)
    parts = _read_header(found.path, readers) if found.kind == POINTS else {}
    if outcome is None:
        file = DeliveredFile(found.name, "", _read_size(found.path), found.kind, **parts)
        return ReadFile(found, file, None)
    file = DeliveredFile(found.name, outcome.sha256, outcome.bytes, found.kind, **parts)
    return ReadFile(found, file, outcome, known)


def _read_header(path: Place, readers: _Readers) -> dict[str, Any]:
    """Return what a delivered file is told of its header."""
    try:
        header = readers.headers.read(path)
    except StoreError:
        raise
    except SwathbookError as error:
        return {"header_fault": describe_fault(error)}
    return {"header": header, "crs": readers.systems.read(header)}


def find_changed(files: Sequence[ReadFile]) -> tuple[str, ...]:
    """Return the names of files whose size, time or identity is no longer what was read.

    Raises:
        StoreError: the store that holds them cannot be reached.
    """
    stored = {each.found.path for each in files if isinstance(each.found.path, RemoteFile)}
    now = _list_again(stored)
    return tuple(
        each.found.name
        for each in files
        if (each.found.path not in now if each.found.path in stored else not _is_unchanged(each))
    )


def _list_again(stored: Iterable[Place]) -> frozenset[Place]:
    """Return the objects of the same folders as they are listed now."""
    folders = {each.folder for each in stored if isinstance(each, RemoteFile)}
    try:
        return frozenset(each for folder in folders for each in list_store(folder))
    except FileError:  # nothing of it is there any more
        return frozenset()


def _is_unchanged(read: ReadFile) -> bool:
    fixity = read.fixity
    if fixity is None:
        return True
    return _look(read.found.path) == Sight(fixity.bytes, fixity.mtime_ns, fixity.file_id)
