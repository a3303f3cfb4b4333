"""Coordinates as whole numbers on one lattice, exactly.

A stored coordinate is an integer times a scale plus an offset. Scale and offset are taken as the
decimal numbers their writer meant, which is what their shortest round-trip text shows; from there
on the arithmetic is rational and rounding is half to even. No platform, chunk size or order of
points can change a digit.

Invariant: for every int32 `to_lattice` returns the whole number that `Fraction` arithmetic would.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ledger.errors import MalformedFileError
from ledger.model.chunk import Int64Array, Lattice
from ledger.model.header import LasHeader

# A tenth of a millimetre, or a tenth of a thousandth of a foot; for degrees 1e-9 is about as fine.
LENGTH_STEPS = 10_000
DEGREE_STEPS = 1_000_000_000

LENGTH_LATTICE = Lattice(LENGTH_STEPS, LENGTH_STEPS)
DEGREE_LATTICE = Lattice(DEGREE_STEPS, LENGTH_STEPS)

_FINEST_LENGTH_SCALE = 1e-6
_INT32_REACH = 1 << 31
# Half of int64: room for the one addition and for the rounding that follow a bound check.
_ROOM = 1 << 62
# Fractions closer to a half than this are settled by exact arithmetic; the float error of a product
# below 2^31 is under 1e-6.
_DOUBT = 1e-5


def choose_lattice(header: LasHeader) -> Lattice:
    """Return the lattice of one file's point fingerprint.

    It is chosen from numbers alone, so that relabelling the CRS or the unit leaves it as it was:
    degrees are assumed where X and Y have a scale of 1e-6 or finer and the box lies within ±360,
    ±90.
    """
    box = header.minimum + header.maximum
    if not all(math.isfinite(value) for value in box):
        return LENGTH_LATTICE
    fine = all(0 < scale <= _FINEST_LENGTH_SCALE for scale in header.scale[:2])
    inside = all(
        -limit <= low and high <= limit
        for low, high, limit in zip(header.minimum, header.maximum, (360.0, 90.0), strict=False)
    )
    return DEGREE_LATTICE if fine and inside else LENGTH_LATTICE


def choose_common_lattice(headers: Iterable[LasHeader]) -> Lattice:
    """Return the lattice of a whole audit.

    The degree lattice only where every file with points is in degrees: on it, squares of distances
    in metres would pass the range of int64.
    """
    chosen = {choose_lattice(header) for header in headers if header.point_count > 0}
    return DEGREE_LATTICE if chosen == {DEGREE_LATTICE} else LENGTH_LATTICE


def to_lattice(
    stored: NDArray[np.int32], scale: float, offset: float, steps: int
) -> tuple[Int64Array, bool]:
    """Return stored coordinates as whole lattice steps.

    Args:
        stored: raw X, Y or Z of the records, int32, (n,).
        scale: its scale in the header.
        offset: its offset in the header.
        steps: lattice steps in one unit.

    Returns:
        Lattice steps, int64, (n,), and whether any of them had to be rounded.

    Raises:
        MalformedFileError: scale or offset is no finite number, the scale is zero, the coordinates
            pass the range of the lattice, or the scale is so small that all would be the same.
    """
    step, start = _read_rule(scale, offset, steps)
    if step.denominator == 1:
        return _shift(stored, step.numerator, start)
    shared = math.lcm(step.denominator, start.denominator)
    slope, base = int(step * shared), int(start * shared)
    if abs(slope) * _INT32_REACH + abs(base) < _ROOM and shared < _ROOM:
        return _divide(_multiply_add(stored, slope, base), shared)
    return _round_split(stored, step, start)


def require_computable(scale: float, offset: float, steps: int) -> None:
    """Refuse a scale and an offset with which not every stored coordinate can be computed.

    Args:
        scale: scale of one axis in the header.
        offset: its offset in the header.
        steps: lattice steps in one unit.

    Raises:
        MalformedFileError: see `to_lattice`.
    """
    _read_rule(scale, offset, steps)


@lru_cache(maxsize=64)
def _read_rule(scale: float, offset: float, steps: int) -> tuple[Fraction, Fraction]:
    """Return steps per stored unit and steps at stored zero, as exact decimals."""
    if not (math.isfinite(scale) and math.isfinite(offset) and scale != 0):
        raise MalformedFileError(
            "coordinates cannot be computed",
            found=f"scale {scale!r}, offset {offset!r}",
            expected="finite numbers, and a scale other than 0",
        )
    step = Fraction(repr(float(scale))) * steps
    start = Fraction(repr(float(offset))) * steps
    if abs(step) * _INT32_REACH + abs(start) >= _ROOM:
        raise MalformedFileError(
            "coordinates pass the range that can be computed with",
            found=f"scale {scale!r}, offset {offset!r}",
            expected=f"magnitudes below {_ROOM / steps:.0e} units",
        )
    if abs(step) * 2 * _INT32_REACH < 1:
        raise MalformedFileError(
            "coordinates would all be the same",
            found=f"scale {scale!r}",
            expected=f"{1 / (2 * _INT32_REACH * steps):.0e} or more",
        )
    return step, start


def _multiply_add(stored: NDArray[np.int32], slope: int, base: int) -> Int64Array:
    lattice = np.multiply(stored, np.int64(slope), dtype=np.int64)
    lattice += np.int64(base)
    return lattice


def _shift(stored: NDArray[np.int32], slope: int, start: Fraction) -> tuple[Int64Array, bool]:
    """Return `stored * slope + start`: the fraction of `start` is the same for all points."""
    whole = math.floor(start)
    rest = start - whole
    if rest == 0:
        return _multiply_add(stored, slope, whole), False
    lattice = _multiply_add(stored, slope, whole + (rest > Fraction(1, 2)))
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
