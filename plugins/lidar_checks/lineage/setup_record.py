"""How scanner, aircraft and base stood is on record: photos, and an arm that was measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.artefact import Role
from ledger.model.phrases import count_things
from ledger.model.process import Card
from ledger.model.rig import MEASURED
from lidar_checks.flight.flight_check import FlightCheck
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.raw_files import list_raw

_SOURCE = "common practice, no source"
_PHOTOS = ("flight.photo_mount", "flight.photo_base", "flight.photo_mark")


class SetupRecordCriteria(Criteria):
    """How many photos of the set-up a flight has."""

    min_photos: int = Field(default=3, ge=0, description=_SOURCE)


class SetupRecord(FlightCheck):
    """Counts the photos of each flight and looks whether its lever arm was measured."""

    id = "setup-record"
    title = "The set-up of scanner, aircraft and base is on record"
    catalogue = ("RC-12",)
    criteria = SetupRecordCriteria
    fields = (*_PHOTOS, MEASURED)

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Count the photos, and look for the day on which the arm was measured."""
        yield self._judge(card, evidence, require_criteria(plan, SetupRecordCriteria).min_photos)

    def _judge(self, card: Card, evidence: Evidence, least: int) -> Finding:
        photos = len(_list_photos(card, evidence))
        rig = _find_rig(card, evidence)
        measured = None if rig is None else rig.values.get(MEASURED)
        lacking = []
        if photos < least:
            lacking.append(f"{count_things(photos, 'photo')} of {least}")
        if measured is None:
            lacking.append("no day on which the lever arm was measured")
        parts: dict[str, Any] = {
            "required": f"{count_things(least, 'photo')}, a lever arm measured on a known day",
            "criterion_source": _SOURCE,
        }
        if lacking:
            named = "RIG" if rig is None else rig.id
            return self.nonconforming(
                Grade.OBSERVATION,
                card.id,
                f"How {card.id} was set up is not all on record: {' and '.join(lacking)}. A "
                "dispute about it could not be answered.",
                observed="; ".join(lacking),
                remedy="Photograph mount, front and base antenna with the tape, while they stand "
                f"(swathbook register PHOTOS --flight {card.id}; swathbook record rig {named})",
                **parts,
            )
        told = f"{card.id} has {count_things(photos, 'photo')} of its set-up"
        if measured is not None and not measured.can_prove:
            return self.inconclusive(
                card.id, f"{told}; nobody confirmed when its arm was measured.", **parts
            )
        day = "" if measured is None else str(measured.value)
        return self.conforms(card.id, f"{told}; its lever arm was measured on {day}.", **parts)


def _list_photos(card: Card, evidence: Evidence) -> set[str]:
    """Return the digests of the photos of a flight: on its card, or registered with it."""
    named = {str(card.values[key].value) for key in _PHOTOS if key in card.values}
    raw = list_raw(evidence, [Role.PHOTO])
    return named | {each.file.sha256 for each in raw if each.flight == card.id}


def _find_rig(card: Card, evidence: Evidence) -> Card | None:
    named = card.values.get("flight.rig")
    wanted = "" if named is None else str(named.value)
    return next((rig for rig in evidence.rigs if wanted in (rig.id, rig.name)), None)
