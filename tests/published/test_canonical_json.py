"""Canonical JSON against the test files published with RFC 8785.

Source: cyberphone/json-canonicalization (Apache-2.0), the files named by RFC 8785 section 4.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import rfc8785

from ledger import canonical
from ledger.errors import ContractError

WITHOUT_FRACTIONS = ("arrays", "french", "unicode", "weird")


def read_case(shared_data: Path, name: str) -> tuple[object, bytes]:
    """Return the input values and the canonical bytes of one published file."""
    folder = shared_data / "rfc8785"
    text = (folder / "input" / f"{name}.json").read_text(encoding="utf-8")
    hex_text = (folder / "outhex" / f"{name}.txt").read_text(encoding="ascii")
    return json.loads(text), bytes.fromhex(hex_text)


@pytest.mark.parametrize("name", WITHOUT_FRACTIONS)
def test_published_output_is_reached_byte_for_byte(shared_data, name):
    """A published input gives the published bytes, and those decode to the same values."""
    values, expected = read_case(shared_data, name)
    assert canonical.encode(values) == expected
    assert canonical.decode(expected) == values


def test_published_structure_is_reached_when_its_number_is_whole(shared_data):
    """The published input that writes a whole number as 56.0 gives its bytes once it is an int."""
    values, expected = read_case(shared_data, "structures")
    values["1"]["\n"] = int(values["1"]["\n"])
    assert canonical.encode(values) == expected


@pytest.mark.parametrize("name", ["structures", "values"])
def test_published_floats_are_refused(shared_data, name):
    """The published inputs with floats are refused: the book stores decimal text."""
    values, expected = read_case(shared_data, name)
    with pytest.raises(ContractError, match="float"):
        canonical.encode(values)
    assert rfc8785.dumps(values) == expected  # the library itself keeps to the standard
