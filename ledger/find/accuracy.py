"""What may be said of accuracy, and whether what a report says is borne out."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.auditentry import StoredAudit, read_figures, read_latest_audits
from ledger.model.statement import describe_statement
from ledger.store.reading import Book

_NOT_VERIFIED = "not verified against ground"
_NOT_COMPUTED = "as stated, nothing has computed it again"

Answer = tuple[str, str]


def read_accuracy(book: Book) -> Iterator[Answer]:
    """Yield what the latest audit of each folder tells of accuracy, with what may be stated."""
    for audit in _list_full(book):
        figures = [each for each in read_figures(audit.entry) if not each.is_inner]
        if not figures:
            yield audit.folder, _NOT_VERIFIED
        yield from ((audit.folder, each.sentence) for each in figures)


def read_stated(book: Book) -> Iterator[Answer]:
    """Yield each stated number, then what the latest audits found of those."""
    cards = book.cards("statement")
    names = {card.id for card in cards}
    judged = [
        (audit, each.finding)
        for audit in _list_full(book)
        for each in audit.findings
        if each.finding.subject in names
    ]
    for card in cards:
        told = describe_statement(card.values)
        yield card.id, told if judged else f"{told}; {_NOT_COMPUTED}"
    if cards:
        for audit, finding in judged:
            yield audit.folder, f"{finding.outcome}: {finding.sentence}"


def _list_full(book: Book) -> tuple[StoredAudit, ...]:
    return tuple(audit for audit in read_latest_audits(book) if not audit.is_quick)
