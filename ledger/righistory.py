"""How rigs were altered over time, by the entries that recorded and amended them.

Light: reads entries, no file.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.model.entry import Kind
from ledger.model.known import KnownValue
from ledger.model.rig import RigState, amend_states, record_again
from ledger.store.reading import Book


def read_rig_states(book: Book) -> Mapping[str, tuple[RigState, ...]]:
    """Return the states of every rig, oldest first, by its id.

    Raises:
        BookError: the book cannot be read.
    """
    found: dict[str, tuple[RigState, ...]] = {}
    for entry in book.entries(Kind.RIG, Kind.AMENDMENT):
        stored: Mapping[str, Any] = entry.values.get("values", {})
        given = {
            key: None if value is None else KnownValue.from_values(value)
            for key, value in stored.items()
        }
        if entry.kind == Kind.RIG:
            name = str(entry.values["id"])
            said = {key: known for key, known in given.items() if known is not None}
            found[name] = record_again(found.get(name, ()), said, entry.seq, entry.time, entry.by)
        elif entry.values.get("record") in found:
            name = str(entry.values["record"])
            found[name] = amend_states(found[name], given)
    return found
