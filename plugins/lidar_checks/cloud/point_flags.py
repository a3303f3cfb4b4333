"""Flags of points: withheld, overlap and synthetic, where they were asked for and where they help.

Point formats 0 to 5 have no overlap flag; there class 12 stands for it (ASPRS LAS 1.4 R15, table
9). What a flag means stands in table 16 and in the text of the point formats.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Literal, cast

from pydantic import Field

from ledger.contract.check import Criteria, FamilyCheck, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.attributes import AttributeFamily, AttributeSummary
from lidar_checks.cloud.class_codes import (
    HIGH_NOISE,
    LOW_NOISE,
    NEVER_CLASSIFIED,
    OVERLAP,
    UNCLASSIFIED,
)
from lidar_checks.cloud.criterion_source import name_sources

_STANDARD = "ASPRS LAS 1.4 R15, classification flags"
_RAW = frozenset({NEVER_CLASSIFIED, UNCLASSIFIED})
_OUT_OF_USE = _RAW | {LOW_NOISE, HIGH_NOISE}

Wish = Literal["required", "allowed", "forbidden"]
_FLAGS = ("overlap", "withheld", "synthetic")


class FlagCriteria(Criteria):
    """Which flags have to be set on some point, and which on none."""

    overlap_flag: Wish = Field(
        default="allowed",
        description="LAS 1.4 R15 allows it; editions of a specification differ, so the customer "
        "says",
    )
    withheld: Wish = Field(
        default="allowed", description="LAS 1.4 R15 allows it unless the customer says otherwise"
    )
    synthetic: Wish = Field(
        default="allowed", description="LAS 1.4 R15 allows it unless the customer says otherwise"
    )

    def find_wish(self, flag: str) -> tuple[str, Wish]:
        """Return the name of the criterion of a flag, and what it says."""
        wishes = {
            "overlap": ("overlap_flag", self.overlap_flag),
            "withheld": ("withheld", self.withheld),
            "synthetic": ("synthetic", self.synthetic),
        }
        return wishes[flag]


class PointFlags(FamilyCheck):
    """Withheld, overlap and synthetic points."""

    id = "point-flags"
    title = "Withheld, overlap and synthetic flags are set where they should be"
    catalogue = ("CL-05",)
    needs = ("points",)
    family = AttributeFamily()
    criteria = FlagCriteria

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Judge what was asked for, then each file by itself."""
        filled: dict[str, AttributeSummary] = {
            path: summaries[path] for path in sorted(summaries) if summaries[path].points
        }
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
            return
        faults = [*self._report_absent(plan, filled)]
        for path, summary in filled.items():
            faults += self._judge_file(plan, path, summary)
        yield from faults
        if not faults:
            yield self.conforms(WHOLE_DELIVERY, f"Flags: {_describe(filled.values())}.")

    def _report_absent(
        self, plan: Plan, filled: Mapping[str, AttributeSummary]
    ) -> Iterator[Finding]:
        asked = cast("FlagCriteria", plan.criteria)
        for flag in _FLAGS:
            name, wish = asked.find_wish(flag)
            if wish == "required" and not any(_count(each, flag) for each in filled.values()):
                points = count_things(sum(each.points for each in filled.values()), "point")
                yield self.nonconforming(
                    Grade.MINOR,
                    WHOLE_DELIVERY,
                    f"None of {points} has the {flag} flag, which the specification asks for.",
                    observed=f"no point with the {flag} flag",
                    required=f"points with the {flag} flag",
                    criterion_source=name_sources(plan, name),
                    remedy="Export again with the flags as they were set, or change what is asked.",
                )

    def _judge_file(self, plan: Plan, path: str, summary: AttributeSummary) -> Iterator[Finding]:
        asked = cast("FlagCriteria", plan.criteria)
        for flag in _FLAGS:
            name, wish = asked.find_wish(flag)
            count = _count(summary, flag)
            if wish == "forbidden" and count:
                yield self.nonconforming(
                    Grade.MINOR,
                    path,
                    f"{count_things(count, 'point')} in {path} {agree(count, 'has', 'have')} the "
                    f"{flag} flag, which the specification does not allow.",
                    observed=f"{count_things(count, 'point')} with the {flag} flag",
                    required="none",
                    criterion_source=name_sources(plan, name),
                    remedy=f"Clear the {flag} flag, or leave those points out, and export again.",
                    where=Where(file=path),
                )
        yield from self._report_odd(path, summary, asked)

    def _report_odd(
        self, path: str, summary: AttributeSummary, asked: FlagCriteria
    ) -> Iterator[Finding]:
        """Report flags that contradict the class, where the flag itself may be there."""
        withheld = summary.count_flagged("withheld")
        used = {code: n for code, n in withheld.items() if code not in _OUT_OF_USE}
        if used and asked.withheld != "forbidden":
            told = f"withheld but in {_name_classes(used)}"
            remedy = (
                "Look at those points: class them as noise, or clear the flag if they are good."
            )
            yield self._observe(
                path, sum(used.values()), told, "withheld points out of use", remedy
            )
        made = {code: n for code, n in summary.count_flagged("synthetic").items() if code in _RAW}
        if made and asked.synthetic != "forbidden":
            told = f"synthetic but in {_name_classes(made)} as if measured"
            remedy = "Say in the report which points were not measured, or leave them out."
            yield self._observe(
                path, sum(made.values()), told, "synthetic points in a class", remedy
            )

    def _observe(self, path: str, count: int, told: str, required: str, remedy: str) -> Finding:
        points = count_things(count, "point")
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{points} in {path} {agree(count, 'is', 'are')} {told}; readers that pass over flags "
            f"use {agree(count, 'it', 'them')}.",
            observed=f"{points} {told}",
            required=required,
            criterion_source=f"common practice, no source; flags as in {_STANDARD}",
            remedy=remedy,
            where=Where(file=path),
        )


def _count(summary: AttributeSummary, flag: str) -> int:
    count = sum(summary.count_flagged(flag).values())
    if flag == "overlap" and not summary.has_overlap_flag:
        return summary.histogram.get(OVERLAP, 0)
    return count


def _name_classes(codes: Iterable[int]) -> str:
    listed = sorted(codes)
    return f"{agree(len(listed), 'class', 'classes')} {', '.join(str(code) for code in listed)}"


def _describe(summaries: Iterable[AttributeSummary]) -> str:
    all_of = tuple(summaries)
    points = sum(each.points for each in all_of)
    told = ", ".join(f"{sum(_count(each, flag) for each in all_of):,} {flag}" for flag in _FLAGS)
    return f"{told}, of {count_things(points, 'point')}"
