"""A sample of pulses that two processings of one capture share: the same GPS time and return.

The sample is chosen by the content of a point: whoever has the pulse has it in the sample too, in
whatever order and tile it comes. It is halved whenever it grows too large, on each side by itself,
and both are brought to the smaller share before pairs are made. A pulse that one side holds twice
(another beam at the same instant) makes no pair.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.fingerprint import make_constant, mix
from ledger.model.chunk import Int64Array, PointChunk
from ledger.pointwords import Uint64Array

MOST_PULSES = 1 << 18
_KEYS = {"gps_time": "<u8", "return_number": "u1", "scanner_channel": "u1"}


class PulseSample:
    """The pulses kept so far."""

    def __init__(self, most: int = MOST_PULSES) -> None:
        """Start with none; `most` are kept."""
        self.most = most
        self.bits = 0
        self._kept: list[tuple[Uint64Array, Int64Array]] = []
        self._count = 0

    def add(self, chunk: PointChunk) -> None:
        """Take in some points; those without GPS time are no pulses that could be told apart."""
        if "gps_time" not in chunk.names:
            return
        self._keep(_name_pulses(chunk), np.stack([chunk.x, chunk.y, chunk.z], axis=1))
        while self._count > self.most:
            self.narrow(self.bits + 1)

    def _keep(self, names: Uint64Array, places: Int64Array) -> None:
        chosen = _is_chosen(names, self.bits)
        self._kept.append((names[chosen], places[chosen]))
        self._count += int(np.count_nonzero(chosen))

    def narrow(self, bits: int) -> None:
        """Keep those alone whose lowest bits are zero."""
        self.bits = max(self.bits, bits)
        kept, self._kept, self._count = self._kept, [], 0
        if kept:
            names = np.concatenate([each for each, _ in kept])
            self._keep(names, np.concatenate([each for _, each in kept]))

    def list_single(self) -> tuple[Uint64Array, Int64Array]:
        """Return names in order and places, (n,) and (n, 3), of pulses that occur once."""
        if not self._kept:
            return np.empty(0, np.uint64), np.empty((0, 3), np.int64)
        names = np.concatenate([each for each, _ in self._kept])
        places = np.concatenate([each for _, each in self._kept])
        order = np.argsort(names, kind="stable")
        names, places = names[order], places[order]
        alike = names[1:] == names[:-1]
        single = np.ones(len(names), np.bool_)
        single[1:] &= ~alike
        single[:-1] &= ~alike
        return names[single], places[single]


def pair_pulses(first: PulseSample, second: PulseSample) -> Int64Array:
    """Return the differences of places of pulses in both samples, lattice steps, int64, (n, 3)."""
    bits = max(first.bits, second.bits)
    first.narrow(bits)
    second.narrow(bits)
    (one, here), (two, there) = first.list_single(), second.list_single()
    _, mine, theirs = np.intersect1d(one, two, assume_unique=True, return_indices=True)
    apart: Int64Array = there[theirs] - here[mine]
    return apart


def _is_chosen(names: Uint64Array, bits: int) -> NDArray[np.bool_]:
    chosen: NDArray[np.bool_] = (names & np.uint64((1 << bits) - 1)) == 0
    return chosen


def _name_pulses(chunk: PointChunk) -> Uint64Array:
    """Return a number for GPS time, return and channel of each point, uint64, (n,)."""
    total = np.zeros(len(chunk), np.uint64)
    for name, kind in _KEYS.items():
        if name in chunk.names:
            bits = np.ascontiguousarray(chunk[name]).view(kind).astype(np.uint64)
            total += bits * np.uint64(make_constant(f"pulse {name}", 0))
    return mix(total)
