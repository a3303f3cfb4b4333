"""Cards of rigs and flights, filled in as a command fills them."""

from __future__ import annotations

from pathlib import Path

from ledger.model.ask import NobodyToAsk
from ledger.model.known import KnownValue
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.result import RecordResult


def fill_card(
    job: Path, kind: str, *, name: str = "", ask: object = None, **answers: str | KnownValue
) -> RecordResult:
    """Record a card."""
    options = CardOptions(id=name, answers=Answers(values=answers))
    return record_card(job, kind, options, ask or NobodyToAsk())  # type: ignore[arg-type]


def list_notes(result: RecordResult) -> list[tuple[bool, str]]:
    """Return what a record says by itself, doubts marked."""
    return [(note.is_doubt, note.sentence) for note in result.notes]
