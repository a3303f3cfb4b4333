"""Numbers in the cells of a table, as decimals that keep every digit.

One decimal mark in a whole table. Marks between thousands are refused, since 552.031 and 552,031
mean lengths a thousand times apart to different people.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

from ledger.errors import MalformedFileError

POINT, COMMA = "point", "comma"

_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?")
_GROUPED = re.compile(r"\d[' \u00a0\u2009\u202f\u2019_]\d|[.,].*[.,]")
# What could be either: three digits at most before one comma, exactly three behind it.
_EITHER = re.compile(r"[+-]?\d{1,3},\d{3}")
_MOST_CHARACTERS = 40


def find_decimal_mark(cells: Iterable[tuple[int, str]], where: str) -> str:
    """Return the decimal mark of a table, `point` or `comma`.

    Args:
        cells: the cells that hold numbers, each with its line.
        where: the file.

    Raises:
        MalformedFileError: marks between thousands, both marks, or commas that may be either.
    """
    commas: list[tuple[int, str]] = []
    points: list[tuple[int, str]] = []
    for line, cell in cells:
        if _GROUPED.search(cell):
            raise _refuse(
                "a number has marks between its thousands", cell, line, where, _WITHOUT_MARKS
            )
        if "," in cell:
            commas.append((line, cell))
        elif "." in cell:
            points.append((line, cell))
    if commas and points:
        line, cell = commas[0]
        raise _refuse(
            f"the table has decimal points (line {points[0][0]}) and commas in its numbers",
            cell,
            line,
            where,
            "write every number with the same decimal mark",
        )
    if commas and all(_EITHER.fullmatch(cell) for _, cell in commas):
        line, cell = commas[0]
        what = "a comma in a number may be its decimal mark or stand between thousands"
        raise _refuse(what, cell, line, where, "say which: --set decimal_mark=comma")
    return COMMA if commas else POINT


_WITHOUT_MARKS = "save the table without marks between thousands"


def read_number(cell: str, mark: str) -> Decimal | None:
    """Return the number in a cell; None where it holds none.

    Args:
        cell: the cell.
        mark: decimal mark of the table.
    """
    text = cell.strip().replace("\u2212", "-")
    if mark == COMMA:
        text = text.replace(",", ".") if "." not in text else ""
    if len(text) > _MOST_CHARACTERS or not _PLAIN.fullmatch(text):
        return None
    return Decimal(text)


def _refuse(what: str, cell: str, line: int, where: str, remedy: str) -> MalformedFileError:
    return MalformedFileError(what, found=f'"{cell}"', where=f"{where} line {line}", remedy=remedy)
