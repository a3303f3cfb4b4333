"""The order of keys and the ranks of values, held against numpy's own."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lidar_checks.swath.key_order import number_values, order_keys

KEYS = st.lists(st.integers(0, 5) | st.integers(0, 1 << 17) | st.integers(0, (1 << 62) - 1))
VALUES = st.lists(st.integers(-5, 5) | st.integers(-(1 << 40), 1 << 40), min_size=1)


@given(KEYS)
def test_the_order_is_that_of_a_stable_sort(keys: list[int]) -> None:
    """Any keys come in the order that numpy's stable sort finds."""
    array = np.array(keys, dtype=np.int64)
    assert np.array_equal(order_keys(array), np.argsort(array, kind="stable"))


@given(VALUES)
def test_ranks_are_those_of_the_sorted_values(values: list[int]) -> None:
    """Any values have the ranks that numpy's unique finds."""
    array = np.array(values, dtype=np.int64)
    found, inverse = np.unique(array, return_inverse=True)
    ranks, count = number_values(array)
    assert np.array_equal(ranks, inverse)
    assert count == len(found)
