"""Kind of GPS time: the flag in the header against the values, and values that say nothing.

Source of the kinds: ASPRS LAS 1.4 R15, global encoding bit 0: clear for seconds of the GPS week,
set for adjusted standard GPS time, which is GPS seconds since 1980-01-06 minus 10^9.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Finding,
    Grade,
    Plan,
    PointCheck,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.header import LasHeader
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.time_kinds import ADJUSTMENT, TimeKind, describe_span, find_kind
from lidar_checks.cloud.time_tally import TimeSummary, TimeTally

_STANDARD = "ASPRS LAS 1.4 R15, global encoding"
_PRACTICE = "common practice, no source"
_STANDARD_15 = "ASPRS LAS 1.5 R00, public header block, GPS times"
_BOX_TOLERANCE_S = 1e-6  # common practice, no source: what a text of the times may round off
# One float32 that is a whole fraction is no evidence; many are.
_ENOUGH_POINTS = 100


@dataclass(frozen=True)
class Fault:
    """What is wrong with the times of one file."""

    sentence: str
    observed: str
    required: str
    source: str
    remedy: str


class GpsTimeCriteria(Criteria):
    """When times are too few for the points: 15 returns a pulse, and several beams at once."""

    max_points_per_time: int = Field(
        default=128,
        ge=1,
        description="common practice, no source",
    )


class GpsTimeKind(PointCheck):
    """GPS times that are there and are what the header says."""

    id = "gps-time-kind"
    title = "GPS times are of the kind that the header says"
    catalogue = ("FT-06",)
    needs = ("points",)
    revision = 3
    optional_dimensions = frozenset({"gps_time"})
    criteria = GpsTimeCriteria

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - the contract's
        """Return an empty tally; points without GPS time are only counted."""
        return TimeTally()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge each file by itself."""
        asked = cast("GpsTimeCriteria", plan.criteria)
        files = {file.path: file for file in evidence.files}
        filled: dict[str, TimeSummary] = {
            path: summaries[path] for path in sorted(summaries) if summaries[path].points
        }
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        for path, summary in filled.items():
            yield self._judge(files[path], summary, asked)

    def _judge(self, file: DeliveredFile, summary: TimeSummary, asked: GpsTimeCriteria) -> Finding:
        path, where = file.path, Where(file=file.path)
        header = file.header
        useless = _find_useless(summary)
        if useless is None and header is not None and _is_open(header):
            sentence = (
                f"{path} says that its GPS times count from an offset, and not that they are "
                "adjusted, so nobody can tell which times these are."
            )
            return self.inconclusive(path, sentence, where=where)
        counted = _count_from_adjusted(summary, header)
        found = (
            [useless]
            if useless is not None
            else [
                _find_mismatch(counted, None if header is None else header.has_adjusted_time),
                _find_coarse(summary, asked),
                _find_other_range(summary, header),
            ]
        )
        faults = [fault for fault in found if fault is not None]
        if not faults:
            span = describe_span(counted.first, counted.last)
            return self.conforms(path, f"{path}: GPS time {span}.", where=where)
        return self.nonconforming(
            Grade.OBSERVATION,
            path,
            f"{path}: {'; '.join(fault.sentence for fault in faults)}.",
            observed="; ".join(fault.observed for fault in faults),
            required="; ".join(fault.required for fault in faults),
            criterion_source="; ".join(dict.fromkeys(fault.source for fault in faults)),
            remedy=faults[0].remedy,
            where=where,
        )


def _is_open(header: LasHeader) -> bool:
    """Say whether times count from an offset without being adjusted ones."""
    return header.has_time_offset and not header.has_adjusted_time


def _count_from_adjusted(summary: TimeSummary, header: LasHeader | None) -> TimeSummary:
    """Return the times as adjusted standard ones, where the header has an offset of its own."""
    origin = None if header is None else header.time_origin_s
    if origin is None or origin == ADJUSTMENT:
        return summary
    shift = origin - ADJUSTMENT
    return replace(summary, first=summary.first + shift, last=summary.last + shift)


def _find_other_range(summary: TimeSummary, header: LasHeader | None) -> Fault | None:
    """Return where the least and greatest time of a LAS 1.5 header are not those of the points."""
    stated = None if header is None else header.time_range
    if stated is None or stated[0] > stated[1]:  # las-conformance tells those that are exchanged
        return None
    read = (summary.first, summary.last)
    if all(abs(a - b) <= _BOX_TOLERANCE_S for a, b in zip(stated, read, strict=True)):
        return None
    said, are = (f"{first:.6f} to {last:.6f} s" for first, last in (stated, read))
    return Fault(
        f"its header states GPS times of {said}, those of its points are {are}",
        are,
        said,
        _STANDARD_15,
        "Export or re-index the file, so that its header is written anew.",
    )


def _find_useless(summary: TimeSummary) -> Fault | None:
    """Return why the times say nothing at all, or None."""
    points, remedy = summary.points, "Export again with GPS time, if a trajectory is to be joined."
    if not summary.timed:
        what = "the point format carries no GPS time, so points cannot be joined with a trajectory"
        return Fault(what, "no GPS time", "a time for each point", _STANDARD, remedy)
    if summary.unusable:
        wrong = agree(summary.unusable, "is not a number", "are not numbers")
        what = f"{summary.unusable:,} of {count_things(points, 'GPS time')} {wrong}"
        found = f"{count_things(summary.unusable, 'GPS time')} that {wrong}"
        return Fault(what, found, "a time for each point", _STANDARD, remedy)
    if points > 1 and summary.first == summary.last:
        what = f"every GPS time is {summary.first:g}, so points cannot be joined with a trajectory"
        return Fault(what, "one GPS time for all points", "several", _PRACTICE, remedy)
    return None


def _find_mismatch(summary: TimeSummary, adjusted: bool | None) -> Fault | None:  # noqa: FBT001
    """Return where the values contradict the flag, or None."""
    kinds = (find_kind(summary.first), find_kind(summary.last))
    span = describe_span(summary.first, summary.last)
    remedy = "Set the flag to what the values are; do not change the values."
    if TimeKind.ABSURD in kinds:
        what = f"GPS time {span} is no time of any kind"
        return Fault(
            what, span, "a GPS time", _STANDARD, "Export again with the scanner's own times."
        )
    if kinds[0] is not kinds[1] and TimeKind.WEEK in kinds:
        what = f"GPS time {span} mixes {kinds[0]} with {kinds[1]}"
        return Fault(what, span, "one kind", _STANDARD, "Export again with one kind of GPS time.")
    if TimeKind.UNADJUSTED in kinds:
        what = f"GPS time {span} is GPS seconds from which 10^9 was not taken off"
        remedy = "Export with adjusted standard time."
        return Fault(what, span, "adjusted standard time", _STANDARD, remedy)
    if adjusted is None:
        return None
    stated = TimeKind.ADJUSTED if adjusted else TimeKind.WEEK
    if kinds[0] is stated:
        return None
    what = f"the time flag says {stated}, but the values can only be {kinds[0]} ({span})"
    return Fault(what, str(kinds[0]), str(stated), _STANDARD, remedy)


def _find_coarse(summary: TimeSummary, asked: GpsTimeCriteria) -> Fault | None:
    """Return how times were rounded until pulses share them, or None."""
    remedy = "Export again with GPS time in double precision."
    many = summary.points >= _ENOUGH_POINTS
    if many and summary.is_single_precision:
        step = summary.single_step
        what = (
            f"every GPS time fits a 32-bit float, which near {summary.last:.0f} has steps of "
            f"{step:g} s: the order of the pulses is lost"
        )
        found = f"GPS times in steps of {step:g} s"
        return Fault(what, found, "a time for each pulse", _PRACTICE, remedy)
    if summary.distinct is None:
        return None
    if summary.points > asked.max_points_per_time * summary.distinct:
        times = count_things(summary.distinct, "GPS time")
        what = f"{count_things(summary.points, 'point')} share {times}"
        found = f"{count_things(round(summary.points / summary.distinct), 'point')} to a GPS time"
        required = f"at most {count_things(asked.max_points_per_time, 'point')} to one"
        return Fault(what, found, required, _PRACTICE, remedy)
    return None
