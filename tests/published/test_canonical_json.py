"""Canonical JSON against the test files published with RFC 8785.

Source: cyberphone/json-canonicalization (Apache-2.0), the files named by RFC 8785 section 4.
Known: read.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from ledger import canonical
from ledger.errors import ContractError

WITHOUT_FRACTIONS = ("arrays", "french", "unicode", "weird")


VECTORS = Path(__file__).parent / "rfc8785"


def read_case(name: str) -> tuple[Any, bytes]:
    """Return the input values and the canonical bytes of one published file."""
    text = (VECTORS / "input" / f"{name}.json").read_text(encoding="utf-8")
    hex_text = (VECTORS / "outhex" / f"{name}.txt").read_text(encoding="ascii")
    return json.loads(text), bytes.fromhex(hex_text)


@pytest.mark.parametrize("name", WITHOUT_FRACTIONS)
def test_published_output_is_reached_byte_for_byte(name: str) -> None:
    """A published input gives the published bytes, and those decode to the same values."""
    values, expected = read_case(name)
    assert canonical.encode(values) == expected
    assert canonical.decode(expected) == values


def test_published_structure_is_reached_when_its_number_is_whole() -> None:
    """The published input that writes a whole number as 56.0 gives its bytes once it is an int."""
    values, expected = read_case("structures")
    values["1"]["\n"] = int(values["1"]["\n"])
    assert canonical.encode(values) == expected


@pytest.mark.parametrize("name", ["structures", "values"])
def test_published_floats_are_refused(name: str) -> None:
    """The published inputs with floats are refused: the book stores decimal text."""
    values, expected = read_case(name)
    with pytest.raises(ContractError, match="float"):
        canonical.encode(values)
    assert rfc8785.dumps(values) == expected  # the library itself keeps to the standard
