"""What a run made: bytes, points and their fingerprint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ledger.content import read_facts
from ledger.errors import ChangedFileError, FileError, SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasfacts import describe_las
from ledger.lattice import choose_lattice
from ledger.model.artefact import RASTER_SUFFIXES, Facts, FileRecord, Output, Role
from ledger.model.ask import Progress
from ledger.points import read_points
from ledger.record.candidates import Candidate


def describe_outputs(files: Sequence[Candidate], progress: Progress) -> tuple[Output, ...]:
    """Return every file with its points counted and fingerprinted by decoding them.

    A damaged point file is recorded by its bytes, with what is wrong with it.

    Raises:
        ChangedFileError: a file changed after it was hashed.
    """
    stated = sum(each.header.point_count for each in files if each.header is not None)
    progress.start("reading points", stated, "points")
    outputs = tuple(_describe(each, progress) for each in files)
    progress.finish()
    return outputs


def _describe(each: Candidate, progress: Progress) -> Output:
    if not each.holds_points:
        output = Output(_make_record(each, _read_other(each)))
    elif each.header is None:
        output = Output(_make_record(each, Facts(Role.POINTS, fault=each.fault)))
    else:
        output = _read_points(each, progress)
    _require_unchanged(each)
    return output


def _read_other(each: Candidate) -> Facts:
    facts = read_facts(each.path)
    is_raster = each.path.suffix.lower() in RASTER_SUFFIXES
    return replace(facts, role=Role.RASTER) if is_raster else facts


def _read_points(each: Candidate, progress: Progress) -> Output:
    if each.header is None:
        raise FileError("a file without a header has no points", where=str(each.path))
    facts = Facts(Role.POINTS, describe_las(each.header))
    fingerprint = Fingerprint(choose_lattice(each.header))
    lattice = choose_lattice(each.header)
    try:
        for chunk in read_points(
            each.path, each.header, lattice, DIMENSIONS, progress, parallel=True
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
        sha256=each.fixity.sha256,
        bytes=each.fixity.bytes,
        mtime_ns=each.fixity.mtime_ns,
        role=str(facts.role),
        facts=facts.values,
        fault=facts.fault,
        path_bytes=each.raw,
    )


def _require_unchanged(each: Candidate) -> None:
    try:
        found = each.path.stat()
        now = (found.st_size, found.st_mtime_ns)
    except OSError:
        now = (-1, -1)
    if now != (each.fixity.bytes, each.fixity.mtime_ns):
        raise ChangedFileError(
            "the file changed while it was recorded",
            where=str(each.path),
            remedy="record it again when nothing writes to it",
        )
