"""What the core counts of every file itself, whatever its header says."""

from __future__ import annotations

import numpy as np

from ledger.contract.evidence import ReadFacts
from ledger.model.chunk import Int64Array, Lattice, PointChunk

RETURN_NUMBER = "return_number"

# ASPRS LAS 1.4 R15, point formats 6 to 10: four bits of return number.
_RETURNS = 16

_Triple = tuple[float, float, float]


class Census:
    """Counts the points of one file, by return, and their box.

    Attributes:
        decoded: points seen.
    """

    def __init__(self) -> None:
        """Start at nothing."""
        self.decoded = 0
        self._by_return = np.zeros(_RETURNS, dtype=np.int64)
        self._low: list[int] = []
        self._high: list[int] = []
        self._lattice: Lattice | None = None

    def add(self, chunk: PointChunk) -> None:
        """Take in some points."""
        if not len(chunk):
            return
        self.decoded += len(chunk)
        self._lattice = chunk.lattice
        if RETURN_NUMBER in chunk.names:
            counts = np.bincount(chunk[RETURN_NUMBER].astype(np.int64), minlength=_RETURNS)
            self._by_return += counts[:_RETURNS]
        axes: tuple[Int64Array, ...] = (chunk.x, chunk.y, chunk.z)
        lows = [int(axis.min()) for axis in axes]
        highs = [int(axis.max()) for axis in axes]
        self._low = [min(pair) for pair in zip(self._low or lows, lows, strict=True)]
        self._high = [max(pair) for pair in zip(self._high or highs, highs, strict=True)]

    def describe(self, fault: str = "", *, changed: bool = False) -> ReadFacts:
        """Return the counts, with the reason why reading stopped early where it did."""
        return ReadFacts(
            decoded=self.decoded,
            by_return=tuple(int(count) for count in self._by_return),
            minimum=self._to_units(self._low),
            maximum=self._to_units(self._high),
            fault=fault,
            changed=changed,
        )

    def _to_units(self, steps: list[int]) -> _Triple | None:
        if self._lattice is None:
            return None
        x, y, z = steps
        # Each is the quotient of two whole numbers, so it is the nearest float to the exact value.
        along = self._lattice.steps_xy
        return x / along, y / along, z / self._lattice.steps_z
