"""What looks as if it belonged to another job or day, told before anything is processed.

A remark and no refusal: a base log may serve two sites, and who registers knows better.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from ledger.model.artefact import FileRecord, Role
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from ledger.office import ask_other_jobs
from ledger.store.reading import Book

# Raw data of one flight; tables, photos and grids may serve many jobs.
_ROLES = frozenset({Role.CAPTURE, Role.BASE_LOG, Role.FLIGHT_LOG, Role.TRAJECTORY})
_DAY_FACTS = ("first_epoch", "header_first", "date")
_LARGEST_GAP_DAYS = 3  # common practice, no source
_TOLD = 3


def remark_on_misplaced(book: Book, records: Sequence[FileRecord], flight: str) -> Iterator[str]:
    """Yield one sentence, without a full stop, for each file that seems to be misplaced.

    Args:
        book: the book of this job.
        records: the files of this call.
        flight: the flight that they belong to; empty for none.
    """
    raw = [record for record in records if record.role in _ROLES]
    yield from _remark_on_other_jobs(book, raw)
    yield from _remark_on_days(book, raw, flight)


def _remark_on_other_jobs(book: Book, raw: Sequence[FileRecord]) -> Iterator[str]:
    found = ask_other_jobs(book, {record.sha256 for record in raw}).found
    shared = [record for record in raw if record.sha256 in found]
    for record in shared[:_TOLD]:
        other = found[record.sha256][0]
        yield (
            f"{record.path} is registered in job {other.job} too, since "
            f"{describe_day(other.time)} as {other.path}: see to which of the two it belongs"
        )
    if len(shared) > _TOLD:
        yield f"{count_things(len(shared) - _TOLD, 'more file')} of this call are in other jobs too"


def _remark_on_days(book: Book, raw: Iterable[FileRecord], flight: str) -> Iterator[str]:
    card = book.card(flight) if flight else None
    takeoff = None if card is None else card.values.get("flight.takeoff")
    flown = None if takeoff is None else _read_day(str(takeoff.value))
    if flown is None:
        return
    for record in raw:
        day = next(filter(None, (_read_day(record.facts.get(key)) for key in _DAY_FACTS)), None)
        if day is not None and abs((day - flown).days) > _LARGEST_GAP_DAYS:
            yield (
                f"{record.path} is of {describe_day(day.isoformat())}, and {flight} was flown on "
                f"{describe_day(flown.isoformat())}: it is of another day, or its clock was not set"
            )


def _read_day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
