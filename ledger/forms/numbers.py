"""Numbers as people type them, to decimal text that keeps every digit.

- One decimal mark, a comma or a point; both together, or marks between thousands, are refused,
  because 1.234 and 1,234 mean different lengths to different people.
- A unit may follow. The value is always stored in the unit of its field, so that nobody reads
  feet as metres later; what was typed is kept beside it.
- No exponents, no NaN, no digits of other scripts.

Sizes of units: 0.3048 m and 1200/3937 m are the definitions of the two feet (EPSG 9002, 9003).
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction

from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.model.phrases import join_choices
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT

_MARKS = re.compile(r"[.,]")
_DIGITS = r"[+\-\u2212]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
_NUMBER = re.compile(rf"({_DIGITS})[ \u00a0\u202f]*([^0-9\s.,;+\-\u2212'\u2019_].*)?", re.DOTALL)
# Marks that people put between thousands: spaces, apostrophes, underscores.
_GROUPED = re.compile(r"[0-9][ \u00a0\u2009\u202f'\u2019_][0-9]")
MOST_DIGITS = 30

# A length that has no finite decimal form (from US survey feet) is kept to the nanometre.
_PLACES = 9

# By name as typed, in lower case: the name as told, and metres in one unit.
_LENGTHS: dict[str, tuple[str, Fraction]] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), ("metre", METRE.factor)),
    **dict.fromkeys(("cm", "centimetre", "centimetres"), ("centimetre", Fraction(1, 100))),
    **dict.fromkeys(("mm", "millimetre", "millimetres"), ("millimetre", Fraction(1, 1000))),
    **dict.fromkeys(
        ("ft", "foot", "feet", "international-foot", "international feet"),
        (INTERNATIONAL_FOOT.name, INTERNATIONAL_FOOT.factor),
    ),
    **dict.fromkeys(
        ("ftus", "us-survey-foot", "us survey foot", "us survey feet", "survey feet"),
        (US_SURVEY_FOOT.name, US_SURVEY_FOOT.factor),
    ),
}

# Other ways to write the unit of a field.
_SPELLINGS = {
    "deg": ("deg", "degree", "degrees", "°"),
    "m/s": ("m/s",),
    "year": ("year", "years"),
    "%": ("%", "percent", "per cent"),
}


@dataclass(frozen=True)
class Typed:
    """A number as it was typed.

    Args:
        digits: decimal text with a point, every digit kept.
        mark: the decimal mark that was typed; empty for none.
        unit: the unit that was typed; empty for none.
    """

    digits: str
    mark: str
    unit: str


def read_number(text: str, what: str) -> Typed:
    """Return the number at the start of `text` and the unit behind it.

    Args:
        text: as typed.
        what: what is read, for messages (`flight.base_height`).

    Raises:
        UsageError: it is no number, or one that can be read in two ways.
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise UsageError(
            f"{what} {_explain(text)}",
            found=f'"{text.strip()}"',
            expected="digits with at most one decimal mark: 1.523 or 1,523",
        )
    typed = match[1].replace("\u2212", "-").replace(",", ".")
    if len(typed) > MOST_DIGITS:
        raise UsageError(f"{what} is too long", expected=f"at most {MOST_DIGITS} characters")
    mark = _MARKS.search(match[1])
    return Typed(_normalise(typed), mark[0] if mark else "", (match[2] or "").strip())


def _explain(text: str) -> str:
    if "," in text and "." in text:
        return "has a comma and a point, which can be read in two ways"
    if _GROUPED.search(text) or any(text.count(mark) > 1 for mark in ",."):
        return "has marks between its digits, which can be read in two ways"
    return "is not a number"


def _normalise(typed: str) -> str:
    """Return the digits with one zero before the point at most, no `+`, and no minus on zero."""
    sign = "-" if typed.startswith("-") else ""
    whole, _, fraction = typed.lstrip("+-").partition(".")
    digits = (whole.lstrip("0") or "0") + (f".{fraction}" if fraction else "")
    return sign + digits if digits.strip("0.") else digits


def convert(number: Typed, unit: str, what: str) -> tuple[str, str]:
    """Return the decimal text in the unit of the field, and a note where it was converted.

    Args:
        number: as typed.
        unit: unit of the field (`m`, `deg`, `m/s`, `year`), empty for none.
        what: what is read, for messages.

    Raises:
        UsageError: the unit is not known, or of another kind than the field's.
    """
    typed = number.unit.lower()
    if not typed or typed == unit or typed in _SPELLINGS.get(unit, ()):
        return number.digits, ""
    if unit != "m" or typed not in _LENGTHS:
        known = ("m", "cm", "mm", "ft", "ftUS") if unit == "m" else (unit,)
        raise UsageError(
            f"{what} has another unit",
            found=f'"{number.unit}"',
            expected=join_choices(known) if unit else "a number without unit",
        )
    name, factor = _LENGTHS[typed]
    if factor == METRE.factor:
        return number.digits, ""
    length = Fraction(number.digits) * factor
    decimal = _make_decimal(length)
    rounded = "" if Fraction(decimal) == length else ", rounded to the nanometre"
    return decimal, f"typed as {number.digits} {number.unit} ({name}){rounded}"


def _make_decimal(number: Fraction) -> str:
    """Return the exact decimal text where there is one, else rounded half to even."""
    with localcontext() as context:
        context.prec = 80  # beyond any typed number times any factor
        quotient = Decimal(number.numerator) / Decimal(number.denominator)
        if Fraction(quotient) != number:
            quotient = quotient.quantize(Decimal(1).scaleb(-_PLACES), rounding=ROUND_HALF_EVEN)
        text = f"{quotient:f}"
    return _normalise(text.rstrip("0").rstrip(".") if "." in text else text)


def split_vector(text: str, what: str) -> tuple[str, str, str]:
    """Return the three parts of a vector as typed.

    Parts are told apart by semicolons, else by spaces (a comma may stand before each), else by
    commas where every part uses a point or has no decimals.

    Raises:
        UsageError: there are not three parts, or they can be read in two ways.
    """
    if ";" in text:
        parts = [part.strip() for part in text.split(";")]
    elif len(text.split()) > 1:
        parts = [part.removesuffix(",") for part in re.sub(r"\s+,", ",", text).split()]
        if len(parts) > 3:  # a unit behind the last number
            parts = [*parts[:2], " ".join(parts[2:])]
    else:
        parts = text.split(",")
    numbers = [_NUMBER.fullmatch(part) for part in parts]
    if len(parts) != 3 or not all(numbers):
        raise UsageError(
            f"{what} is not three numbers",
            found=f'"{text.strip()}"',
            expected="three numbers with spaces or semicolons between: 0.12 -0.03 0.25",
        )
    return parts[0], parts[1], parts[2]
