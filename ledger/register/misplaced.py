"""What looks empty, or as if it belonged to another job or day, told before it is processed.

A remark and no refusal: a base log may serve two sites, and who registers knows better.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.model.artefact import FileRecord
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from ledger.office import ask_other_jobs
from ledger.otherdays import RAW_ROLES, remark_on_days
from ledger.store.reading import Book

_TOLD = 3


def remark_on_misplaced(
    job: Path, book: Book, records: Sequence[FileRecord], flight: str
) -> Iterator[str]:
    """Yield one sentence, without a full stop, for each file that seems to be misplaced.

    Args:
        job: the job folder.
        book: its book.
        records: the files of this call.
        flight: the flight that they belong to; empty for none.
    """
    raw = [record for record in records if record.role in RAW_ROLES]
    yield from _remark_on_other_jobs(book, raw)
    yield from remark_on_days(job, book, records, flight)


def remark_on_empty(records: Sequence[FileRecord]) -> Iterator[str]:
    """Yield one sentence, without a full stop, for each file without a byte, of whatever role.

    What nothing is in tells no role either: an empty capture passes for a document.

    Args:
        records: the files of this call.
    """
    empty = [record.path for record in records if not record.bytes]
    for path in empty[:_TOLD]:
        yield f"{path} holds no byte: copy it again, while it is still on the card"
    if len(empty) > _TOLD:
        yield f"{count_things(len(empty) - _TOLD, 'more file')} of this call without a byte"


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
