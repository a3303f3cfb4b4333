"""The tally of a file that a check cannot judge; `finish` says why."""

from __future__ import annotations

from ledger.contract.check import PointChunk


class IdleTally:
    """Passes over points and keeps nothing."""

    def chunk(self, points: PointChunk) -> None:
        """Pass over some points."""

    def merge(self, other: IdleTally) -> None:
        """Take nothing in."""

    def close(self) -> None:
        """Return nothing."""
