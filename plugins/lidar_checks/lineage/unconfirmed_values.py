"""Values behind the delivery that nobody read, measured or typed for this job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.fields import FIELDS
from ledger.model.ids import KINDS
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Card, Process
from lidar_checks.settings.remedies import tell_to_name_flight, write_command


class UnconfirmedValues(Check):
    """Lists, for each record, what was assumed, or carried from another job and not confirmed."""

    id = "unconfirmed-values"
    title = "Recorded values were read, measured or confirmed"
    catalogue = ("RH-03",)
    revision = 2

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every run, step, flight and rig behind the delivery."""
        records: list[tuple[str, Process | Card]] = [
            *((f"{process.kind} {process.id}", process) for process in evidence.processes),
            *((f"flight {card.id}", card) for card in evidence.flights),
            *((f"rig {card.id}", card) for card in evidence.rigs),
        ]
        if not records:
            yield self.not_assessed(
                WHOLE_DELIVERY, "No record stands behind any of the files.", needs=("records",)
            )
        for name, record in records:
            yield self._judge(record, name)

    def _judge(self, record: Process | Card, name: str) -> Finding:
        subject, values = record.id, {**record.values, **_list_assumed_inputs(record)}
        doubtful = {key: value for key, value in values.items() if not value.can_prove}
        if not doubtful:
            return self.conforms(subject, f"Nothing in {name} was assumed or left unconfirmed.")
        listed = ", ".join(f"{key} ({value.known_by})" for key, value in sorted(doubtful.items()))
        subjects = count_things(len(doubtful), "value")
        return self.nonconforming(
            Grade.OBSERVATION,
            subject,
            f"In {name}, nobody has confirmed {subjects}: {listed}. No check can pass on them.",
            observed=str(len(doubtful)),
            required="0",
            criterion_source="common practice, no source",
            remedy=_tell_what_to_type(record, doubtful),
        )


def _tell_what_to_type(record: Process | Card, doubtful: Mapping[str, KnownValue]) -> str:
    keys = sorted(key for key in doubtful if key in FIELDS)
    if not keys and isinstance(record, Process):
        return tell_to_name_flight(record)
    kind = record.kind if isinstance(record, Process) else KINDS[record.id[0]]
    return f"Look each one up and enter it ({write_command(record.id, kind, keys)})"


def _list_assumed_inputs(record: Process | Card) -> dict[str, KnownValue]:
    """Return the flights that nobody named as what a run used."""
    if isinstance(record, Card):
        return {}
    return {
        f"input {item.flight}": KnownValue(item.flight, known_by=KnownBy.ASSUMED, confirmed=False)
        for item in record.inputs
        if item.assumed
    }
