"""The type of the base antenna is stated, and is the one on the card.

Which point of an antenna its signals seem to come from differs between types by centimetres to more
than a decimetre; a log without a type is processed with none of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ledger.contract.check import Evidence, Finding, Grade, Plan
from ledger.model.fieldlogs import BaseLog
from ledger.model.process import Card
from lidar_checks.flight.flight_check import FlightCheck, name_file, name_subject

_KEY = "flight.base_antenna"
# What converters write where nobody chose a type; common practice, no source.
_NO_TYPES = frozenset({"", "UNKNOWN", "NONE", "ANTENNATYPE", "EXTERNAL", "ANTENNA", "GENERIC"})
_RINEX = "RINEX 3.04, table A2: ANT # / TYPE, 16 characters and 4 for the radome"


class BaseAntenna(FlightCheck):
    """Reads the antenna type of every base log."""

    id = "base-antenna"
    title = "The base log states the type of its antenna"
    catalogue = ("GN-14",)
    fields = (_KEY,)

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:  # noqa: ARG002
        """Judge every base log of a flight."""
        logs = evidence.logs.list_bases(card.id)
        if not logs:
            yield self.tell_absent(card, "base-log", "base log")
        for log in logs:
            yield self._judge_log(card, log)

    def _judge_log(self, card: Card, log: BaseLog) -> Finding:
        name, subject = name_file(log), name_subject(card, log)
        stated = " ".join(log.antenna.split())
        known = card.values.get(_KEY)
        noted = "" if known is None else str(known.value).strip()
        remedy = (
            f"Read the label of the antenna, record it (swathbook record flight {card.id}), and "
            "set the type in the processing"
        )
        if _spell(stated) in _NO_TYPES:
            label = f"; the card says {noted}" if noted else ""
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{name} states no antenna type{label}: heights may be off by what lies between "
                "the reference point of the antenna and its phase centre.",
                observed=stated or "blank",
                required="a type of antenna",
                criterion_source=_RINEX,
                remedy=remedy,
            )
        if noted and not (_spell(noted) in _spell(stated) or _spell(stated[:16]) in _spell(noted)):
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{name} states the antenna {stated}, the card of {card.id} says {noted}.",
                observed=stated,
                required=noted,
                criterion_source="the card of the flight",
                remedy=remedy,
            )
        return self.conforms(subject, f"{name} states the antenna {stated}.")


def _spell(name: str) -> str:
    return re.sub(r"[^A-Z0-9]", "", name.upper())
