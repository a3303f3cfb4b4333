"""Where does the job stand, and what is to be typed next?

Read from the book, sizes and times alone, within two seconds. Nothing here is evidence: bytes are
read by `recheck`. No valid `job.toml` is needed. Loads no library of points, coordinates, numbers
or models, and no plugin.
"""

from __future__ import annotations

from pathlib import Path

from ledger.errors import NoBookError
from ledger.jobfolder import find_places, read_names
from ledger.model.artefact import FileRecord
from ledger.model.blanks import list_blanks
from ledger.model.entry import Kind
from ledger.model.lineage import describe_decision
from ledger.model.phrases import count_things, describe_bytes
from ledger.model.process import Decision, Process
from ledger.status.audits import describe_blanks, describe_last_audit
from ledger.status.lines import StatusLine, StatusResult
from ledger.status.outputs import find_outputs
from ledger.store.reading import Book, find_book

__all__ = ["StatusLine", "StatusResult", "read_status"]

_NAMED = 3
_JOB_NAMES = {"reference": "", "title": "", "site": "at ", "client": "for "}


def read_status(job: Path) -> StatusResult:
    """Return how the job stands that a folder belongs to.

    Outside a job the only line says how to begin one.

    Raises:
        BookError: the book cannot be opened or read.
    """
    try:
        path = find_book(job)
    except NoBookError:
        line = StatusLine("job", "There is no book here or above.", "swathbook start FOLDER")
        return StatusResult(None, (line,))
    with Book.open(path) as book:
        seen = {record.path: record for record in book.files_last_seen()}
        processes = book.processes()
        lines = (
            _describe_job(book),
            _describe_raw(book),
            _describe_flights(book),
            _describe_outputs(book, seen),
            _describe_processes(processes),
            describe_last_audit(book),
            describe_blanks(book) if book.last(Kind.AUDIT) else _count_blanks(processes),
        )
        return StatusResult(book.folder, tuple(line for line in lines if line is not None))


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


def _describe_raw(book: Book) -> StatusLine:
    entries = [entry.values for entry in book.entries(Kind.FILES)]
    files = sum(int(values["count"]) for values in entries)
    raw = find_places(book.folder).raw
    if not files:
        typed = raw.relative_to(book.folder).as_posix() if raw.is_relative_to(book.folder) else raw
        return StatusLine("raw data", "No raw file is registered.", f"swathbook register {typed}")
    size = describe_bytes(sum(int(values.get("bytes", 0)) for values in entries))
    return StatusLine(
        "raw data",
        f"{count_things(files, 'file')}, {size}, registered. "
        "One copy known: do not clear the card.",
    )


def _describe_flights(book: Book) -> StatusLine | None:
    flights = book.cards("flight")
    empty = [card.id for card in flights if not card.values]
    if empty:
        return StatusLine(
            "flights",
            f"{count_things(len(flights), 'flight')}; without a field card: {', '.join(empty)}.",
            f"swathbook record flight {empty[0]}",
        )
    return StatusLine("flights", f"{count_things(len(flights), 'flight')}.") if flights else None


def _describe_outputs(book: Book, seen: dict[str, FileRecord]) -> StatusLine:
    folder = find_places(book.folder).out
    found = find_outputs(book, folder, seen)
    name = folder.name
    if found.fault:
        return StatusLine("outputs", f"{name} cannot be looked through: {found.fault}.")
    waiting = [*found.fresh, *found.unexplained]
    if waiting:
        some = ", ".join(waiting[:_NAMED]) + (" …" if len(waiting) > _NAMED else "")
        verb = "is" if len(waiting) == 1 else "are"
        return StatusLine(
            "outputs",
            f"{count_things(len(waiting), 'file')} in {name} {verb} explained by no run: {some}.",
            "swathbook record",
        )
    if not found.known:
        return StatusLine("outputs", f"{name} holds no point or raster file.")
    return StatusLine(
        "outputs", f"All {len(found.known)} point and raster files in {name} have their run."
    )


def _describe_processes(processes: tuple[Process, ...]) -> StatusLine:
    if not processes:
        return StatusLine("runs", "No run is recorded.")
    undecided = [process.id for process in processes if process.decision is Decision.UNDECIDED]
    if undecided:
        return StatusLine(
            "runs",
            f"Nobody has decided on {', '.join(undecided)}: accepted or rejected.",
            f'swathbook record decision {undecided[0]} accepted --reason "…"',
        )
    last = processes[-1]
    kinds = count_things(len(processes), "run or step", "runs and steps")
    return StatusLine("runs", f"{kinds}; the last, {last.id}, was {describe_decision(last)}.")


def _count_blanks(processes: tuple[Process, ...]) -> StatusLine | None:
    """Return how many core fields accepted runs leave blank, before an audit has priced them."""
    accepted = [process for process in processes if process.decision is Decision.ACCEPTED]
    missing = {key for process in accepted for key in list_blanks(process.kind, process.values)}
    if not missing:
        return None
    return StatusLine(
        "blanks",
        f"{count_things(len(missing), 'value')} blank in accepted runs; "
        "an audit says what that costs.",
    )
