"""What the job holds beside its runs: base logs, tables of checkpoints, stated accuracies."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from lidar_checks.settings.operand import Operand

_VALUE = "statement.value"


def list_antenna_heights(evidence: Evidence, flight: str) -> list[tuple[str, str]]:
    """Return path and height of the antenna, metres, of each base log of a flight."""
    return [
        (raw.file.path, str(raw.file.facts["antenna_delta_m"][0]))
        for raw in evidence.job.raw
        if raw.flight == flight
        and raw.file.role == Role.BASE_LOG
        and raw.file.facts.get("antenna_delta_m")
    ]


def count_checkpoint_tables(evidence: Evidence) -> int:
    """Return how many tables of checkpoints the job knows."""
    return sum(file.role == Role.CHECKPOINTS for file in evidence.registered.values())


def find_claim(evidence: Evidence) -> Operand:
    """Return the first number about accuracy that a report of the job states."""
    for card in evidence.job.statements:
        if card.values.get(_VALUE) is not None:
            return Operand(_VALUE, card.id, card.values[_VALUE])
    return Operand(_VALUE, "job", None)
