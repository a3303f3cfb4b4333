"""What the core counts of every file itself, whatever its header says."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.contract.evidence import ReadFacts
from ledger.model.chunk import Lattice, PointChunk

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
        self._low: tuple[int, ...] = ()
        self._high: tuple[int, ...] = ()
        self._lattice: Lattice | None = None

    def add(self, chunk: PointChunk) -> None:
        """Take in some points."""
        if not len(chunk):
            return
        self.decoded += len(chunk)
        self._lattice = chunk.lattice
        if RETURN_NUMBER in chunk.names:
            self._count_returns(chunk[RETURN_NUMBER])
        lows, highs = chunk.box
        self._widen(lows, highs)

    def merge(self, other: Census) -> None:
        """Take in what another census of the same file has seen."""
        self.decoded += other.decoded
        self._by_return += other._by_return
        self._lattice = self._lattice or other._lattice
        if other._low:
            self._widen(other._low, other._high)

    def _widen(self, lows: tuple[int, ...], highs: tuple[int, ...]) -> None:
        self._low = tuple(map(min, self._low or lows, lows))
        self._high = tuple(map(max, self._high or highs, highs))

    def _count_returns(self, number: NDArray[np.generic]) -> None:
        # A comparison for each of a few numbers takes less than a histogram (measured).
        for each in range(min(int(number.max()), _RETURNS - 1) + 1):
            self._by_return[each] += np.count_nonzero(number == each)

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

    def _to_units(self, steps: tuple[int, ...]) -> _Triple | None:
        if self._lattice is None:
            return None
        x, y, z = steps
        # Each is the quotient of two whole numbers, so it is the nearest float to the exact value.
        along = self._lattice.steps_xy
        return x / along, y / along, z / self._lattice.steps_z
