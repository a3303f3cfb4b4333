"""The buffer of tiles that was agreed: how far each one reaches into its neighbours.

Two tiles with a buffer each lie on each other by twice its width, and what lies there is in both.
"""

from __future__ import annotations

from ledger.contract.evidence import Evidence

BUFFER_KEY = "delivery.tile_buffer_m"


def find_buffer_m(evidence: Evidence) -> float:
    """Return the width of the agreed buffer, metres; 0 where job.toml states none."""
    return evidence.specification.delivery.tile_buffer_m or 0.0


def is_carried(evidence: Evidence) -> bool:
    """Say whether a buffer was only taken over from the last job, and so may prove nothing."""
    stated = find_buffer_m(evidence) > 0
    return stated and not evidence.specification.is_confirmed(BUFFER_KEY)
