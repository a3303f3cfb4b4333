"""Values behind the delivery that nobody read, measured or typed for this job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Card, Process


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
            yield self._judge(record.id, name, {**record.values, **_list_assumed_inputs(record)})

    def _judge(self, subject: str, name: str, values: Mapping[str, KnownValue]) -> Finding:
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
            remedy="Look each one up and enter it again",
        )


def _list_assumed_inputs(record: Process | Card) -> dict[str, KnownValue]:
    """Return the flights that nobody named as what a run used."""
    if isinstance(record, Card):
        return {}
    return {
        f"input {item.flight}": KnownValue(item.flight, known_by=KnownBy.ASSUMED, confirmed=False)
        for item in record.inputs
        if item.assumed
    }
