"""The height of a base antenna: two readings, and slant reduced to vertical."""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.model.antenna import BaseHeight, read_base_height, reduce_slant
from ledger.model.known import KnownValue


def metres(text: str) -> KnownValue:
    """Return a length."""
    return KnownValue(text, "m")


def test_a_slant_height_is_reduced_as_the_trade_does():
    """Slant 1.8527 m, diameter 0.3810 m, reference point 0.0350 m below: dh + sqrt(s² - (d/2)²).

    Formula and input: UNAVCO, teqc mailing list, 2019, message 2641. The result is that of its
    formula in double precision, 1.80788 m.
    """
    found = reduce_slant(Decimal("1.8527"), Decimal("0.3810") / 2, Decimal("-0.0350"))
    assert found == Decimal("1.8079")


@pytest.mark.parametrize(
    ("slant", "radius", "offset", "vertical"),
    [
        # Whole right-angled triangles: 3-4-5 and 5-12-13 (Euclid, Elements, book I, 47).
        ("5", "3", "0", "4"),
        ("1.3", "0.5", "0", "1.2"),
        ("1.3", "0.5", "-0.05", "1.15"),
        ("1.3", "0.5", "0.05", "1.25"),
        ("1.7", "0", "0", "1.7"),
    ],
)
def test_right_angled_triangles(slant, radius, offset, vertical):
    """The radius is one of the short sides, and the offset is added with its sign."""
    found = reduce_slant(Decimal(slant), Decimal(radius), Decimal(offset))
    assert found == Decimal(vertical)


def read(**values: str) -> BaseHeight | None:
    """Return the height that a flight with these values has."""
    return read_base_height(
        {
            f"flight.{key}": KnownValue(text) if key.endswith("kind") else metres(text)
            for key, text in values.items()
        }
    )


def test_two_readings_are_told_apart_beyond_three_millimetres():
    """3 mm is the limit that the trade is used to (common practice, no source)."""
    near = read(base_height="1.523", base_height_again="1.526")
    assert near is not None
    assert (near.apart, near.agrees) == (Decimal("0.003"), True)
    far = read(base_height="1.523", base_height_again="1.5261")
    assert far is not None
    assert (far.apart, far.agrees) == (Decimal("0.0031"), False)
    once = read(base_height="1.523")
    assert once is not None
    assert (once.apart, once.agrees) == (None, True)
    assert read() is None


def test_a_vertical_height_is_the_mean_of_its_readings():
    """Nothing has to be reduced."""
    found = read(base_height="1.523", base_height_again="1.525", base_height_kind="vertical")
    assert found is not None
    assert found.vertical == Decimal("1.524")


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"base_height_kind": "slant"},
        {"base_height_kind": "slant", "base_antenna_radius": "0.12"},
        {"base_height_kind": "slant", "base_antenna_offset": "0.05"},
        {
            "base_height_kind": "slant",
            "base_antenna_radius": "1.523",
            "base_antenna_offset": "0",
        },
    ],
)
def test_what_cannot_be_reduced_is_not(values):
    """Without kind, radius or offset, and from a slant height no longer than the radius."""
    found = read(base_height="1.523", **values)
    assert found is not None
    assert found.vertical is None


def test_the_mean_of_two_slant_readings_is_reduced():
    """Both count."""
    found = read(
        base_height="1.299",
        base_height_again="1.301",
        base_height_kind="slant",
        base_antenna_radius="0.5",
        base_antenna_offset="-0.05",
    )
    assert found is not None
    assert found.vertical == Decimal("1.15")
