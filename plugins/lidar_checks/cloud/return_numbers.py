"""Return numbers: every point says which return of its pulse it is, and of how many.

Source: ASPRS LAS 1.4 R15: return numbers run from 1 to the number of returns, up to 5 in point
formats 0 to 5 and up to 15 in formats 6 to 10.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import (
    Finding,
    Grade,
    Plan,
    PointCheck,
    PointChunk,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY

_SIDE = 16
_STANDARD = "ASPRS LAS 1.4 R15, return number and number of returns"
_FIRST_EXTENDED_FORMAT = 6
_LEGACY_LIMIT = 5

ReturnTable = tuple[tuple[int, ...], ...]


class ReturnTally:
    """How often each pair of return number and number of returns occurs in one file."""

    def __init__(self) -> None:
        """Start with none."""
        self.counts = np.zeros(_SIDE * _SIDE, dtype=np.int64)

    def chunk(self, points: PointChunk) -> None:
        """Count the pairs of all points."""
        number = cast("NDArray[np.uint8]", points["return_number"])
        total = cast("NDArray[np.uint8]", points["number_of_returns"])
        # Four bits each, so the pair fits the byte.
        pair = number.astype(np.uint8) * np.uint8(_SIDE) + total.astype(np.uint8)
        self.counts += np.bincount(pair, minlength=_SIDE * _SIDE)

    def merge(self, other: ReturnTally) -> None:
        """Add the counts of another part of the same file."""
        self.counts += other.counts

    def close(self) -> ReturnTable:
        """Return the table: row is the return number, column the number of returns."""
        rows = self.counts.reshape(_SIDE, _SIDE).tolist()
        return tuple(tuple(row) for row in rows)


class ReturnNumbers(PointCheck):
    """Return numbers that can be right."""

    id = "return-numbers"
    title = "Return numbers are possible ones"
    catalogue = ("FT-09",)
    needs = ("points",)
    dimensions = frozenset({"return_number", "number_of_returns"})

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - the contract's
        """Return an empty table."""
        return ReturnTally()

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - the contract hands it to every check
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge each file by itself."""
        files = {file.path: file for file in evidence.files}
        filled: dict[str, ReturnTable] = {
            path: summaries[path] for path in sorted(summaries) if any(map(any, summaries[path]))
        }
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        for path, table in filled.items():
            points = sum(map(sum, table))
            header = files[path].header
            limit = _SIDE - 1
            if header is not None and header.point_format < _FIRST_EXTENDED_FORMAT:
                limit = _LEGACY_LIMIT
            fault = _find_fault(table, points, limit)
            where = Where(file=path)
            if fault is None:
                yield self.conforms(path, f"{path}: {_describe(table, points)}.", where=where)
                continue
            sentence, observed, required = fault
            yield self.nonconforming(
                Grade.OBSERVATION,
                path,
                f"{path}: {sentence}.",
                observed=observed,
                required=required,
                unit="points",
                criterion_source=_STANDARD,
                remedy="Export again with return numbers as the scanner gave them.",
                where=where,
            )


def _find_fault(table: ReturnTable, points: int, limit: int) -> tuple[str, str, str] | None:
    """Return what cannot be right, worst first, as sentence, observed and required."""
    zero, first = sum(table[0]), sum(table[1])
    pairs = [(number, total) for number in range(1, _SIDE) for total in range(_SIDE)]
    above = sum(table[number][total] for number, total in pairs if number > total)
    beyond = sum(table[number][total] for number, total in pairs if max(number, total) > limit)
    later = sum(table[1][2:]) if first == points else 0
    of = f"of {points:,} points"
    rows = (
        (zero == points, "every return number is 0, so returns cannot be told apart", zero, "0"),
        (zero, f"{zero:,} {of} have return number 0", zero, "0"),
        (above, f"{above:,} {of} have a return number above their number of returns", above, "0"),
        (beyond, f"{beyond:,} {of} name more than {limit} returns", beyond, "0"),
        (not first, f"none {of} is a first return", first, "at least 1"),
        (
            later,
            f"{later:,} pulses had more returns, but only first returns are here",
            0,
            f"later returns of {later} pulses",
        ),
    )
    for holds, sentence, observed, required in rows:
        if holds:
            return sentence, str(observed), required
    return None


def _describe(table: ReturnTable, points: int) -> str:
    highest = max(number for number in range(_SIDE) if sum(table[number]))
    if highest == 1:
        return f"{points:,} single returns"
    return f"{points:,} points in up to {highest} returns a pulse, {sum(table[1]):,} of them first"
