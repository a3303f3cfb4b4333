"""The order of whole numbers, digit by digit: several times faster than comparing (measured)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Int64Array = NDArray[np.int64]

_DIGIT = 16
_MASK = (1 << _DIGIT) - 1
# Values are looked up in a table while it is no more than so many times as long as they are.
_SPARSEST = 64


def order_keys(keys: Int64Array) -> Int64Array:
    """Return the order of keys from 0 up, (n,); equal ones stay as they come."""
    if not len(keys):
        return np.empty(0, dtype=np.int64)
    order = np.argsort(_take_digit(keys, 0), kind="stable")
    for shift in range(_DIGIT, int(keys.max()).bit_length(), _DIGIT):
        digit = _take_digit(keys, shift).take(order)
        order = order.take(np.argsort(digit, kind="stable"))
    return order


def _take_digit(keys: Int64Array, shift: int) -> NDArray[np.uint16]:
    return (keys >> shift & _MASK).astype(np.uint16)


def number_values(values: Int64Array) -> tuple[Int64Array, int]:
    """Return the rank of each value among those that occur, (n,), and how many occur."""
    low = int(values.min())
    span = int(values.max()) - low + 1
    if span <= _SPARSEST * len(values):
        held = np.zeros(span, dtype=np.bool_)
        held[values - low] = True
        ranks = np.cumsum(held) - 1
        return ranks.take(values - low), int(ranks[-1]) + 1
    found, inverse = np.unique(values, return_inverse=True)
    return inverse.reshape(-1).astype(np.int64), len(found)
