"""A digest of a set of points that does not depend on their order, tiling, format or compression.

Each point becomes words; the words are mixed to two 64-bit lanes; the lanes are summed modulo 2^64
beside the count (an additive multiset hash: Clarke, Devadas, van Dijk, Gassend and Suh, 2003,
without the key). Tiles add up to the whole. Three nested levels are taken from one running sum:
geometry, pulse, full. The whole method, with worked examples, is in
`docs/reference/fingerprint.md`.

It tells accidents apart. Against a forger only the SHA-256 of the bytes counts.

Invariants:

- A field that a format does not have counts as zero, and a zero adds nothing: the same points in
  another point format have the same value.
- Nothing here is a float; every sum is exact.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ledger.errors import ContractError
from ledger.model.artefact import FingerprintValue
from ledger.model.chunk import Lattice, PointChunk
from ledger.pointwords import LEVELS, Part, Uint64Array, make_words, pack

VERSION = "1"

# The full level needs every field of a point: `ledger.points.ALL_DIMENSIONS`.
DIMENSIONS = frozenset({"*"})

LANES = 2

# Temporaries of this many points stay in the processor's cache, and calls are few (measured).
BLOCK_POINTS = 32_768

_MASK = (1 << 64) - 1
_LABEL = "swathbook point fingerprint 1"

# The finish of splitmix64 (Steele, Lea and Flood, 2014): shift and fold, then multiply.
_FINISH = (
    (np.uint64(30), np.uint64(0xBF58476D1CE4E5B9)),
    (np.uint64(27), np.uint64(0x94D049BB133111EB)),
)
_LAST_SHIFT = np.uint64(31)


@lru_cache(maxsize=512)
def make_constant(name: str, lane: int) -> int:
    """Return the 64-bit constant of a word or of a lane's start.

    The first eight bytes, least first, of the SHA-256 of the label, the name and the lane; made
    odd, so that multiplying by it loses nothing.
    """
    text = f"{_LABEL}/{name}/{lane}".encode()
    return int.from_bytes(hashlib.sha256(text).digest()[:8], "little") | 1


@lru_cache(maxsize=512)
def _list_constants(name: str) -> tuple[np.uint64, ...]:
    return tuple(np.uint64(make_constant(name, lane)) for lane in range(LANES))


def make_version(lattice: Lattice) -> str:
    """Return the version tag of values on a lattice: method, steps in a unit of X and Y, of Z."""
    return f"{VERSION}/{lattice.steps_xy}/{lattice.steps_z}"


class Fingerprint:
    """The fingerprint of the points added so far."""

    def __init__(self, lattice: Lattice) -> None:
        """Start with no points.

        Args:
            lattice: lattice of the points that will be added.
        """
        self._lattice = lattice
        self._sums = {level: [0] * LANES for level in LEVELS}
        self._count = 0
        self._rounded = False
        self._complete = True

    def add(self, chunk: PointChunk) -> None:
        """Take in some points.

        Raises:
            ContractError: they lie on another lattice.
        """
        if chunk.lattice != self._lattice:
            raise ContractError("points of another lattice cannot be added to a fingerprint")
        self._count += len(chunk)
        self._rounded |= chunk.rounded
        self._complete &= chunk.is_complete or not len(chunk)
        words = [make_words(chunk, level) for level in LEVELS[: 3 if chunk.is_complete else 1]]
        scratch = _Scratch(min(BLOCK_POINTS, len(chunk)))
        for start in range(0, len(chunk), BLOCK_POINTS):
            block = slice(start, min(start + BLOCK_POINTS, len(chunk)))
            self._add_block(words, block, scratch.cut(block.stop - start))

    def _add_block(
        self, words: list[dict[str, list[Part]]], block: slice, scratch: _Scratch
    ) -> None:
        scratch.start()
        for level, added in zip(LEVELS, words, strict=False):
            for name, parts in added.items():
                word = pack(parts, block, scratch.word, scratch.spare)
                if word is not None:
                    scratch.add(name, word)
            for lane, total in enumerate(scratch.sum_finished()):
                self._sums[level][lane] = (self._sums[level][lane] + total) & _MASK

    def merge(self, other: Fingerprint) -> None:
        """Take in the points of another fingerprint on the same lattice.

        Raises:
            ContractError: it is on another lattice.
        """
        if other._lattice != self._lattice:
            raise ContractError("fingerprints on different lattices cannot be added")
        for level, sums in self._sums.items():
            for lane in range(LANES):
                sums[lane] = (sums[lane] + other._sums[level][lane]) & _MASK
        self._count += other._count
        self._rounded |= other._rounded
        self._complete &= other._complete

    def value(self) -> FingerprintValue:
        """Return the value; only the geometry when some field was not decoded."""
        return FingerprintValue(
            version=make_version(self._lattice),
            count=self._count,
            geometry=_write(self._sums["geometry"]),
            pulse=_write(self._sums["pulse"]) if self._complete else "",
            full=_write(self._sums["full"]) if self._complete else "",
            rounded=self._rounded,
        )


class _Scratch:
    """Arrays for one block of points, used again for each: new ones would leave the cache."""

    def __init__(self, points: int) -> None:
        self.word = np.empty(points, np.uint64)
        self.spare = np.empty(points, np.uint64)
        self._running = [np.empty(points, np.uint64) for _ in range(LANES)]

    def cut(self, points: int) -> _Scratch:
        """Return the same arrays, cut to a shorter block."""
        short = _Scratch(0)
        short.word, short.spare = self.word[:points], self.spare[:points]
        short._running = [running[:points] for running in self._running]
        return short

    def start(self) -> None:
        """Begin the running sums of a block."""
        starts = _list_constants("start")
        for lane, running in enumerate(self._running):
            running.fill(starts[lane])

    def add(self, name: str, word: NDArray[np.unsignedinteger]) -> None:
        """Add a word, multiplied, to the running sum of each lane."""
        spare = self.spare
        for running, constant in zip(self._running, _list_constants(name), strict=True):
            np.multiply(word, constant, out=spare)
            np.add(running, spare, out=running)

    def sum_finished(self) -> list[int]:
        """Return the sum of the finished values of each lane, modulo 2^64.

        The running sums are kept: the next level goes on from them. Without the finish the sums
        would be linear, and opposite moves of two points would cancel.
        """
        return [int(np.add.reduce(self.finish(lane))) for lane in range(LANES)]

    def finish(self, lane: int) -> Uint64Array:
        """Return the finished values of one lane, (points of the block,), in shared room."""
        mixed = self._running[lane]
        for shift, multiplier in _FINISH:
            np.right_shift(mixed, shift, out=self.spare)
            mixed = np.bitwise_xor(mixed, self.spare, out=self.word)
            np.multiply(mixed, multiplier, out=mixed)
        np.right_shift(mixed, _LAST_SHIFT, out=self.spare)
        return np.bitwise_xor(mixed, self.spare, out=self.word)


def hash_points(chunk: PointChunk) -> dict[str, Uint64Array]:
    """Return what each point adds to the first lane, by level, uint64, (n,).

    Equal points have equal values. Two that differ have equal ones once in some 2^64, so that this
    serves to find the partner of a point, and the fingerprint to say that sets are equal.

    Args:
        chunk: the points; without all their fields only the geometry is given.
    """
    levels = LEVELS[: 3 if chunk.is_complete else 1]
    words = [make_words(chunk, level) for level in levels]
    hashes = {level: np.empty(len(chunk), np.uint64) for level in levels}
    scratch = _Scratch(min(BLOCK_POINTS, len(chunk)))
    for start in range(0, len(chunk), BLOCK_POINTS):
        block = slice(start, min(start + BLOCK_POINTS, len(chunk)))
        room = scratch.cut(block.stop - start)
        room.start()
        for level, added in zip(levels, words, strict=True):
            for name, parts in added.items():
                word = pack(parts, block, room.word, room.spare)
                if word is not None:
                    room.add(name, word)
            hashes[level][block] = room.finish(0)
    return hashes


def mix(values: Uint64Array) -> Uint64Array:
    """Return numbers with the finish of the fingerprint, as a new array of the same shape."""
    mixed = values.copy()
    for shift, multiplier in _FINISH:
        mixed ^= mixed >> shift
        mixed *= multiplier
    mixed ^= mixed >> _LAST_SHIFT
    return mixed


def _write(sums: list[int]) -> str:
    return "".join(f"{lane:016x}" for lane in sums)


def combine(values: Iterable[FingerprintValue]) -> FingerprintValue:
    """Return the fingerprint of all points of several files together.

    Raises:
        ContractError: there is none, or they are of different versions or lattices.
    """
    listed = tuple(values)
    versions = {value.version for value in listed}
    if len(versions) != 1:
        raise ContractError(
            "only fingerprints of one version and lattice add up",
            found=", ".join(sorted(versions)) or "none",
        )
    is_complete = all(value.full for value in listed)
    return FingerprintValue(
        version=listed[0].version,
        count=sum(value.count for value in listed),
        geometry=_add(value.geometry for value in listed),
        pulse=_add(value.pulse for value in listed) if is_complete else "",
        full=_add(value.full for value in listed) if is_complete else "",
        rounded=any(value.rounded for value in listed),
    )


def _add(texts: Iterable[str]) -> str:
    sums = [0] * LANES
    for text in texts:
        for lane in range(LANES):
            sums[lane] = (sums[lane] + int(text[lane * 16 : lane * 16 + 16], 16)) & _MASK
    return _write(sums)
