"""The capture was running from take-off to landing.

A capture that ends before the flight was cut off: power lost, card full, stop not confirmed. One
that begins late may have been started late on purpose, which somebody can accept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.process import Card
from lidar_checks.flight.flight_check import FlightCheck
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.spans import read_capture, read_flight

_SOURCE = "common practice, no source"
_KEYS = (
    "flight.capture_started",
    "flight.capture_ended",
    "flight.takeoff",
    "flight.landing",
)


class CaptureLengthCriteria(Criteria):
    """By how much a capture may be shorter than its flight."""

    tell_s: float = Field(default=10.0, ge=0, description=_SOURCE)
    max_s: float = Field(default=60.0, ge=0, description=_SOURCE)


class CaptureLength(FlightCheck):
    """Holds begin and end of each capture against take-off and landing."""

    id = "capture-length"
    title = "The capture ran from take-off to landing"
    catalogue = ("RC-01",)
    criteria = CaptureLengthCriteria
    fields = _KEYS

    def judge(
        self,
        card: Card,
        plan: Plan,
        evidence: Evidence,  # noqa: ARG002 - as the base has it
    ) -> Iterator[Finding]:
        """Compare begin and end of capture and flight."""
        yield self._judge(card, require_criteria(plan, CaptureLengthCriteria))

    def _judge(self, card: Card, criteria: CaptureLengthCriteria) -> Finding:
        flight, capture = read_flight(card), read_capture(card)
        if flight is None or capture is None:
            missing = [key for key in _KEYS if key not in card.values] or list(_KEYS)
            return self.not_assessed(
                card.id,
                f"Whether the capture of {card.id} ran to the end cannot be told: begin and end of "
                "capture and flight are not all on record, in this order.",
                needs=missing,
                remedy=_tell_what_to_type(card, missing),
            )
        late = max(0.0, (capture.begin - flight.begin).total_seconds())
        early = max(0.0, (flight.end - capture.end).total_seconds())
        lacking = late + early
        parts: dict[str, Any] = {
            "observed": f"{lacking:.0f}",
            "required": f"{criteria.tell_s:g}",
            "unit": "s",
            "criterion_source": _SOURCE,
        }
        if lacking > criteria.tell_s:
            grade, limit = Grade.OBSERVATION, criteria.tell_s
            if lacking > criteria.max_s:
                grade = Grade.MAJOR if early > criteria.max_s else Grade.MINOR
                limit = criteria.max_s
            return self.nonconforming(
                grade,
                card.id,
                f"The capture of {card.id} lacks {lacking:.0f} s of the flight (limit {limit:g} s):"
                f" it began {late:.0f} s after take-off and ended {early:.0f} s before landing. "
                "What was flown then has no raw data.",
                remedy="See whether a part is still on the card; if not, leave out or fly again "
                "the lines of that time",
                **{**parts, "required": f"{limit:g}"},
            )
        doubtful = [key for key in _KEYS if not card.values[key].can_prove]
        if doubtful:
            return self.inconclusive(
                card.id,
                f"The capture of {card.id} covers the flight, but nobody confirmed "
                f"{', '.join(doubtful)}.",
                remedy=_tell_what_to_type(card, doubtful),
                **parts,
            )
        return self.conforms(
            card.id, f"The capture of {card.id} lacks {lacking:.0f} s of the flight.", **parts
        )


def _tell_what_to_type(card: Card, keys: Iterable[str]) -> str:
    values = " ".join(f'--set {key.partition(".")[2]}="…"' for key in keys)
    return f"Look them up in the capture (swathbook record flight {card.id} {values})"
