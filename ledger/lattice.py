"""The lattice of a file or an audit, and the rule that puts stored coordinates on it, exactly.

A stored coordinate is an integer times a scale plus an offset. Scale and offset are taken as the
decimal numbers their writer meant, which is what their shortest round-trip text shows; from there
on the arithmetic is rational and rounding is half to even. No platform, chunk size or order of
points can change a digit. `ledger.latticepoints` computes with arrays.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache

from ledger.errors import MalformedFileError
from ledger.model.header import LasHeader
from ledger.model.lattice import Lattice

# A tenth of a millimetre, or a tenth of a thousandth of a foot; for degrees 1e-9 is about as fine.
LENGTH_STEPS = 10_000
DEGREE_STEPS = 1_000_000_000

LENGTH_LATTICE = Lattice(LENGTH_STEPS, LENGTH_STEPS)
DEGREE_LATTICE = Lattice(DEGREE_STEPS, LENGTH_STEPS)

_FINEST_LENGTH_SCALE = 1e-6
INT32_REACH = 1 << 31
# Half of int64: room for the one addition and for the rounding that follow a bound check.
ROOM = 1 << 62


def choose_lattice(header: LasHeader) -> Lattice:
    """Return the lattice of one file's point fingerprint.

    It is chosen from numbers alone, so that relabelling the CRS or the unit leaves it as it was:
    degrees are assumed where X and Y have a scale of 1e-6 or finer and the box lies within ±360,
    ±90.
    """
    x_scale, y_scale, _ = header.scale
    fine = 0 < x_scale <= _FINEST_LENGTH_SCALE and 0 < y_scale <= _FINEST_LENGTH_SCALE
    if not fine or not all(map(math.isfinite, header.minimum + header.maximum)):
        return LENGTH_LATTICE
    inside = all(
        -limit <= low and high <= limit
        for low, high, limit in zip(header.minimum, header.maximum, (360.0, 90.0), strict=False)
    )
    return DEGREE_LATTICE if inside else LENGTH_LATTICE


def choose_common_lattice(headers: Iterable[LasHeader]) -> Lattice:
    """Return the lattice of a whole audit.

    The degree lattice only where every file with points is in degrees: on it, squares of distances
    in metres would pass the range of int64.
    """
    chosen = {choose_lattice(header) for header in headers if header.point_count > 0}
    return DEGREE_LATTICE if chosen == {DEGREE_LATTICE} else LENGTH_LATTICE


def require_computable(scale: float, offset: float, steps: int) -> None:
    """Refuse a scale and an offset with which not every stored coordinate can be computed.

    Args:
        scale: scale of one axis in the header.
        offset: its offset in the header.
        steps: lattice steps in one unit.

    Raises:
        MalformedFileError: see `ledger.latticepoints.to_lattice`.
    """
    read_rule(scale, offset, steps)


@lru_cache(maxsize=64)
def read_rule(scale: float, offset: float, steps: int) -> tuple[Fraction, Fraction]:
    """Return steps per stored unit and steps at stored zero, as exact decimals.

    Raises:
        MalformedFileError: see `ledger.latticepoints.to_lattice`.
    """
    if not (math.isfinite(scale) and math.isfinite(offset) and scale != 0):
        raise MalformedFileError(
            "coordinates cannot be computed",
            found=f"scale {scale!r}, offset {offset!r}",
            expected="finite numbers, and a scale other than 0",
        )
    step = Fraction(repr(float(scale))) * steps
    start = Fraction(repr(float(offset))) * steps
    if abs(step) * INT32_REACH + abs(start) >= ROOM:
        raise MalformedFileError(
            "coordinates pass the range that can be computed with",
            found=f"scale {scale!r}, offset {offset!r}",
            expected=f"magnitudes below {ROOM / steps:.0e} units",
        )
    if abs(step) * 2 * INT32_REACH < 1:
        raise MalformedFileError(
            "coordinates would all be the same",
            found=f"scale {scale!r}",
            expected=f"{1 / (2 * INT32_REACH * steps):.0e} or more",
        )
    return step, start
