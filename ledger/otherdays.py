"""Which raw files are of another day than their flight, told while somebody can still look.

A remark and no refusal: a clock that was never set is as common as a file of another day.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from ledger.loading import load_part
from ledger.model.artefact import FileRecord, Role
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from ledger.store.reading import Book

# Raw data of one flight; tables and grids may serve many jobs.
RAW_ROLES = frozenset({Role.CAPTURE, Role.BASE_LOG, Role.FLIGHT_LOG, Role.TRAJECTORY})
_DAY_FACTS = ("first_epoch", "header_first", "date")
_LARGEST_GAP_DAYS = 3  # common practice, no source
_TOLD = 3

_Dated = tuple[FileRecord, date]


def remark_on_days(job: Path, book: Book, records: Sequence[FileRecord], flight: str) -> list[str]:
    """Return one sentence, without a full stop, for each file that is of another day.

    Files are held against the day of the flight; where that is not recorded yet, against the day
    that most files of the flight are of.

    Args:
        job: the job folder.
        book: its book.
        records: the files to speak of.
        flight: the flight that they belong to; empty for none, of which nothing is said.
    """
    if not flight:
        return []
    dated = list(_find_days(job, records))
    flown = _find_flown(book, flight)
    if flown is None:
        every = list(_find_days(job, _list_others(book, flight, records)))
        told = list(_compare_days([*every, *dated], dated, flight))
    else:
        told = [
            f"{record.path} is of {_write(day)}, and {flight} was flown on {_write(flown)}: it is "
            "of another day, or its clock was not set"
            for record, day in dated
            if _is_apart(day, flown)
        ]
    return list(_cut(told, flight))


def _list_others(book: Book, flight: str, records: Sequence[FileRecord]) -> list[FileRecord]:
    """Return the other files of a flight, each once."""
    spoken_of = {record.sha256 for record in records}
    files = {each.sha256: each for each in book.files_of_flight(flight)}
    return [each for digest, each in files.items() if digest not in spoken_of]


def _compare_days(every: Sequence[_Dated], dated: Sequence[_Dated], flight: str) -> Iterator[str]:
    """Yield a sentence for each file that is of another day than most are, the later at a tie."""
    if not every:
        return
    counts = Counter(day for _, day in every)
    most = max(counts, key=lambda day: (counts[day], day))
    example = next(record.path for record, day in every if day == most)
    for record, day in dated:
        if _is_apart(day, most):
            yield (
                f"{record.path} is of {_write(day)}, and {example} of {_write(most)}, both as "
                f"{flight}: one of them is of another day, or its clock was not set"
            )


def _cut(told: Sequence[str], flight: str) -> Iterator[str]:
    yield from told[:_TOLD]
    if len(told) > _TOLD:
        yield f"{count_things(len(told) - _TOLD, 'more file')} of {flight} of another day"


def _find_days(job: Path, records: Sequence[FileRecord]) -> Iterator[_Dated]:
    """Yield the files that say their day, with it. That of a photo is read anew and not kept."""
    for record in records:
        if record.role == Role.PHOTO:
            day = load_part("ledger.photos", "find_day")(job / record.path)
        elif record.role in RAW_ROLES:
            found = (_read_day(record.facts.get(key)) for key in _DAY_FACTS)
            day = next(filter(None, found), None)
        else:
            day = None
        if day is not None:
            yield record, day


def _find_flown(book: Book, flight: str) -> date | None:
    card = book.card(flight)
    takeoff = None if card is None else card.values.get("flight.takeoff")
    return None if takeoff is None else _read_day(takeoff.value)


def _is_apart(one: date, other: date) -> bool:
    return abs((one - other).days) > _LARGEST_GAP_DAYS


def _write(day: date) -> str:
    return describe_day(day.isoformat())


def _read_day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
