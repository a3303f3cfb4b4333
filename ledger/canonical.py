"""Values to bytes, one way only: RFC 8785 canonical JSON, digests and decimal texts.

Invariants:

- The same values give the same bytes on every machine, because digests are taken over them.
- No floats: a measured number is stored as decimal text with its unit, so that no digit is added
  or lost. Whole numbers stay below 2^53, which every JSON reader holds exactly.
- Stored bytes are never made again from decoded values: what was digested is what is kept.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, NoReturn

from ledger.errors import ContractError

MAX_WHOLE_NUMBER = 2**53 - 1  # RFC 8785 section 3.2.2.3 refers to IEEE 754 doubles
_FEW = 32  # keys of a row; mappings by digest have any number
_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False)


def encode(values: object) -> bytes:
    """Return the canonical JSON of text, whole numbers, booleans, None, lists and mappings.

    Source: RFC 8785. Of these types the standard library writes what it asks for, but for the
    order of keys, which is that of their UTF-16 code units (section 3.2.3).

    Raises:
        ContractError: a float, a whole number of 2^53 or beyond, bytes, text with half of a
            surrogate pair, a key that is no text, or any other type; the place is named.
    """
    try:
        return _ENCODER.encode(_make_plain(values)).encode("utf-8")
    except RecursionError:
        raise ContractError("values are nested too deeply to be stored") from None
    except _UnfitError as unfit:
        raise unfit.explain() from None


def decode(body: bytes) -> Any:  # noqa: ANN401 - JSON has no narrower type
    """Return the values of stored canonical JSON.

    Raises:
        ContractError: the bytes are no JSON of the kind that `encode` makes.
    """
    try:
        text = body.decode("utf-8")
        value, end = _DECODER.raw_decode(text)
        return value if end == len(text) else _DECODER.decode(text)  # which takes space, or refuses
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ContractError("stored bytes are no canonical JSON", found=str(error)) from error


def compute_digest(content: bytes) -> str:
    """Return the SHA-256 of `content` in lower-case hex."""
    return hashlib.sha256(content).hexdigest()


def make_decimal(number: float | Fraction | Decimal, places: int | None = None) -> str:
    """Return a measured number as decimal text, without an exponent.

    A float counts as its shortest decimal that reads back as the same float, so that 0.1 is
    `0.1` and not the 55 digits that the machine holds.

    Args:
        number: a finite number.
        places: digits after the point, rounded half to even; None keeps what the number has.

    Raises:
        ContractError: not a finite number, or a fraction that never ends and no `places`.
    """
    if isinstance(number, float):
        if not math.isfinite(number):
            raise ContractError("a measured number has to be finite", found=str(number))
        # float.__repr__ and not repr: a numpy float64 is a float with another repr.
        number = Decimal(float.__repr__(number)).normalize()
    if isinstance(number, Decimal):
        return _format_decimal(number, places)
    if isinstance(number, bool) or not isinstance(number, int | Fraction):
        raise ContractError("a measured number was expected", found=type(number).__name__)
    exact = Fraction(number)
    if places is None:
        places = _count_places(exact)
    return _format_scaled(round(exact * 10**places), places)


def make_decimals(value: Any) -> Any:  # noqa: ANN401 - any plain value
    """Return a plain value as the book stores it: every measured number in it as decimal text."""
    if isinstance(value, float | Decimal):
        return make_decimal(value)
    if isinstance(value, Mapping):
        return {key: make_decimals(part) for key, part in value.items()}
    return [make_decimals(part) for part in value] if isinstance(value, list | tuple) else value


class _UnfitError(Exception):
    """A value cannot be stored; on its way up it learns where the value stands."""

    def __init__(self, what: str, **parts: str) -> None:
        super().__init__(what)
        self._what = what
        self._parts = parts
        self.steps: list[str] = []

    def explain(self) -> ContractError:
        place = "".join(["values", *reversed(self.steps)])
        return ContractError(self._what, where=place, **self._parts)


def _make_plain(value: object) -> Any:  # noqa: ANN401 - JSON has no narrower type
    """Return `value` in the types that the encoder takes, keys in order; refuse everything else."""
    if isinstance(value, str):
        return _require_text(value)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return _require_exact(value)
    if type(value) is dict or isinstance(value, Mapping):  # most are dicts, known at once
        return {key: _make_part(value[key], key) for key in _sort_keys(tuple(value))}
    if isinstance(value, list | tuple):
        return [_make_part(part, place) for place, part in enumerate(value)]
    remedy = "store a measured number as decimal text" if isinstance(value, float) else ""
    raise _UnfitError("a value cannot be stored", found=type(value).__name__, remedy=remedy)


def _make_part(value: object, step: str | int) -> Any:  # noqa: ANN401 - as above
    if isinstance(value, str) and value.isascii():  # most values are
        return value
    try:
        return _make_plain(value)
    except _UnfitError as unfit:
        unfit.steps.append(f".{step}" if isinstance(step, str) else f"[{step}]")
        raise


def _sort_keys(keys: tuple[Any, ...]) -> tuple[str, ...]:
    """Return keys in their order; what rows of a list have alike is sorted once."""
    return _sort_few(keys) if len(keys) <= _FEW else _sort(keys)


@lru_cache(maxsize=256)
def _sort_few(keys: tuple[Any, ...]) -> tuple[str, ...]:
    return _sort(keys)


def _sort(keys: tuple[Any, ...]) -> tuple[str, ...]:
    texts = [_require_text(key) for key in keys]
    if "".join(texts).isascii():
        return tuple(sorted(texts))
    return tuple(sorted(texts, key=lambda key: key.encode("utf-16-be")))


def _require_exact(number: int) -> int:
    if abs(number) > MAX_WHOLE_NUMBER:
        raise _UnfitError(
            "a whole number is too large to be stored exactly",
            found=str(number),
            expected="less than 2^53",
        )
    return int(number)


def _require_text(text: object) -> str:
    if not isinstance(text, str):
        raise _UnfitError("a key has to be text", found=type(text).__name__)
    if text.isascii():
        return text
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise _UnfitError(
            "text holds half of a surrogate pair",
            found=ascii(text),
            remedy="escape bytes that are no text",
        ) from None
    return text


def _refuse_number(text: str) -> NoReturn:
    raise ContractError("stored numbers are whole numbers or text", found=text)


# Made once: `json.loads` makes one for each call that names how numbers are taken.
_DECODER = json.JSONDecoder(parse_float=_refuse_number, parse_constant=_refuse_number)


def _format_decimal(number: Decimal, places: int | None) -> str:
    if not number.is_finite():
        raise ContractError("a measured number has to be finite", found=str(number))
    if places is not None:
        return _format_scaled(round(Fraction(number) * 10**places), places)
    return format(number, "f") if number else format(abs(number), "f")


def _format_scaled(scaled: int, places: int) -> str:
    """Return `scaled` / 10^`places` as text."""
    sign = "-" if scaled < 0 else ""
    digits = str(abs(scaled)).rjust(places + 1, "0")
    whole, rest = digits[: len(digits) - places], digits[len(digits) - places :]
    return f"{sign}{whole}.{rest}" if places else f"{sign}{whole}"


def _count_places(number: Fraction) -> int:
    """Return how many decimals a fraction needs; its denominator must be made of 2s and 5s."""
    rest, twos, fives = number.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        raise ContractError(
            "a fraction has no end as a decimal", found=str(number), remedy="state its places"
        )
    return max(twos, fives)
