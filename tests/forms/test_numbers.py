"""Numbers arrive with every digit that was typed, in the unit of their field, or not at all."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj.database import get_units_map

from ledger.errors import UsageError
from ledger.forms import parse_answer, show_value
from ledger.model.fields import FIELDS

HEIGHT = FIELDS["flight.base_height"]
ARM = FIELDS["run.lever_arm"]
TILT = FIELDS["flight.tilt_deg"]

decimals = st.decimals(
    min_value=-100_000, max_value=100_000, allow_nan=False, allow_infinity=False, places=4
)


@given(decimals, st.sampled_from(".,"))
def test_number_is_the_number_typed(number: Decimal, mark: str) -> None:
    """Python's decimal arithmetic reads back the same number, whichever mark was typed."""
    known = parse_answer(HEIGHT, f"{number:f}".replace(".", mark))
    assert Decimal(known.value) == number
    assert known.unit == "m"
    assert known.where == ""


@given(decimals)
def test_digits_are_kept(number: Decimal) -> None:
    """Trailing zeros say how well something was read, so they stay."""
    typed = f"{number:f}"
    expected = typed.removeprefix("-") if number == 0 else typed
    assert parse_answer(HEIGHT, typed).value == expected


@given(
    st.integers(min_value=1000, max_value=10**9),
    st.sampled_from([" ", "'", "\u2019", "_", "\u202f"]),
)
def test_marks_between_thousands_are_refused(number: int, mark: str) -> None:
    """A grouped number is refused, never read as another one."""
    typed = f"{number:,}".replace(",", mark)
    with pytest.raises(UsageError, match="marks between its digits"):
        parse_answer(HEIGHT, typed)


@given(st.integers(min_value=1000, max_value=10**9), st.booleans())
def test_comma_and_point_together_are_refused(number: int, swapped: bool) -> None:
    """1,234.5 and 1.234,5 are refused: each country reads them its own way."""
    typed = f"{number:,}.5"
    if swapped:
        typed = typed.translate(str.maketrans(",.", ".,"))
    with pytest.raises(UsageError, match="two ways"):
        parse_answer(HEIGHT, typed)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_one_error(text: str) -> None:
    """No answer, however odd, gives anything but a value or an error of ours."""
    for field in (HEIGHT, ARM, TILT):
        try:
            known = parse_answer(field, text)
        except UsageError:
            continue
        parts = known.value if isinstance(known.value, list) else [known.value]
        assert all(Decimal(part).is_finite() for part in parts)


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("1.50", "1.50"),
        (" 1,523 ", "1.523"),
        ("1.523 m", "1.523"),
        ("1.523m", "1.523"),
        ("+.5", "0.5"),
        ("5.", "5"),
        ("007,5", "7.5"),
        ("-0.00", "0.00"),
        ("\u22120.25", "-0.25"),
        ("0", "0"),
    ],
)
def test_ways_to_type_a_number(typed: str, value: str) -> None:
    """Signs, leading zeros and a unit of the field are understood."""
    assert parse_answer(HEIGHT, typed).value == value


@pytest.mark.parametrize(
    "typed",
    ["", "  ", "one", "nan", "inf", "1e3", "1.5.2", "--1", "1-2", "٣", "1" * 40, "m", "1 2 m"],
)
def test_what_is_no_number_is_refused(typed: str) -> None:
    """Words, exponents, digits of other scripts and endless digits are refused."""
    with pytest.raises(UsageError):
        parse_answer(HEIGHT, typed)


@pytest.mark.parametrize(
    ("typed", "value", "note"),
    [
        ("152.3 cm", "1.523", "typed as 152.3 cm (centimetre)"),
        ("1523 mm", "1.523", "typed as 1523 mm (millimetre)"),
        ("5 ft", "1.524", "typed as 5 ft (international-foot)"),
        ("5 ftUS", "1.524003048", "typed as 5 ftUS (us-survey-foot), rounded to the nanometre"),
        ("3937 ftUS", "1200", "typed as 3937 ftUS (us-survey-foot)"),
    ],
)
def test_other_lengths_are_converted_and_said(typed: str, value: str, note: str) -> None:
    """A length in another unit is stored in metres, with what was typed beside it."""
    known = parse_answer(HEIGHT, typed)
    assert (known.value, known.unit, known.where) == (value, "m", note)


@given(
    decimals, st.sampled_from([("ft", "9002"), ("ftUS", "9003"), ("cm", "1033"), ("mm", "1025")])
)
def test_lengths_agree_with_the_epsg_registry(number: Decimal, unit: tuple[str, str]) -> None:
    """Converted lengths are those of the EPSG unit sizes in PROJ, to their double precision."""
    name, code = unit
    sizes = {each.code: each.conv_factor for each in get_units_map("EPSG", "linear").values()}
    known = parse_answer(HEIGHT, f"{number:f} {name}")
    expected = Fraction(number) * Fraction(sizes[code])
    assert abs(Fraction(known.value) - expected) <= abs(expected) * Fraction(1, 10**15) + Fraction(
        1, 2 * 10**9
    )


@pytest.mark.parametrize(
    ("key", "typed"),
    [
        ("flight.tilt_deg", "15 m"),
        ("flight.speed", "18 km/h"),
        ("flight.base_height", "1.5 kg"),
        ("flight.epoch", "2010 m"),
    ],
)
def test_unit_of_another_kind_is_refused(key: str, typed: str) -> None:
    """A speed in km/h or an angle in metres is refused, not stored as typed."""
    with pytest.raises(UsageError, match="another unit"):
        parse_answer(FIELDS[key], typed)


@pytest.mark.parametrize(
    ("typed", "value"), [("15°", "15"), ("15 deg", "15"), ("15 degrees", "15")]
)
def test_degrees_may_be_spelled(typed: str, value: str) -> None:
    """The unit of the field is understood in its usual spellings."""
    assert parse_answer(TILT, typed).value == value


@pytest.mark.parametrize(
    "typed",
    [
        "0.12 -0.03 0.25",
        "0,12 -0,03 0,25",
        "0.12; -0.03; 0.25",
        "0,12; -0,03; 0,25",
        "0.12, -0.03, 0.25",
        "0,12, -0,03, 0,25",
        "0.12,-0.03,0.25",
        "0.12 , -0.03 , 0.25",
        "0.12 -0.03 0.25 m",
        "0.12;-0.03;0.25m",
        "12 -3 25 cm",
    ],
)
def test_ways_to_type_a_vector(typed: str) -> None:
    """Spaces, semicolons and commas all part three numbers where only one reading is possible."""
    known = parse_answer(ARM, typed)
    assert [Decimal(part) for part in known.value] == [
        Decimal("0.12"), Decimal("-0.03"), Decimal("0.25"),
    ]  # fmt: skip
    assert known.unit == "m"


@pytest.mark.parametrize(
    "typed",
    [
        "0.12 -0.03",
        "0.12 -0.03 0.25 0.1",
        "0,12,-0,03,0,25",
        "0.12 -0,03 0.25",
        "0.12; 1 m; 2 cm",
        "1,234.5 2 3",
        "a b c",
        ";;",
    ],
)
def test_vectors_that_can_be_misread_are_refused(typed: str) -> None:
    """Two or four numbers, mixed decimal marks and mixed units are refused."""
    with pytest.raises(UsageError):
        parse_answer(ARM, typed)


@given(st.lists(decimals, min_size=3, max_size=3), st.sampled_from([" ", "; ", ";"]))
def test_vector_is_the_three_numbers_typed(numbers: list[Decimal], between: str) -> None:
    """Any three numbers come back as they were typed."""
    known = parse_answer(ARM, between.join(f"{number:f}" for number in numbers))
    assert [Decimal(part) for part in known.value] == numbers


def test_echo_shows_the_unit() -> None:
    """The echo shows how a decimal comma was understood, with the unit."""
    assert show_value(parse_answer(HEIGHT, "1,523")) == "1.523 m"
    assert show_value(parse_answer(ARM, "0,12 -0,03 0,25")) == "0.12 -0.03 0.25 m"
