"""Transmittals in a trace: what went out, to whom, and what replaced it."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.store.reading import Book
from ledger.trace.nodes import ChainNode

_KEYS = ("to", "revision", "use", "limits", "verdict", "despite", "supersedes", "manifest_sha256")


def make_transmittal_node(entry: Entry, replaced_by: str = "") -> ChainNode:
    """Return the node of a transmittal.

    Args:
        entry: its entry.
        replaced_by: id of the transmittal that replaced it; empty for none.
    """
    told = {key: str(entry.values[key]) for key in _KEYS} | {"replaced_by": replaced_by}
    return ChainNode(
        kind="transmittal",
        id=str(entry.values["id"]),
        entry=entry.seq,
        sources=(str(entry.values["deliverable"]),),
        values={
            f"transmittal.{key}": KnownValue(text, known_by=KnownBy.READ)
            for key, text in told.items()
            if text
        },
        name=str(entry.values["folder"]),
        by=entry.by,
        time=entry.time,
    )


def list_transmittals(book: Book, deliverables: Collection[str]) -> Iterator[ChainNode]:
    """Yield the transmittals of some deliverables, in order of entry."""
    entries = tuple(book.entries(Kind.TRANSMITTAL))
    replaced = {str(entry.values["supersedes"]): str(entry.values["id"]) for entry in entries}
    for entry in entries:
        if str(entry.values["deliverable"]) in deliverables:
            yield make_transmittal_node(entry, replaced.get(str(entry.values["id"]), ""))
