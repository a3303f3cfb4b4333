"""What the books say beyond what stands behind a delivery, put together for the checks.

Light beside an audit: entries, sizes and times; no raw file is read.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path

from ledger.audited import list_telling_audits, read_audited_digests
from ledger.copies import Copies, count_good, find_copies
from ledger.model.artefact import FileRecord
from ledger.model.entry import Entry, Kind
from ledger.model.filename import find_path
from ledger.model.filestate import FileState
from ledger.model.jobrecords import JobRecords, PastAudit, Precedent, RawFile
from ledger.model.process import Card, Process
from ledger.office import OtherJobs, ask_other_jobs, find_accepted, find_last_accepted
from ledger.rawplaces import Place
from ledger.store.lookups import Use
from ledger.store.reading import Book
from ledger.volumes import is_outside_job


def read_job_records(
    book: Book,
    processes: Iterable[Process],
    flights: Iterable[Card],
    seen: Iterable[FileRecord] | None = None,
) -> JobRecords:
    """Return what the books say beyond the runs and flights behind a delivery.

    Args:
        book: an open book.
        processes: the runs and steps behind the delivery.
        flights: the flights behind it.
        seen: the latest record of every path in the book, where they were read; None to read them.

    Raises:
        BookError: the book cannot be read.
    """
    behind = tuple(processes)
    latest = {record.path: record for record in (book.files_last_seen() if seen is None else seen)}
    uses = [use for flight in (*flights, None) for use in _list_registered(book, flight)]
    inputs = {used.sha256 for process in behind for used in process.inputs if used.sha256}
    others = ask_other_jobs(book, inputs | {use.file.sha256 for use in uses})
    copies = find_copies(book)
    return JobRecords(
        raw=tuple(_describe_raw(book, uses, copies, others, latest)),
        own_digests=book.digests_used_as("registered"),
        inputs_elsewhere={key: others.found[key] for key in sorted(inputs & others.found.keys())},
        copies_needed=copies.needed,
        precedents=_find_precedents(book, behind),
        rigs=book.cards("rig"),
        statements=book.cards("statement"),
        audits=tuple(_describe_audit(book, each) for each in list_telling_audits(book)),
        jobs=others.asked,
        unreached=others.unreached,
        time=f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}",
    )


def _list_registered(book: Book, flight: Card | None) -> tuple[Use, ...]:
    return book.registrations("" if flight is None else flight.id)


def _describe_raw(
    book: Book,
    uses: Iterable[Use],
    copies: Copies,
    others: OtherJobs,
    latest: Mapping[str, FileRecord],
) -> Iterator[RawFile]:
    places: dict[str, list[Place]] = {}
    for place in copies.places:
        places.setdefault(place.sha256, []).append(place)
    for use in sorted(uses, key=lambda use: (use.file.path, use.entry)):
        known = places.get(use.file.sha256, [])
        entry = book.entry(use.entry)
        seen = [place.last_seen for place in known if not place.wrong]
        yield RawFile(
            file=use.file,
            flight=use.owner,
            entry=use.entry,
            time="" if entry is None else entry.time,
            copies=count_good(known),
            last_read=max(seen, default=""),
            wrong=_find_wrong(book, use.file, known, latest.get(use.file.path)),
            elsewhere=others.found.get(use.file.sha256, ()),
        )


def _find_wrong(
    book: Book, file: FileRecord, places: Iterable[Place], latest: FileRecord | None
) -> Mapping[str, str]:
    """Return what is wrong with a registered file by now, by place.

    What a recheck found, other bytes that were entered under its path since, and another size now.
    """
    wrong = {place.path: place.wrong for place in places if place.wrong}
    if latest is not None and latest.sha256 != file.sha256:
        wrong[file.path] = str(FileState.CHANGED)
    if not is_outside_job(file.path):
        size = _read_size(find_path(file.path, file.path_bytes, book.folder))
        if size is not None and size != file.bytes:
            wrong[file.path] = str(FileState.CHANGED)
    return wrong


def _read_size(path: Path) -> int | None:
    try:
        return os.stat(path).st_size  # noqa: PTH116 - of what a link points to
    except (OSError, ValueError):
        return None


def _find_precedents(book: Book, behind: Iterable[Process]) -> dict[str, Precedent]:
    everything = book.processes()
    first = book.last(Kind.JOB)
    like = "" if first is None else str(first.values.get("like", ""))
    found = {}
    for process in behind:
        accepted = find_accepted(
            [each for each in everything if _is_alike(each, process)], process.kind, process.entry
        )
        job = ""
        if accepted is None and like:
            accepted, job = find_last_accepted(like, process.kind, book), like
        former = _find_former(everything, process)
        found[process.id] = Precedent(accepted, job if accepted is not None else "", former)
    return found


def _is_alike(other: Process, process: Process) -> bool:
    """Say whether two steps are of one kind of work; runs always are."""
    kinds = [each.find_value("kind") for each in (other, process)]
    return len({None if known is None else str(known.value) for known in kinds}) == 1


def _find_former(everything: Iterable[Process], process: Process) -> Process | None:
    used = _name_inputs(process)
    fitting = [
        each
        for each in everything
        if each.entry < process.entry and each.kind == process.kind and used & _name_inputs(each)
    ]
    return max(fitting, key=lambda each: each.entry, default=None)


def _name_inputs(process: Process) -> set[str]:
    return {used.flight or used.sha256 for used in process.inputs}


def _describe_audit(book: Book, entry: Entry) -> PastAudit:
    return PastAudit(
        id=str(entry.values["id"]),
        folder=str(entry.values["folder"]),
        entry=entry.seq,
        time=entry.time,
        verdict=str(entry.values.get("verdict", "")),
        files=read_audited_digests(book, entry),
    )
