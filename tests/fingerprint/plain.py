"""The point fingerprint once more, in whole numbers of Python, from the text of its page alone.

Nothing of the project is imported here. The table of words, the constants' recipe and the worked
examples are read from the page itself, so that the page cannot say one thing and the code another.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "fingerprint.md"
MODULUS = 2**64
LEVELS = ("geometry", "pulse", "full")
EXTRA = "extra:"

Point = Mapping[str, int]


@dataclass(frozen=True)
class Row:
    """One row of the table of words."""

    field: str
    kind: str
    level: str
    word: str
    bit: int


@dataclass(frozen=True)
class Example:
    """One worked example: points by field, and the value as printed."""

    title: str
    points: tuple[dict[str, int], ...]
    value: dict[str, str]


def read_page() -> str:
    """Return the text of the page."""
    return PAGE.read_text(encoding="utf-8")


def read_rows(heads: str) -> list[list[str]]:
    """Return the cells of the table with these headings, ticks taken off."""
    _, _, rest = read_page().partition(f"| {heads} |\n")
    rows = []
    for line in rest.splitlines()[1:]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip().strip("`") for cell in line.strip("|").split("|")])
    return rows


def read_table() -> tuple[Row, ...]:
    """Return the table of words."""
    rows = read_rows("field | stored as | level | word | bit")
    return tuple(Row(field, kind, level, word, int(bit)) for field, kind, level, word, bit in rows)


def read_examples() -> tuple[Example, ...]:
    """Return the worked examples."""
    pattern = r"### (Example \d+: [^\n]+)\n.*?```csv\n(.*?)```\n\n```text\n(.*?)```"
    return tuple(
        Example(title, _read_points(table), dict(line.split() for line in value.splitlines()))
        for title, table, value in re.findall(pattern, read_page(), re.DOTALL)
    )


def _read_points(table: str) -> tuple[dict[str, int], ...]:
    head, *lines = table.splitlines()
    names = head.split(",")
    return tuple(
        dict(zip(names, (int(cell, 0) for cell in line.split(",")), strict=True)) for line in lines
    )


def compute_constant(word: str, lane: int) -> int:
    """Return a constant by the page's recipe."""
    text = f"swathbook point fingerprint 1/{word}/{lane}"
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "little") | 1


def round_to_lattice(stored: int, scale: float, offset: float, steps: int) -> int:
    """Return a coordinate in lattice steps: exact decimals, rounded once, half to even."""
    return round((stored * Fraction(repr(scale)) + Fraction(repr(offset))) * steps)


def make_words(point: Point, level: str, table: Iterable[Row]) -> dict[str, int]:
    """Return the words that a level adds, of one point given by its stored bits."""
    if "scan_angle_rank" in point:
        degrees = point["scan_angle_rank"]
        point = {**point, "scan_angle": (1000 * degrees + 3) // 6}
    words: dict[str, int] = {}
    for row in table:
        if row.level == level:
            bits = point.get(row.field, 0) % 2 ** (8 * int(row.kind[1]))
            words[row.word] = words.get(row.word, 0) + bits * 2**row.bit
    if level == "full":
        words |= {name: bits for name, bits in point.items() if name.startswith(EXTRA)}
    return words


def finish(number: int) -> int:
    """Return a number finished as the page says."""
    number ^= number >> 30
    number = number * 0xBF58476D1CE4E5B9 % MODULUS
    number ^= number >> 27
    number = number * 0x94D049BB133111EB % MODULUS
    return number ^ number >> 31


def compute_value(points: Iterable[Point], table: Iterable[Row]) -> dict[str, str]:
    """Return the three levels of some points."""
    table = tuple(table)
    totals = {level: [0, 0] for level in LEVELS}
    for point in points:
        for lane in range(2):
            running = compute_constant("start", lane)
            for level in LEVELS:
                for word, number in make_words(point, level, table).items():
                    running = (running + number * compute_constant(word, lane)) % MODULUS
                totals[level][lane] = (totals[level][lane] + finish(running)) % MODULUS
    return {level: "".join(f"{lane:016x}" for lane in lanes) for level, lanes in totals.items()}
