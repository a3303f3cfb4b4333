"""Stored coordinates as whole numbers on a lattice, exactly.

Invariant: for every int32 `to_lattice` returns the whole number that `Fraction` arithmetic would.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from ledger.lattice import INT32_REACH, ROOM, read_rule
from ledger.model.chunk import Int64Array

# Fractions closer to a half than this are settled by exact arithmetic; the float error of a product
# below 2^31 is under 1e-6.
_DOUBT = 1e-5


def to_lattice(
    stored: NDArray[np.int32],
    scale: float,
    offset: float,
    steps: int,
    room: Int64Array | None = None,
) -> tuple[Int64Array, bool]:
    """Return stored coordinates as whole lattice steps.

    Args:
        stored: raw X, Y or Z of the records, int32, (n,).
        scale: its scale in the header.
        offset: its offset in the header.
        steps: lattice steps in one unit.
        room: where to write them, int64, (n,); None for an array of their own.

    Returns:
        Lattice steps, int64, (n,), and whether any of them had to be rounded.

    Raises:
        MalformedFileError: scale or offset is no finite number, the scale is zero, the coordinates
            pass the range of the lattice, or the scale is so small that all would be the same.
    """
    step, start = read_rule(scale, offset, steps)
    if step.denominator == 1:
        return _shift(stored, step.numerator, start, room)
    shared = math.lcm(step.denominator, start.denominator)
    slope, base = int(step * shared), int(start * shared)
    if abs(slope) * INT32_REACH + abs(base) < ROOM and shared < ROOM:
        lattice, rounded = _divide(_multiply_add(stored, slope, base), shared)
    else:
        lattice, rounded = _round_split(stored, step, start)
    if room is None:
        return lattice, rounded
    room[...] = lattice
    return room, rounded


def _multiply_add(
    stored: NDArray[np.int32], slope: int, base: int, room: Int64Array | None = None
) -> Int64Array:
    lattice = np.multiply(stored, np.int64(slope), out=room, dtype=np.int64)
    lattice += np.int64(base)
    return lattice


def _shift(
    stored: NDArray[np.int32], slope: int, start: Fraction, room: Int64Array | None
) -> tuple[Int64Array, bool]:
    """Return `stored * slope + start`: the fraction of `start` is the same for all points."""
    whole = math.floor(start)
    rest = start - whole
    if rest == 0:
        return _multiply_add(stored, slope, whole, room), False
    lattice = _multiply_add(stored, slope, whole + (rest > Fraction(1, 2)), room)
    if rest == Fraction(1, 2):
        lattice += lattice & 1
    return lattice, bool(len(lattice))


def _divide(dividend: Int64Array, divisor: int) -> tuple[Int64Array, bool]:
    """Return whole quotients, half to even, and whether any division left a rest."""
    quotient = dividend // divisor
    twice_rest = 2 * (dividend - quotient * divisor)
    up = (twice_rest > divisor) | ((twice_rest == divisor) & ((quotient & 1) == 1))
    quotient += up
    return quotient, bool(twice_rest.any())


def _round_split(
    stored: NDArray[np.int32], step: Fraction, start: Fraction
) -> tuple[Int64Array, bool]:
    """Return the same where the exact products pass int64: whole part exact, rest in float64.

    The rest stays below 2^31, so its float error is far below `_DOUBT`; what lies that close to a
    half is settled exactly, point by point.
    """
    whole_step, whole_start = math.floor(step), math.floor(start)
    lattice = _multiply_add(stored, whole_step, whole_start)
    rest = stored * float(step - whole_step) + float(start - whole_start)
    lattice += np.rint(rest).astype(np.int64)
    doubtful = np.flatnonzero(np.abs(rest - np.floor(rest) - 0.5) < _DOUBT)
    for index in doubtful:
        lattice[index] = round(int(stored[index]) * step + start)
    return lattice, any((int(value) * step + start).denominator != 1 for value in stored)
