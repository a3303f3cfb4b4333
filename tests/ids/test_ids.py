"""Ids as people type them, in any case, and the one form in which the book has them."""

from __future__ import annotations

import pytest

from ledger.model.ids import find_next_id, read_id, write_id


@pytest.mark.parametrize(
    ("typed", "kind", "name", "is_named"),
    [
        ("F1", "flight", "F1", False),
        ("f12", "flight", "F12", False),
        (" g1 ", "rig", "G1", False),
        ("run:r1", "run", "R1", True),
        ("RUN:R1", "run", "R1", True),
        ("Audit:d3", "audit", "D3", True),
        ("s2", "step", "S2", False),
    ],
)
def test_ids_are_read_in_any_case(typed: str, kind: str, name: str, is_named: bool) -> None:
    """Capitals do not matter, nor does the kind before it; the form is always the same."""
    read = read_id(typed)
    assert read is not None
    assert (read.kind, read.name, read.is_named) == (kind, name, is_named)
    assert write_id(typed) == name


@pytest.mark.parametrize("typed", ["F", "F0", "F01", "1", "X1", "flight:R1", "F1.las", "run:", ""])
def test_what_is_no_id_is_none(typed: str) -> None:
    """A number that begins with 0, another letter, or another kind than the letter's is no id."""
    assert read_id(typed) is None
    assert write_id(typed) == typed


def test_the_next_id_follows_the_highest() -> None:
    """A gap is not filled: an id that was once used is never given again."""
    assert find_next_id("F", ()) == "F1"
    assert find_next_id("F", ("F1", "F10", "G30")) == "F11"
