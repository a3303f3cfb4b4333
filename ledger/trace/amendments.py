"""Which values of a record were struck through later, and what stood there."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.model.entry import Kind
from ledger.model.known import KnownValue
from ledger.store.reading import Book
from ledger.trace.nodes import Amendment


def read_amendments(book: Book) -> Mapping[str, tuple[Amendment, ...]]:
    """Return every amendment, by the id of its record, in order of entry."""
    found: dict[str, list[Amendment]] = {}
    for entry in book.entries(Kind.AMENDMENT):
        struck = entry.values.get("struck", {})
        for key in entry.values.get("values", {}):
            before = struck.get(key)
            found.setdefault(str(entry.values["record"]), []).append(
                Amendment(
                    field=key,
                    before=None if before is None else KnownValue.from_values(before),
                    entry=entry.seq,
                    by=entry.by,
                    reason=str(entry.values.get("reason", "")),
                )
            )
    return {record: tuple(amended) for record, amended in found.items()}
