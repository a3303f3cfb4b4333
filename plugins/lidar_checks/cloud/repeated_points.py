"""Points that repeat another exactly, in bounded memory.

Each point becomes one 64-bit number from X, Y, Z and the bits of its GPS time; equal points have
equal numbers. In a large delivery only the numbers whose lowest bits are zero are kept, so that of
every set of equal points either all are kept or none, whatever the order, the tile or the slice:
the share among those kept is an unbiased estimate. Two different points share a number with a
chance of one in 2^64 (finish of splitmix64: Steele, Lea, Flood 2014).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass

KEPT = 2_000_000
"""Numbers kept at once; up to so many points the answer is exact."""

_FACTORS = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93)
_STEPS = ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB))
_LAST = 31
# Points numbered at once, so that what is in between stays in the cache.
_BLOCK = 1 << 15
# 95 % of a Poisson number lie within so many times its root; where none is seen, it is below 3.
_SPREAD, _NONE_SEEN = 1.96, 3.0

UInt64Array = NDArray[np.uint64]


@dataclass(frozen=True)
class RepeatSummary:
    """What is left of a file.

    Args:
        points: points read.
        timed: whether any GPS time differs from another.
        bits: lowest bits that are zero in every number kept.
        numbers: numbers of the points kept, sorted, uint64, (n,).
    """

    points: int
    timed: bool
    bits: int
    numbers: UInt64Array


class RepeatTally:
    """Numbers of the points of one file."""

    def __init__(self, bits: int) -> None:
        """Keep only numbers whose lowest `bits` bits are zero."""
        self.points, self.bits = 0, bits
        self.parts: list[UInt64Array] = []
        self.kept = 0
        self.times: tuple[float, float] | None = None

    def chunk(self, points: PointChunk) -> None:
        """Number some points."""
        if not len(points):
            return
        self.points += len(points)
        if "gps_time" in points.names and not self._is_timed():
            time = points["gps_time"]
            self._widen(float(np.fmin.reduce(time)), float(np.fmax.reduce(time)))
        self._keep(number_points(points, self.bits))

    def merge(self, other: RepeatTally) -> None:
        """Take in the numbers of another part of the same file."""
        self.points += other.points
        if other.times is not None:
            self._widen(*other.times)
        while self.bits < other.bits:
            self._raise()
        for part in other.parts:
            self._keep(choose(part, self.bits))

    def close(self) -> RepeatSummary:
        """Return the numbers in order."""
        while self.kept > KEPT:
            self._raise()
        numbers = sort_numbers(np.concatenate([np.empty(0, dtype=np.uint64), *self.parts]))
        return RepeatSummary(self.points, self._is_timed(), self.bits, numbers)

    def _is_timed(self) -> bool:
        return self.times is not None and self.times[0] < self.times[1]

    def _widen(self, low: float, high: float) -> None:
        held = self.times
        self.times = (low, high) if held is None else (min(low, held[0]), max(high, held[1]))

    def _keep(self, numbers: UInt64Array) -> None:
        self.parts.append(numbers)
        self.kept += len(numbers)
        while self.kept > 2 * KEPT:
            self._raise()

    def _raise(self) -> None:
        self.bits += 1
        self.parts = [choose(np.concatenate(self.parts), self.bits)]
        self.kept = len(self.parts[0])


def number_points(points: PointChunk, bits: int) -> UInt64Array:
    """Return the numbers of the points whose lowest `bits` bits are zero, uint64, (m,)."""
    words: list[NDArray[np.int64]] = [points.x, points.y, points.z]
    if "gps_time" in points.names:
        words.append(points["gps_time"].astype(np.float64, copy=False).view(np.int64))
    parts = []
    room, spare = np.empty((2, min(_BLOCK, len(points))), dtype=np.uint64)
    for low in range(0, len(points), _BLOCK):
        block = [word[low : low + _BLOCK] for word in words]
        count = len(block[0])
        _number_block(block, room[:count], spare[:count])
        parts.append(choose(room[:count], bits) if bits else room[:count].copy())
    return np.concatenate(parts)


def _number_block(words: list[NDArray[np.int64]], total: UInt64Array, spare: UInt64Array) -> None:
    """Write the numbers of some points in place."""
    np.multiply(words[0].view(np.uint64), np.uint64(_FACTORS[0]), out=total)
    for word, factor in zip(words[1:], _FACTORS[1:], strict=False):
        total += np.multiply(word.view(np.uint64), np.uint64(factor), out=spare)
    for shift, factor in _STEPS:
        total ^= np.right_shift(total, np.uint64(shift), out=spare)
        total *= np.uint64(factor)
    total ^= np.right_shift(total, np.uint64(_LAST), out=spare)


def choose(numbers: UInt64Array, bits: int) -> UInt64Array:
    """Return the numbers whose lowest `bits` bits are zero."""
    if not bits:
        return numbers
    chosen = np.flatnonzero(np.equal(numbers & np.uint64((1 << bits) - 1), 0))
    return numbers.take(chosen)


def sort_numbers(numbers: UInt64Array) -> UInt64Array:
    """Return well mixed numbers in order.

    By the upper half first, a quarter at a time, which takes no comparison; hardly any number is
    then out of its place (measured: a third to all of the time of sorting outright).
    """
    for shift in (32, 48):
        part = (numbers >> np.uint64(shift)).astype(np.uint16)
        numbers = numbers.take(np.argsort(part, kind="stable"))
    return np.sort(numbers, kind="stable")


def choose_bits(points: int) -> int:
    """Return how many low bits have to be zero so that so many points leave no more than `KEPT`."""
    return max(0, math.ceil(math.log2(points / KEPT))) if points else 0


@dataclass(frozen=True)
class Repeats:
    """How many points repeat another.

    Args:
        points: points of the delivery.
        count: points that repeat an earlier one; an estimate unless `bits` is 0.
        low: it is at least so many, with 95 % certainty.
        high: and at most so many.
        bits: lowest bits that are zero in the numbers compared.
        fullest: file with most of them; empty where there are none.
        across: the share of them that repeats a point of another file.
    """

    points: int
    count: int
    low: float
    high: float
    bits: int
    fullest: str
    across: float


def count_repeats(
    summaries: Mapping[str, RepeatSummary],
    agreed: Collection[tuple[str, str]] = (),
) -> Repeats:
    """Compare the points of all files with each other.

    Args:
        summaries: of all files, by path.
        agreed: pairs of paths, in order, that may hold points of each other.
    """
    paths = sorted(summaries)
    bits = max(summaries[path].bits for path in paths)
    parts = [choose(summaries[path].numbers, bits) for path in paths]
    numbers, files = _find_repeated(parts)
    again = np.flatnonzero(numbers[1:] == numbers[:-1]) + 1
    again = again[~_is_agreed(files[again - 1], files[again], paths, agreed)]
    points = sum(summaries[path].points for path in paths)
    if not len(again):
        return Repeats(points, 0, 0.0, _NONE_SEEN * 2**bits if bits else 0.0, bits, "", 0.0)
    # How often each repeated number comes more than once, for the spread of the estimate.
    sizes = np.diff(np.flatnonzero(np.diff(again, prepend=-1) != 1), append=len(again))
    spread = _SPREAD * math.sqrt(float((sizes.astype(np.float64) ** 2).sum())) if bits else 0.0
    seen, factor = len(again), 2**bits
    fullest = paths[int(np.bincount(files[again], minlength=len(paths)).argmax())]
    across = float(np.mean(files[again] != files[again - 1]))
    return Repeats(
        points=points,
        count=seen * factor,
        low=max(float(seen), (seen - spread) * factor),
        high=(seen + spread) * factor,
        bits=bits,
        fullest=fullest,
        across=across,
    )


def _is_agreed(
    first: NDArray[np.int32],
    second: NDArray[np.int32],
    paths: Sequence[str],
    agreed: Collection[tuple[str, str]],
) -> NDArray[np.bool_]:
    """Say of repeated points whether the two files may hold points of each other."""
    place = {path: number for number, path in enumerate(paths)}
    keys = [
        place[one] * len(paths) + place[other]
        for one, other in agreed
        if one in place and other in place
    ]
    return np.isin(first.astype(np.int64) * len(paths) + second, keys)


def _find_repeated(parts: list[UInt64Array]) -> tuple[UInt64Array, NDArray[np.int32]]:
    """Return the numbers that come more than once, in order, and the places of their files."""
    # Each part is in order, which this way of sorting makes use of.
    every = np.sort(np.concatenate(parts), kind="stable")
    repeated = np.unique(every[1:][every[1:] == every[:-1]])
    if not len(repeated):
        return repeated, np.empty(0, dtype=np.int32)
    held = [part[_is_among(part, repeated)] for part in parts]
    numbers = np.concatenate(held)
    files = np.repeat(np.arange(len(parts), dtype=np.int32), [len(each) for each in held])
    order = np.argsort(numbers, kind="stable")
    return numbers[order], files[order]


def _is_among(numbers: UInt64Array, wanted: UInt64Array) -> NDArray[np.bool_]:
    place = np.minimum(np.searchsorted(wanted, numbers), len(wanted) - 1)
    return np.asarray(wanted[place] == numbers)
