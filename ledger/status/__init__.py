"""Where does the job stand, and what is to be typed next?

Read from the book, sizes and times alone, within two seconds. Nothing here is evidence: bytes are
read by `recheck`, and nothing is called changed that nobody has read. No valid `job.toml` is
needed. Loads no library of points, coordinates, numbers or models, and no plugin.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.audited import AuditedFolder, read_audited_folder
from ledger.copies import Copies, find_copies
from ledger.errors import NoBookError
from ledger.jobfolder import find_places, list_jobs, read_names
from ledger.model.artefact import FileRecord
from ledger.model.blanks import list_blanks
from ledger.model.entry import Kind
from ledger.model.filename import make_book_path
from ledger.model.nextstep import NextStep
from ledger.model.phrases import count_things
from ledger.model.process import Decision, Process, find_later
from ledger.model.typed import quote_path
from ledger.rechecked import read_rechecks
from ledger.status.alarm import describe_alarms, describe_last_recheck
from ledger.status.audits import (
    describe_audit,
    describe_blanks,
    describe_no_audit,
    find_telling_audit,
)
from ledger.status.field import describe_card, describe_flights, describe_raw, describe_rigs
from ledger.status.lines import StatusLine, StatusResult
from ledger.status.sent import describe_seal, describe_sent
from ledger.status.work import describe_outputs, describe_processes, describe_statements
from ledger.store.reading import BOOK_NAME, Book, find_book

__all__ = ["StatusLine", "StatusResult", "find_next_step", "read_status"]

_JOBS_NAMED = 4
_JOB_NAMES = {"reference": "", "title": "", "site": "at ", "client": "for "}


def find_next_step(job: Path) -> NextStep:
    """Return what to type next in a job.

    Raises:
        BookError: the book cannot be opened or read.
    """
    return read_status(job).step


def read_status(job: Path) -> StatusResult:
    """Return how the job stands that a folder belongs to.

    Outside a job the only line names the jobs in the folder, or says how to begin one.

    Raises:
        BookError: the book cannot be opened or read.
    """
    try:
        path = find_book(job)
    except NoBookError:
        return StatusResult(None, (_describe_outside(job),))
    with Book.open(path) as book:
        entry = find_telling_audit(book)
        audit = read_audited_folder(book, entry) if entry is not None else None
        copies = find_copies(book)
        outputs, unexplained = describe_outputs(book, audit)
        lines = tuple(_describe(book, copies, outputs, audit))
        return StatusResult(book.folder, lines, unexplained, copies)


def _describe(
    book: Book, copies: Copies, outputs: Sequence[StatusLine], audit: AuditedFolder | None
) -> Iterator[StatusLine]:
    seen: dict[str, FileRecord] = {record.path: record for record in book.files_last_seen()}
    processes = book.processes()
    rechecks = read_rechecks(book)
    yield from describe_alarms(book, rechecks, seen)
    yield _describe_job(book)
    optional = (
        describe_raw(book, copies, seen),
        describe_card(copies),
        describe_rigs(book, can_wait=bool(processes)),
        describe_flights(book, can_wait=bool(processes)),
        *outputs,
        describe_processes(processes, make_book_path(find_places(book.folder).out, book.folder)[0]),
        describe_no_audit(book, processes)
        if audit is None
        else describe_audit(book, audit, seen, rechecks),
        describe_statements(book),
        _count_blanks(processes) if audit is None else describe_blanks(audit.entry),
        describe_sent(book),
        describe_seal(book),
        describe_last_recheck(rechecks),
    )
    yield from (line for line in optional if line is not None)


def _describe_outside(folder: Path) -> StatusLine:
    said = "There is no book here or above"
    jobs = list_jobs(folder)
    if not jobs:
        return StatusLine("job", f"{said}.", NextStep("swathbook start FOLDER"))
    some = ", ".join(path.name for path in jobs[:_JOBS_NAMED])
    more = f" and {len(jobs) - _JOBS_NAMED} more" if len(jobs) > _JOBS_NAMED else ""
    last = max(jobs, key=lambda path: (path / BOOK_NAME).stat().st_mtime_ns)
    which = "the only job here" if len(jobs) == 1 else "the job that was worked on last"
    step = NextStep(f"cd {quote_path(last.name)}", which)
    return StatusLine("job", f"{said}. {count_things(len(jobs), 'job')} below: {some}{more}.", step)


def _describe_job(book: Book) -> StatusLine:
    entry = book.last(Kind.JOB)
    # What was typed at the start is old news once job.toml says otherwise.
    begun = entry.values if entry is not None else {}
    names = read_names(book.folder)
    values = begun if names is None else names
    name = ", ".join(
        f"{before}{values[key]}" for key, before in _JOB_NAMES.items() if values.get(key)
    )
    size = count_things(book.size, "entry", "entries")
    return StatusLine("job", f"{name or book.folder.name}; its book holds {size}.")


def _count_blanks(processes: tuple[Process, ...]) -> StatusLine | None:
    """Return how many core fields accepted runs leave blank, before an audit has priced them."""
    accepted = [process for process in processes if process.decision is Decision.ACCEPTED]
    later = find_later(processes)
    missing = {
        key
        for process in accepted
        for key in list_blanks(process.kind, process.values, later=process.id in later)
    }
    if not missing:
        return None
    return StatusLine(
        "blanks",
        f"{count_things(len(missing), 'value')} blank in accepted runs; "
        "an audit says what that costs.",
    )
