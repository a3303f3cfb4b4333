"""What a run made: bytes, points and their fingerprint."""

from __future__ import annotations

from dataclasses import replace

from ledger.content import read_facts
from ledger.errors import ChangedFileError, FileError, SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasfacts import describe_las
from ledger.lattice import choose_lattice
from ledger.model.artefact import RASTER_SUFFIXES, Facts, FileRecord, Output, Role
from ledger.model.ask import Progress
from ledger.model.header import LasHeader
from ledger.points import read_points
from ledger.record.candidates import Candidate


def describe_output(each: Candidate, progress: Progress, *, parallel: bool) -> Output:
    """Return a hashed file with its points counted and fingerprinted by decoding them.

    A damaged point file is recorded by its bytes, with what is wrong with it.

    Args:
        each: the file, with its digest.
        progress: advanced by points.
        parallel: decode on all cores; nothing else in this process moves meanwhile.

    Raises:
        UnreadableFileError: the system refuses to read it.
        ChangedFileError: it changed while its points were read.
    """
    if not each.holds_points:
        return Output(_make_record(each, _read_other(each)))
    if each.header is None:
        return Output(_make_record(each, Facts(Role.POINTS, fault=each.fault)))
    return _read_points(each, each.header, progress, parallel=parallel)


def _read_other(each: Candidate) -> Facts:
    facts = read_facts(each.path)
    is_raster = each.path.suffix.lower() in RASTER_SUFFIXES
    return replace(facts, role=Role.RASTER) if is_raster else facts


def _read_points(
    each: Candidate, header: LasHeader, progress: Progress, *, parallel: bool
) -> Output:
    facts = Facts(Role.POINTS, describe_las(header))
    lattice = choose_lattice(header)
    fingerprint = Fingerprint(lattice)
    try:
        for chunk in read_points(
            each.path, header, lattice, DIMENSIONS, progress, parallel=parallel
        ):
            fingerprint.add(chunk)
    except ChangedFileError:
        raise
    except FileError as error:
        return Output(_make_record(each, replace(facts, fault=_tell(error))))
    value = fingerprint.value()
    return Output(_make_record(each, facts), value.count, value)


def _tell(error: SwathbookError) -> str:
    # The path stands beside in the book; inside the sentence it would tie the fact to one place.
    return replace(error.faults[0], where="", remedy="").sentence()


def _make_record(each: Candidate, facts: Facts) -> FileRecord:
    return FileRecord(
        path=each.stored,
        sha256=each.sha256,
        bytes=each.stamp.bytes,
        mtime_ns=each.stamp.mtime_ns,
        role=str(facts.role),
        facts=facts.values,
        fault=facts.fault,
        path_bytes=each.raw,
    )
