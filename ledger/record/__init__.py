"""Recording what happened: runs, flights, rigs, decisions."""

from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.decision import record_decision
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run

__all__ = [
    "Answers",
    "CardOptions",
    "RecordResult",
    "RunOptions",
    "record_card",
    "record_decision",
    "record_run",
]
