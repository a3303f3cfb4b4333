"""Ids that people use, in any case.

F1 is a flight, G1 a rig, R1 a run, S1 a step, T1 a statement, P1 a table of points, D1 an audit,
H1 a transmittal.

They are written in one form, whatever was typed: `f1`, `F1` and `flight:f1` are F1.
"""

from __future__ import annotations

import re

from ledger.dataclass import dataclass

KINDS = {
    "F": "flight",
    "G": "rig",
    "R": "run",
    "S": "step",
    "T": "statement",
    "P": "points",
    "D": "audit",
    "H": "transmittal",
}
"""Kind of record by the first letter of its id."""

_ID = re.compile(
    r"(?:(?P<kind>[a-z]+):)?(?P<letter>[fgrstpdh])(?P<number>[1-9][0-9]*)", re.IGNORECASE
)


@dataclass(frozen=True)
class TypedId:
    """An id as it was typed.

    Args:
        kind: kind of record.
        name: the id in its one form.
        is_named: the kind was typed before it, so that no file can be meant.
    """

    kind: str
    name: str
    is_named: bool = False


def read_id(text: str) -> TypedId | None:
    """Return the id that a word is; None where it is none, or of another kind than typed."""
    match = _ID.fullmatch(text.strip())
    if match is None:
        return None
    letter = match["letter"].upper()
    named = match["kind"]
    if named is not None and named.lower() != KINDS[letter]:
        return None
    return TypedId(KINDS[letter], f"{letter}{match['number']}", is_named=named is not None)


def write_id(text: str) -> str:
    """Return an id in its one form; what is none comes back as typed, without blanks around it."""
    read = read_id(text)
    return text.strip() if read is None else read.name


def find_next_id(letter: str, known: tuple[str, ...]) -> str:
    """Return the id after the highest of those known."""
    numbers = [int(name[1:]) for name in known if name[:1] == letter and name[1:].isdecimal()]
    return f"{letter}{max(numbers, default=0) + 1}"
