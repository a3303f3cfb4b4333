"""The verdict over a set of findings: the first rule of the table that holds."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from enum import StrEnum

from ledger.model.finding import Finding, Grade, Outcome


class Verdict(StrEnum):
    """What an audit says about sending."""

    DO_NOT_SEND = "do not send"
    INCOMPLETE = "incomplete"
    ACCEPTANCE_NEEDED = "send only with acceptance"
    FIT_TO_SEND = "fit to send"


EXIT_STATUS = {
    Verdict.DO_NOT_SEND: 1,
    Verdict.INCOMPLETE: 3,
    Verdict.ACCEPTANCE_NEEDED: 1,
    Verdict.FIT_TO_SEND: 0,
}

_GAPS = (Outcome.NOT_ASSESSED, Outcome.ERRORED, Outcome.INCONCLUSIVE)


def compute_verdict(
    findings: Iterable[Finding],
    required: Collection[str],
    accepted: Collection[str],
    *,
    quick: bool = False,
) -> Verdict:
    """Return the verdict.

    Args:
        findings: all findings of the audit.
        required: ids of the checks that may not be left open.
        accepted: ids of findings that somebody accepted.
        quick: points were not read, so the best verdict is *incomplete*.
    """
    listed = tuple(findings)
    if any(finding.grade is Grade.MAJOR for finding in listed):
        return Verdict.DO_NOT_SEND
    if quick or any(f.outcome in _GAPS and f.check in required for f in listed):
        return Verdict.INCOMPLETE
    if any(f.grade is Grade.MINOR and f.id not in accepted for f in listed):
        return Verdict.ACCEPTANCE_NEEDED
    return Verdict.FIT_TO_SEND
