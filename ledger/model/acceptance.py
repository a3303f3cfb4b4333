"""That a finding was taken."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Acceptance:
    """A minor finding that somebody took, with a reason.

    Args:
        finding: id of the finding.
        by: function of the person.
        reason: the reason.
        entry: the entry that holds it.
        time: when it was entered, UTC; empty where that was not asked for.
    """

    finding: str
    by: str
    reason: str
    entry: int
    time: str = ""
