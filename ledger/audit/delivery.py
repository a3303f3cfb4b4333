"""Digests, headers and coordinate systems of the files of a folder."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ledger.audit.folder import POINTS, Found
from ledger.contract.evidence import DeliveredFile
from ledger.contract.guard import describe_fault
from ledger.crs import CrsReader
from ledger.errors import SwathbookError
from ledger.fixity import Fixity, read_many
from ledger.lasheader import HeaderReader
from ledger.model.ask import Progress

CHANGED = "it changed while it was being audited"


@dataclass(frozen=True)
class ReadFile:
    """One file of the folder, as read.

    Args:
        found: where it lies.
        file: what is known of it.
        fixity: its digest and stamp; None when its bytes could not be read.
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
    found: Sequence[Found], known: Mapping[Stamp, str], progress: Progress
) -> tuple[ReadFile, ...]:
    """Hash every file and read the headers of the point files.

    Args:
        found: the files of the folder.
        known: digests that may be taken instead of computed, by stamp; empty to compute all.
        progress: counts bytes.
    """
    taken = _take_known(found, known) if known else {}
    fixities = {**_hash(found, taken, progress), **taken}
    readers = _Readers(HeaderReader(), CrsReader())
    return tuple(
        _read(each, fixities[each.path], readers, known=each.path in taken) for each in found
    )


def _take_known(found: Iterable[Found], known: Mapping[Stamp, str]) -> dict[Path, Fixity]:
    stamps = {each.path: _read_stamp(each) for each in found if not each.fault}
    return {
        path: Fixity(known[stamp], stamp.bytes, stamp.mtime_ns, stamp.file_id)
        for path, stamp in stamps.items()
        if stamp is not None and stamp in known
    }


def _read_stamp(found: Found) -> Stamp | None:
    try:
        status = found.path.stat()
    except OSError:
        return None
    file_id = f"{status.st_dev}:{status.st_ino}"
    return Stamp(found.name, status.st_size, status.st_mtime_ns, file_id)


def _hash(
    found: Iterable[Found], taken: Mapping[Path, Fixity], progress: Progress
) -> dict[Path, Fixity | str]:
    outcomes: dict[Path, Fixity | str] = {each.path: each.fault for each in found}
    wanted = [path for path, fault in outcomes.items() if not fault and path not in taken]
    progress.start("hashing", sum(_read_size(path) for path in wanted), "bytes")
    for path, outcome in read_many(wanted, progress):
        outcomes[path] = outcome if isinstance(outcome, Fixity) else describe_fault(outcome)
    progress.finish()
    return outcomes


def _read_size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # the reader says what is wrong with it


def _read(found: Found, outcome: Fixity | str, readers: _Readers, *, known: bool) -> ReadFile:
    if isinstance(outcome, str):
        fault = outcome or "it could not be read"
        header_fault = fault if found.kind == POINTS else ""
        file = DeliveredFile(found.name, "", 0, found.kind, header_fault=header_fault, fault=fault)
        return ReadFile(found, file, None)
    parts = _read_header(found.path, readers) if found.kind == POINTS else {}
    file = DeliveredFile(found.name, outcome.sha256, outcome.bytes, found.kind, **parts)
    return ReadFile(found, file, outcome, known)


def _read_header(path: Path, readers: _Readers) -> dict[str, Any]:
    """Return what a delivered file is told of its header."""
    try:
        header = readers.headers.read(path)
    except SwathbookError as error:
        return {"header_fault": describe_fault(error)}
    return {"header": header, "crs": readers.systems.read(header)}


def find_changed(files: Iterable[ReadFile]) -> tuple[str, ...]:
    """Return the names of files whose size, time or identity is no longer what was hashed."""
    return tuple(
        each.found.name
        for each in files
        if each.fixity is not None and not _is_unchanged(each.found.path, each.fixity)
    )


def _is_unchanged(path: Path, fixity: Fixity) -> bool:
    try:
        status = os.stat(path)  # noqa: PTH116 - the same call as the one that made the stamp
    except OSError:
        return False
    now = (status.st_size, status.st_mtime_ns, f"{status.st_dev}:{status.st_ino}")
    return now == (fixity.bytes, fixity.mtime_ns, fixity.file_id)
