"""Whether checkpoints were surveyed from the base that the flight was corrected by."""

from __future__ import annotations

from enum import Enum

from ledger.contract.evidence import Evidence
from ledger.model.process import Card
from ledger.model.surveypoints import PointTable

_MARK, _METHOD, _SERVICE = "flight.base_mark", "flight.base_method", "flight.service"
BASE_FIELDS = (_MARK, _METHOD, _SERVICE)

# Coordinates of a base that do not come from the base itself.
_KNOWN_METHODS = ("published", "post-processed", "tied")


class BaseState(Enum):
    """What is known of the base of checkpoints."""

    APART = "apart"
    SHARED = "shared"
    TIED = "tied"
    UNKNOWN = "unknown"


def judge_base(table: PointTable, evidence: Evidence) -> tuple[BaseState, str]:
    """Return what is known of the base of a table, and a sentence that says it.

    A base that both share is no fault where its coordinates came from elsewhere: what is wrong with
    them then shows nowhere in the job, but is not of the job's making.
    """
    declared = table.declared.get("base")
    name = "" if declared is None else str(declared.value).strip()
    if not name:
        told = (
            f"Nobody said from which base {table.path} was surveyed: if from that of the flight, "
            "its points show no error of the base."
        )
        return BaseState.UNKNOWN, told
    stood = {
        str(card.values[field].value).strip(): card
        for card in evidence.flights
        for field in (_MARK, _SERVICE)
        if field in card.values
    }
    start = f"{table.path} was surveyed from {name}"
    if not stood:
        told = f"{start}, and no card of a flight says by which base it was corrected."
        return BaseState.UNKNOWN, told
    same = next((base for base in stood if base.casefold() == name.casefold()), None)
    if same is None:
        return BaseState.APART, f"{start}, the flight corrected by {', '.join(stood)}."
    return _judge_shared(table, same, stood[same])


def _judge_shared(table: PointTable, base: str, card: Card) -> tuple[BaseState, str]:
    """Return what a base proves that table and flight share."""
    both = f"{table.path} and {card.id}"
    if _SERVICE in card.values and str(card.values[_SERVICE].value).strip() == base:
        told = f"{both} were corrected by one service, {base}: an error in its frame moves both."
        return BaseState.TIED, told
    method = card.values.get(_METHOD)
    if method is not None and method.value in _KNOWN_METHODS and method.can_prove:
        told = (
            f"{both} share the base {base}, whose coordinates are {method.value}: an error in "
            "those moves both alike."
        )
        return BaseState.TIED, told
    how = "nobody tied to a known mark"
    if method is not None and method.value == "averaged":
        how = "it averaged by itself"
    told = (
        f"{both} share the base {base}, whose coordinates {how}: the points prove relative "
        "accuracy and no absolute one."
    )
    return BaseState.SHARED, told
