"""What the next flight of a job is asked with: the latest flight, or what another job left.

One rule for whoever asks: the form of a flight, and a new job that is made after this one.
"""

from __future__ import annotations

from collections.abc import Mapping

from ledger.model.entry import Kind
from ledger.model.known import KnownValue
from ledger.store.reading import Book

FLIGHT = "flight"


def find_last_flight(book: Book) -> Mapping[str, KnownValue]:
    """Return the values of the latest flight that has any; else those taken over by `start --like`.

    Those taken over are carried and not confirmed, or assumed; a flight of this job says itself how
    its values are known.
    """
    filled = [card.values for card in book.cards("flight") if card.values]
    return filled[-1] if filled else _read_taken_over(book)


def find_origin(book: Book) -> str:
    """Return the job whose settings the first flight is asked with; empty where there is none."""
    if any(card.values for card in book.cards("flight")) or not _read_taken_over(book):
        return ""
    job = book.last(Kind.JOB)
    return "" if job is None else str(job.values.get("like", ""))


def _read_taken_over(book: Book) -> Mapping[str, KnownValue]:
    job = book.last(Kind.JOB)
    stored = {} if job is None else job.values.get(FLIGHT, {})
    return {key: KnownValue.from_values(known) for key, known in stored.items()}
