"""Scan angles: there, possible, whole and on both sides.

Source of the ranges: ASPRS LAS 1.4 R15: in point formats 0 to 5 whole degrees from -90 to +90, in
formats 6 to 10 steps of 0.006 degrees from -30,000 to +30,000. What is said of their distribution
is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, FamilyCheck, Finding, Grade, Plan, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.attributes import AttributeFamily, AttributeSummary

_STANDARD = "ASPRS LAS 1.4 R15, scan angle and scan angle rank"
_PRACTICE = "common practice, no source"
_FIRST_EXTENDED_FORMAT = 6
# Next values inward that the last value is held against, and how many values make a range.
_BESIDE = 5
_FEWEST_VALUES = 10


class ScanAngleCriteria(Criteria):
    """When the distribution of scan angles is worth a look."""

    fewest_points: int = Field(
        default=10_000, ge=1, description="common practice, no source: fewer points show no range"
    )
    piled_up_share: float = Field(
        default=0.02, gt=0, le=1, description="common practice, no source"
    )
    piled_up_factor: float = Field(default=5.0, gt=1, description="common practice, no source")
    other_side_min_share: float = Field(
        default=0.001, ge=0, le=0.5, description="common practice, no source"
    )


@dataclass(frozen=True)
class _Kind:
    """How a point format stores angles."""

    degrees: float
    limit: int


_KINDS = {False: _Kind(1.0, 90), True: _Kind(0.006, 30_000)}


@dataclass(frozen=True)
class _Fault:
    sentence: str
    observed: str
    required: str
    source: str
    remedy: str


class ScanAngles(FamilyCheck):
    """Scan angles that can be right."""

    id = "scan-angles"
    title = "Scan angles are there, possible and whole"
    catalogue = ("FT-09",)
    needs = ("points",)
    family = AttributeFamily()
    criteria = ScanAngleCriteria

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge each file, then the two sides of the whole delivery."""
        asked = cast("ScanAngleCriteria", plan.criteria)
        kinds = {file.path: _find_kind(file) for file in evidence.point_files}
        filled: dict[str, AttributeSummary] = {
            path: summaries[path] for path in sorted(summaries) if summaries[path].angles
        }
        if not filled:
            yield self.not_assessed(WHOLE_DELIVERY, "No scan angle was read.", ("points",))
            return
        faults: list[Finding] = []
        for path, summary in filled.items():
            fault = _find_fault(summary.angles, kinds[path], asked)
            if fault is not None:
                faults.append(self._observe(path, fault, Where(file=path)))
        if not faults:
            side = _find_one_sided([each.angles for each in filled.values()], asked)
            faults += [self._observe(WHOLE_DELIVERY, side, Where())] if side is not None else []
        yield from faults
        if not faults:
            low, high = _find_span(filled, kinds)
            sentence = f"Scan angles lie between {low:.1f}° and {high:.1f}°."
            yield self.conforms(WHOLE_DELIVERY, sentence)

    def _observe(self, subject: str, fault: _Fault, where: Where) -> Finding:
        told = fault.sentence[0].upper() + fault.sentence[1:]
        return self.nonconforming(
            Grade.OBSERVATION,
            subject,
            f"{subject}: {fault.sentence}." if where.file else f"{told}.",
            observed=fault.observed,
            required=fault.required,
            criterion_source=fault.source,
            remedy=fault.remedy,
            where=where,
        )


def _find_kind(file: DeliveredFile) -> _Kind:
    return _KINDS[file.header is None or file.header.point_format >= _FIRST_EXTENDED_FORMAT]


def _find_fault(angles: Mapping[int, int], kind: _Kind, asked: ScanAngleCriteria) -> _Fault | None:
    """Return what is wrong with the angles of one file, worst first, or None."""
    points = sum(angles.values())
    if max(*angles, kind.limit) > kind.limit or min(*angles, -kind.limit) < -kind.limit:
        far = {angle: count for angle, count in angles.items() if abs(angle) > kind.limit}
        worst = max(far, key=lambda angle: (abs(angle), angle)) * kind.degrees
        beyond, most = sum(far.values()), kind.limit * kind.degrees
        has = agree(beyond, "has", "have")
        return _Fault(
            f"{beyond:,} of {count_things(points, 'point')} {has} a scan angle beyond "
            f"±{most:g}°, as far as {worst:.1f}°",
            f"{worst:.1f}°",
            f"at most ±{most:g}°",
            _STANDARD,
            "Export again with scan angles in the unit of the point format.",
        )
    if points < asked.fewest_points:
        return None
    if len(angles) == 1:
        only = next(iter(angles)) * kind.degrees
        return _Fault(
            f"every scan angle is {only:g}°, so nothing can be judged by angle",
            f"{only:g}° in every point",
            "the angle of each point",
            _PRACTICE,
            "Export again with scan angles, if the scanner gives them and the customer wants them.",
        )
    ends = tuple(_find_piled_up(angles, asked))
    if not ends:
        return None
    told = " and ".join(f"{angle * kind.degrees:.1f}°" for angle in ends)
    count = sum(angles[angle] for angle in ends)
    return _Fault(
        f"{count:,} of {count_things(points, 'point')} have a scan angle of exactly {told}, the "
        "end of the range: larger angles were cut to it",
        f"{count / points * 100:.1f} % at {told}",
        f"less than {asked.piled_up_factor:g} times as many as beside it",
        _PRACTICE,
        "Export again with the angles as the scanner gave them, in a point format that holds them.",
    )


def _find_piled_up(angles: Mapping[int, int], asked: ScanAngleCriteria) -> Iterator[int]:
    """Yield the ends of the range on which far more points lie than on the values beside."""
    values, points = sorted(angles), sum(angles.values())
    if len(values) < _FEWEST_VALUES:
        return
    for end, beside in (
        (values[0], values[1 : 1 + _BESIDE]),
        (values[-1], values[-1 - _BESIDE : -1]),
    ):
        usual = sum(angles[each] for each in beside) / _BESIDE
        if angles[end] > asked.piled_up_share * points and (
            angles[end] > asked.piled_up_factor * usual
        ):
            yield end


def _find_one_sided(tables: Iterable[Mapping[int, int]], asked: ScanAngleCriteria) -> _Fault | None:
    """Return that one side is not there in the whole delivery; one tile may lie on one side."""
    left = right = zero = 0
    for angles in tables:
        values, counts = (np.fromiter(each, np.int64) for each in (angles, angles.values()))
        left += int(counts[values < 0].sum())
        right += int(counts[values > 0].sum())
        zero += angles.get(0, 0)
    turned = left + right
    if left + right + zero < asked.fewest_points or not turned:
        return None
    if min(left, right) >= asked.other_side_min_share * turned:
        return None
    side, other = ("right", "left") if right > left else ("left", "right")
    return _Fault(
        f"{max(left, right):,} of {count_things(turned, 'scan angle')} that "
        f"{agree(turned, 'is', 'are')} not 0 point to the {side}: the sign was lost, or one side "
        "was not scanned",
        f"{min(left, right) / turned * 100:.2f} % to the {other}",
        f"at least {asked.other_side_min_share * 100:g} % on either side",
        _PRACTICE,
        "Look whether the scanner sees to one side only; if not, export again with signed angles.",
    )


def _find_span(
    filled: Mapping[str, AttributeSummary], kinds: Mapping[str, _Kind]
) -> tuple[float, float]:
    lows = [min(each.angles) * kinds[path].degrees for path, each in filled.items()]
    highs = [max(each.angles) * kinds[path].degrees for path, each in filled.items()]
    return min(lows), max(highs)
