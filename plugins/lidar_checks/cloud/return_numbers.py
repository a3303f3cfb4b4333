"""Return numbers: every point says which return of its pulse it is, and of how many.

Source: ASPRS LAS 1.4 R15: return numbers run from 1 to the number of returns, up to 5 in point
formats 0 to 5 and up to 15 in formats 6 to 10.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import FamilyCheck, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.attributes import SIDE, AttributeFamily, ReturnTable

_STANDARD = "ASPRS LAS 1.4 R15, return number and number of returns"
_FIRST_EXTENDED_FORMAT = 6
_LEGACY_LIMIT = 5


class ReturnNumbers(FamilyCheck):
    """Return numbers that can be right."""

    id = "return-numbers"
    title = "Return numbers are possible ones"
    catalogue = ("FT-09",)
    needs = ("points",)
    revision = 3
    family = AttributeFamily()

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - the contract hands it to every check
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge each file by itself."""
        files = {file.path: file for file in evidence.files}
        filled: dict[str, ReturnTable] = {
            path: summaries[path].returns for path in sorted(summaries) if summaries[path].points
        }
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        for path, table in filled.items():
            points = sum(map(sum, table))
            header = files[path].header
            limit = SIDE - 1
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
                criterion_source=_STANDARD,
                remedy="Export again with return numbers as the scanner gave them.",
                where=where,
            )


def _find_fault(table: ReturnTable, points: int, limit: int) -> tuple[str, str, str] | None:
    """Return what cannot be right, worst first, as sentence, observed and required."""
    zero = sum(table[0])
    pairs = [(number, total) for number in range(1, SIDE) for total in range(SIDE)]
    none = sum(table[number][0] for number in range(1, SIDE))
    above = sum(table[number][total] for number, total in pairs if number > total > 0)
    beyond = sum(table[number][total] for number, total in pairs if max(number, total) > limit)
    most = count_things(limit, "return")
    rows = (
        (zero, "return number 0", "return numbers from 1 up"),
        (none, "a number of returns of 0", "at least 1 return a pulse"),
        (above, "a return number above the number of returns", "at most the number of returns"),
        (beyond, f"a return beyond the {limit}th", f"at most {most} a pulse in this point format"),
    )
    if zero == points:
        sentence = "every return number is 0, so returns cannot be told apart"
        return sentence, "return number 0 in every point", rows[0][2]
    for wrong, what, required in rows:
        if wrong:
            told = f"{wrong:,} of {count_things(points, 'point')} {agree(wrong, 'has', 'have')}"
            return f"{told} {what}", f"{what} in {count_things(wrong, 'point')}", required
    return _find_absent(table, points)


def _find_absent(table: ReturnTable, points: int) -> tuple[str, str, str] | None:
    """Return which returns are not there, as sentence, observed and required."""
    first = sum(table[1])
    if not first:
        sentence = f"none of {count_things(points, 'point')} is a first return"
        return sentence, "no first return", "at least 1 first return"
    later = sum(table[1][2:])
    if first == points and later:
        pulses = count_things(later, "pulse")
        sentence = f"{pulses} had more returns, but only first returns are here"
        return sentence, "first returns only", f"the later returns of {pulses} as well"
    return None


def _describe(table: ReturnTable, points: int) -> str:
    highest = max(number for number in range(SIDE) if sum(table[number]))
    if highest == 1:
        return count_things(points, "single return")
    return (
        f"{count_things(points, 'point')} in up to {count_things(highest, 'return')} a pulse, "
        f"{sum(table[1]):,} of them first"
    )
