"""Which entries were stored while a command ran: whoever tells that it failed can say what stays.

A command may fail after its entry is on the medium: at a page, at a copy, at the screen. A person
who is told only of the failure enters the same thing again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from ledger.model.entry import Entry

_NOTED: ContextVar[list[Entry] | None] = ContextVar("entries noted", default=None)


@contextmanager
def note_entries() -> Iterator[list[Entry]]:
    """Give a list that every entry stored from now on is added to, until the end of the block."""
    noted: list[Entry] = []
    token = _NOTED.set(noted)
    try:
        yield noted
    finally:
        _NOTED.reset(token)


def note_stored(entries: Iterable[Entry]) -> None:
    """Note entries that are in the book; where nobody listens, nothing happens."""
    noted = _NOTED.get()
    if noted is not None:
        noted.extend(entries)


def tell_stored(entries: Iterable[Entry]) -> str:
    """Return what is in the book although the command failed, one sentence; empty for nothing."""
    found = list(entries)
    if not found:
        return ""
    named = [f"{entry.seq} ({entry.kind})" for entry in found]
    first = ", ".join(named[:-1])
    subject = f"entries {first} and {named[-1]} are" if first else f"entry {named[0]} is"
    last = found[-1].seq
    return f"{subject} in the book all the same: see with swathbook trace entry:{last}"
