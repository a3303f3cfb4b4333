"""Partners counted exactly, the sample of pulses, and sums by cell, against plain counting."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.compare import partners as partners_module
from ledger.compare.celltally import MOST_CELLS, make_grid
from ledger.compare.partners import Spill, count_partners, count_shared
from ledger.compare.pulsesample import PulseSample, pair_pulses
from ledger.errors import UnwritableFileError
from ledger.lasheader import read_las_header
from ledger.lattice import LENGTH_LATTICE
from ledger.model.chunk import PointChunk
from ledger.testing import Layout, Scene, SurveyBuilder

NUMBERS = st.lists(st.integers(0, 12), max_size=60)


def make_points(times: np.ndarray, shift: tuple[int, int, int] = (0, 0, 0)) -> PointChunk:
    """Return points of these GPS times; where one lies follows from its time."""
    whole = times.astype(np.int64)
    x, y, z = (whole * factor + by for factor, by in zip((5, 7, 3), shift, strict=True))
    fields = {"gps_time": times.copy(), "return_number": np.ones(len(times), np.uint8)}
    return PointChunk(x, y, z, LENGTH_LATTICE, fields)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(NUMBERS, NUMBERS)
def test_shared_numbers_are_those_of_two_multisets(one, two):
    """`collections.Counter` of the standard library says how much two multisets share."""
    expected = (Counter(one) & Counter(two)).total()
    assert count_shared(np.array(one, np.uint64), np.array(two, np.uint64)) == expected


def test_partners_are_counted_across_files_and_slices(tmp_path):
    """Hashes over the whole range, with repetitions, in slices of any size."""
    random = np.random.default_rng(5)
    pool = random.integers(0, 2**64, 4000, np.uint64)
    sides = [random.choice(pool, size) for size in (5000, 7000)]
    with Spill(tmp_path / "a", 5000) as first, Spill(tmp_path / "b", 7000) as second:
        for spill, values, step in ((first, sides[0], 700), (second, sides[1], 1100)):
            for start in range(0, len(values), step):
                part = values[start : start + step]
                spill.add(part, part ^ np.uint64(1))
            spill.close()
        found = count_partners(first, second)
    expected = (Counter(sides[0].tolist()) & Counter(sides[1].tolist())).total()
    assert (found.places, found.points) == (expected, expected)
    assert list(tmp_path.iterdir()) == []


def test_without_room_nothing_is_begun(tmp_path, monkeypatch):
    """16 bytes a point have to be free."""
    with pytest.raises(UnwritableFileError, match="no room"):
        Spill(tmp_path / "a", 10**18)
    assert list(tmp_path.iterdir()) == []
    assert partners_module.BYTES_A_POINT == 16


def test_a_sample_holds_the_same_pulses_in_any_order():
    """Each side halves its sample by itself; what both have makes pairs, and the shift is exact."""
    first, second = PulseSample(most=500), PulseSample(most=300)
    times = np.arange(5000, dtype=np.float64)
    first.add(make_points(times))
    order = np.random.default_rng(2).permutation(5000)
    second.add(make_points(times[order], shift=(3, -2, 7)))
    apart = pair_pulses(first, second)
    assert 100 < len(apart) <= 300
    assert {tuple(row) for row in apart.tolist()} == {(3, -2, 7)}


def test_a_pulse_that_occurs_twice_makes_no_pair():
    """Two points of one instant cannot be told apart."""
    first, second = PulseSample(), PulseSample()
    first.add(make_points(np.array([1.0, 1.0, 2.0])))
    second.add(make_points(np.array([1.0, 2.0, 3.0])))
    assert len(pair_pulses(first, second)) == 1


def test_cells_grow_until_there_are_few_enough(tmp_path):
    """A box as wide as a country takes no more memory than one of a hectare."""
    survey = SurveyBuilder(tmp_path, Layout(), Scene())
    headers = [read_las_header(path) for path in survey.paths]
    small = make_grid(headers, LENGTH_LATTICE)
    assert small.step == LENGTH_LATTICE.steps_xy
    far = replace(headers[0], minimum=(0.0, 0.0, 0.0), maximum=(4e6, 4e6, 9e3))
    assert make_grid([*headers, far], LENGTH_LATTICE).size <= MOST_CELLS
