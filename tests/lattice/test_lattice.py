"""Whole lattice steps equal exact rational arithmetic, for every scale, offset and integer.

Held against Python's own `Fraction`, whose `round` is half to even.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import MalformedFileError
from ledger.lasheader import read_las_header
from ledger.lattice import (
    DEGREE_LATTICE,
    LENGTH_LATTICE,
    choose_common_lattice,
    choose_lattice,
)
from ledger.latticepoints import to_lattice
from ledger.model.header import LasHeader

INT32 = st.integers(-(2**31), 2**31 - 1)
USUAL_SCALES = (0.01, 0.001, 0.0001, 0.00025, 1e-5, 5e-5, 1e-7, 1.0, 0.3048, -0.001)
# Met in real files, or with a denominator that passes int64.
ODD_SCALES = (1.16451354e-06, 0.0010000000000000002, 1.0000000000000006e-05, 1 / 3, 3.28083333333)
SCALES = st.sampled_from(USUAL_SCALES + ODD_SCALES) | st.floats(1e-9, 100.0, allow_nan=False)
OFFSETS = st.sampled_from([0.0, 500_000.0, -80.0, 0.12345, 0.00005, 2 / 7]) | st.floats(
    -1e7, 1e7, allow_nan=False
)


def compute_exactly(stored: int, scale: float, offset: float, steps: int) -> Fraction:
    """Return lattice steps as a fraction, scale and offset by their shortest decimals."""
    return (stored * Fraction(repr(scale)) + Fraction(repr(offset))) * steps


@given(stored=st.lists(INT32, min_size=1, max_size=20), scale=SCALES, offset=OFFSETS)
def test_lattice_steps_equal_exact_arithmetic(
    stored: list[int], scale: float, offset: float
) -> None:
    """Each step is the exact value, half to even, and rounding is told when it took place."""
    steps, rounded = to_lattice(np.array(stored, np.int32), scale, offset, 10_000)
    exact = [compute_exactly(value, scale, offset, 10_000) for value in stored]
    assert steps.tolist() == [round(value) for value in exact]
    assert rounded == any(value.denominator != 1 for value in exact)


@pytest.mark.parametrize(
    ("stored", "scale", "offset", "expected"),
    [
        ([1, 3, 5, -1, -3], 0.00005, 0.0, [0, 2, 2, 0, -2]),
        ([0, 1, 2], 0.0001, 0.00005, [0, 2, 2]),
        ([1, 2, 3], 0.00025, 0.0, [2, 5, 8]),
    ],
)
def test_halves_go_to_the_even_step(
    stored: list[int], scale: float, offset: float, expected: list[int]
) -> None:
    """A coordinate midway between two steps takes the even one, on every path of the arithmetic."""
    steps, rounded = to_lattice(np.array(stored, np.int32), scale, offset, 10_000)
    assert steps.tolist() == expected
    assert rounded


def test_millimetres_are_exact() -> None:
    """The usual scale of a millimetre needs no rounding at all."""
    steps, rounded = to_lattice(np.array([123, -7], np.int32), 0.001, 4_000_000.0, 10_000)
    assert steps.tolist() == [40_000_001_230, 39_999_999_930]
    assert not rounded


def test_the_step_of_a_damaged_looking_scale_is_settled_exactly() -> None:
    """A scale with sixteen digits passes int64 and still gives the exact steps."""
    stored = np.array([2**31 - 1, -(2**31), 0, 1, 499_999_999], np.int32)
    steps, _ = to_lattice(stored, 0.0010000000000000002, 0.5, 10_000)
    exact = [compute_exactly(int(v), 0.0010000000000000002, 0.5, 10_000) for v in stored]
    assert steps.tolist() == [round(value) for value in exact]


def test_what_lies_next_to_a_half_is_settled_exactly() -> None:
    """A fraction that float arithmetic would call a half goes the way it really leans."""
    stored = np.array([1, 3, -1, -3, 4], np.int32)
    for scale in (0.00005000000000000001, 0.000049999999999999996):
        steps, rounded = to_lattice(stored, scale, 0.0, 10_000)
        exact = [compute_exactly(int(value), scale, 0.0, 10_000) for value in stored]
        assert steps.tolist() == [round(value) for value in exact]
        assert rounded


@pytest.mark.parametrize(
    ("scale", "offset"),
    [(0.0, 0.0), (math.nan, 0.0), (math.inf, 0.0), (0.001, math.nan), (0.001, -math.inf)],
)
def test_what_is_no_number_cannot_be_computed(scale: float, offset: float) -> None:
    """A scale of zero and anything infinite or undefined is refused."""
    with pytest.raises(MalformedFileError, match="coordinates cannot be computed"):
        to_lattice(np.array([1], np.int32), scale, offset, 10_000)


@pytest.mark.parametrize(("scale", "offset"), [(1e300, 0.0), (0.001, 1e300), (1e6, 0.0)])
def test_an_overflow_is_refused_and_never_wraps(scale: float, offset: float) -> None:
    """Coordinates beyond the range of whole numbers are an error, not other coordinates."""
    with pytest.raises(MalformedFileError, match="pass the range"):
        to_lattice(np.array([1], np.int32), scale, offset, 10_000)


@pytest.mark.parametrize(("scale", "offset"), [(5e-324, 0.0), (1e-300, 552_000.0), (2e-14, 0.0)])
def test_a_scale_next_to_nothing_is_refused(scale: float, offset: float) -> None:
    """Where the largest step between two stored numbers is no lattice step, nothing is measured.

    Stored numbers are 2^32 apart at most, and a lattice step is 1e-4: 1e-4 / 2^32 is 2.3e-14.
    """
    told = f"would all be the same: found scale {scale!r}, expected 2e-14 or more"
    with pytest.raises(MalformedFileError, match=re.escape(told)):
        to_lattice(np.array([1], np.int32), scale, offset, 10_000)


@pytest.mark.parametrize("offset", [0.0, 0.00005, 500_000.0])
def test_the_smallest_scale_is_computed_exactly(offset: float) -> None:
    """Just above that bound the steps are still those of exact arithmetic."""
    stored = [-(2**31), -1, 0, 1, 2**31 - 1]
    for scale in (3e-14, 2.5000000000000003e-14, 1 / 3 * 1e-13):
        steps, _ = to_lattice(np.array(stored, np.int32), scale, offset, 10_000)
        exact = [round(compute_exactly(value, scale, offset, 10_000)) for value in stored]
        assert steps.tolist() == exact


@pytest.fixture
def header() -> LasHeader:
    """Return a header in degrees, written with ten millionths of one."""
    real = Path(__file__).parents[1] / "real" / "test_epsg_4326_axis.las"
    return replace(
        read_las_header(real),
        scale=(1e-7, 1e-7, 0.01),
        minimum=(-83.5, 39.0, 0.0),
        maximum=(-83.4, 39.1, 9.0),
    )


def test_degrees_are_known_by_scale_and_box(header: LasHeader) -> None:
    """The degree lattice needs a fine scale in X and Y and a box within ±360, ±90."""
    assert choose_lattice(header) == DEGREE_LATTICE
    changes: tuple[dict[str, Any], ...] = (
        {"scale": (1e-5, 1e-7, 0.01)},
        {"scale": (1e-7, 1e-5, 0.01)},
        {"maximum": (-83.4, 4_000_000.0, 9.0)},
        {"minimum": (math.nan, 39.0, 0.0)},
    )
    for change in changes:
        assert choose_lattice(replace(header, **change)) == LENGTH_LATTICE


def test_the_common_lattice_is_that_of_lengths_unless_all_are_degrees(header: LasHeader) -> None:
    """One file in metres puts a whole audit on the lattice of lengths; empty files do not count."""
    metres = replace(header, scale=(0.001, 0.001, 0.001))
    empty = replace(metres, point_count=0)
    assert choose_common_lattice([header, header, empty]) == DEGREE_LATTICE
    assert choose_common_lattice([header, metres]) == LENGTH_LATTICE
    assert choose_common_lattice([]) == LENGTH_LATTICE
