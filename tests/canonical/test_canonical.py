"""Canonical bytes, digests and decimal texts."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

import numpy as np
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ledger import canonical
from ledger.errors import ContractError
from ledger.model.entry import Kind

TEXT = st.text(st.characters(exclude_categories=["Cs"]))
WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
VALUES = st.recursive(
    st.none() | st.booleans() | WHOLE | TEXT,
    lambda inner: st.lists(inner) | st.dictionaries(TEXT, inner),
    max_leaves=20,
)


@given(VALUES)
def test_decoding_gives_back_what_was_encoded(values):
    """Whatever can be stored comes back unchanged, and its bytes are JSON for any reader."""
    body = canonical.encode(values)
    assert canonical.decode(body) == values
    assert json.loads(body) == values
    assert canonical.encode(canonical.decode(body)) == body


@given(VALUES)
def test_bytes_are_those_of_a_library_of_the_standard(values):
    """Whatever can be stored gives the bytes that the general library of RFC 8785 gives."""
    assert canonical.encode(values) == rfc8785.dumps(values)


@given(st.dictionaries(TEXT, WHOLE))
def test_bytes_do_not_depend_on_the_order_of_keys(values):
    """The same mapping in another order gives the same bytes."""
    turned = dict(reversed(list(values.items())))
    assert canonical.encode(turned) == canonical.encode(values)


def test_tuples_enums_and_frozen_mappings_are_stored_plainly():
    """Types of the model are stored as the plain lists, texts and mappings that they are."""
    values = MappingProxyType(
        {"kind": Kind.RUN, "files": ("a", "b"), "inner": MappingProxyType({})}
    )
    assert canonical.encode(values) == b'{"files":["a","b"],"inner":{},"kind":"run"}'


@pytest.mark.parametrize(
    ("value", "what"),
    [
        (1.0, "float"),
        (float("nan"), "float"),
        (float("inf"), "float"),
        (np.float64(2.5), "float64"),
        (np.int64(2), "int64"),
        (2**53, "2\\^53"),
        (-(2**53), "2\\^53"),
        (b"raw", "bytes"),
        ({1, 2}, "set"),
        ({1: "a"}, "a key has to be text"),
        ("\ud800", "surrogate"),
        ({"\udc80": 1}, "surrogate"),
    ],
)
def test_what_has_no_canonical_form_is_refused_with_its_place(value, what):
    """A value without exactly one canonical form is a contract error that names where it is."""
    with pytest.raises(ContractError, match=what) as caught:
        canonical.encode({"files": [{"size": value}]})
    assert "values.files[0].size" in str(caught.value)


def test_endless_nesting_is_refused():
    """Values nested beyond what can be walked are a contract error, not a crash."""
    nested: list = []
    for _ in range(100_000):
        nested = [nested]
    with pytest.raises(ContractError, match="nested"):
        canonical.encode(nested)


@pytest.mark.parametrize("body", [b"", b"{", b'{"a":1.5}', b"NaN", b'"\xff"', b"[1e3]"])
def test_bytes_that_we_never_store_are_not_decoded(body):
    """Bytes that are no canonical JSON of ours are a contract error."""
    with pytest.raises(ContractError):
        canonical.decode(body)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_is_stored_as_the_text_that_reads_back_as_the_same_float(number):
    """The decimal text of a float reads back as exactly that float and has no exponent."""
    text = canonical.make_decimal(number)
    assert float(text) == number
    assert set(text) <= set("-0123456789.")


@pytest.mark.parametrize(
    ("number", "places", "text"),
    [
        (0.1, None, "0.1"),
        (1.0, None, "1"),
        (-0.0, None, "0"),
        (100.0, None, "100"),
        (1e-7, None, "0.0000001"),
        (1e22, None, "10000000000000000000000"),
        (np.float64(0.25), None, "0.25"),
        (7, None, "7"),
        (Fraction(1, 8), None, "0.125"),
        (Fraction(12, 25), None, "0.48"),
        (Decimal("1.50"), None, "1.50"),
        (Decimal("-0.0"), None, "0.0"),
        (2.675, 2, "2.68"),  # the float is a little less than its shortest decimal
        (0.125, 2, "0.12"),  # half to even
        (0.375, 2, "0.38"),
        (-0.005, 2, "0.00"),
        (-1.5, 0, "-2"),
        (3, 2, "3.00"),
        (Fraction(1, 3), 4, "0.3333"),
        (Fraction(-2, 3), 2, "-0.67"),
        (Fraction(1, 8), 2, "0.12"),
        (Decimal("31.91151"), 3, "31.912"),
    ],
)
def test_decimal_texts(number, places, text):
    """A measured number becomes the text that a person would write, rounded half to even."""
    assert canonical.make_decimal(number, places) == text


@pytest.mark.parametrize(
    "number", [float("nan"), float("-inf"), Decimal("NaN"), Fraction(1, 3), True, "1"]
)
def test_what_is_no_ending_number_has_no_decimal_text(number):
    """Not a number, infinity, an endless fraction, a truth value and text are refused."""
    with pytest.raises(ContractError):
        canonical.make_decimal(number)
