"""Which records of a book were made late, by id."""

from __future__ import annotations

from ledger.model.entry import Kind
from ledger.model.late import describe_late_flight
from ledger.model.process import Card
from ledger.store.reading import Book


def read_first_times(book: Book) -> dict[str, str]:
    """Return when each field card was filled in first, by id; later entries only add to it."""
    times: dict[str, str] = {}
    for entry in book.entries(Kind.FLIGHT):
        if entry.values.get("values"):
            times.setdefault(str(entry.values["id"]), entry.time)
    return times


def describe_late_card(book: Book, card: Card, first_times: dict[str, str]) -> str:
    """Return how late the card of a flight was filled in, in one clause; empty where it was not."""
    files = book.files_of_flight(card.id)
    return describe_late_flight(first_times.get(card.id, ""), card.values, files)
