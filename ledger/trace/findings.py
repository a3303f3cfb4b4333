"""Findings of audits: by the beginning of an id, and what became of one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.auditentry import StoredFinding, read_acceptances, read_audit
from ledger.model.audit import Acceptance
from ledger.model.entry import Entry, Kind
from ledger.store.reading import Book

SHORTEST_PREFIX = 4


@dataclass(frozen=True)
class TracedFinding:
    """A finding where it was entered last.

    Args:
        audit: the entry of that audit.
        stored: the finding, under the id that it had then.
        acceptance: who took it, and why; None for nobody.
    """

    audit: Entry
    stored: StoredFinding
    acceptance: Acceptance | None


def find_findings(book: Book, prefix: str) -> tuple[str, ...]:
    """Return the ids, in any audit, that begin like this, sorted; conforming results have none."""
    found = {
        stored.id
        for entry in _list_holders(book, prefix)
        for stored in read_audit(book, entry).findings
        if stored.id.startswith(prefix)
    }
    return tuple(sorted(found))


def read_finding(book: Book, name: str) -> TracedFinding | None:
    """Return a finding by its whole id, from the latest audit that has it; None for none."""
    for entry in reversed(list(_list_holders(book, name))):
        for stored in read_audit(book, entry).findings:
            if stored.id == name:
                return TracedFinding(entry, stored, read_acceptances(book).get(name))
    return None


def _list_holders(book: Book, prefix: str) -> Iterator[Entry]:
    """Yield audits whose findings hold the text: reading each finding takes longer by far."""
    wanted = f'"{prefix}'.encode()
    for entry in book.entries(Kind.AUDIT):
        if entry.values.get("findings") and wanted in book.blob(str(entry.values["findings"])):
            yield entry
