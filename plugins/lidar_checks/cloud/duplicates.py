"""Exact duplicates: no point is delivered twice.

A flight line that was merged twice, or tiles that overlap, make a cloud look denser than it is. The
USGS Lidar Base Specification (revision history, v1.3 of 2018) prohibits duplicate points. How they
are counted stands in `repeated_points`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Figure,
    Finding,
    Grade,
    Outcome,
    Plan,
    PointCheck,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things, tell_carried
from lidar_checks.cloud.agreed_pairs import find_agreed_pairs
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import PLAN_KEYS
from lidar_checks.cloud.repeated_points import (
    Repeats,
    RepeatSummary,
    RepeatTally,
    choose_bits,
    count_repeats,
)
from lidar_checks.header.tile_buffer import BUFFER_KEY, find_buffer_m, is_carried

TOPIC = "Let pass"
_ALL_ACROSS = 0.5


class DuplicateCriteria(Criteria):
    """How many repeated points are let pass."""

    max_share: float = Field(
        default=0.001,
        ge=0,
        le=1,
        description="common practice, no source; the USGS Lidar Base "
        "Specification (revision history, v1.3) prohibits any",
    )


class DuplicatePlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        bits: how sparse a sample of the points is compared, as the headers count them.
    """

    criteria: DuplicateCriteria
    bits: int


class Duplicates(PointCheck):
    """No point comes twice."""

    id = "duplicates"
    title = "No point is delivered twice"
    catalogue = ("DN-02",)
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, BUFFER_KEY)
    revision = 3
    dimensions = frozenset()
    optional_dimensions = frozenset({"gps_time"})
    criteria = DuplicateCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Choose how sparse a sample is compared."""
        headers = (file.header for file in evidence.point_files if file.header is not None)
        bits = choose_bits(sum(header.point_count for header in headers))
        return DuplicatePlan(criteria, evidence.lattice, bits=bits)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - as the contract has it
        """Return an empty tally."""
        return RepeatTally(cast("DuplicatePlan", plan).bits)

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding | Figure]:
        """Compare all points with each other, across tiles too but for an agreed buffer.

        What is let pass is a number of its own, since nobody looks through what conforms.
        """
        laid = cast("DuplicatePlan", plan)
        read = {path: each for path, each in summaries.items() if each.points}
        if not read:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
            return
        found = count_repeats(read, find_agreed_pairs(evidence))
        finding = self._judge(laid, found, _name_fields(read.values()), evidence)
        yield finding
        if found.count and finding.outcome is Outcome.CONFORMS:
            yield _tell_let_pass(finding, laid.criteria.max_share, found.points)

    def _judge(
        self, plan: DuplicatePlan, found: Repeats, fields: str, evidence: Evidence
    ) -> Finding:
        limit = plan.criteria.max_share
        parts: dict[str, Any] = {
            "observed": f"{100 * found.count / found.points:.4f}",
            "required": f"{100 * limit:g}",
            "unit": "% of points",
            "criterion_source": name_sources(plan, "max_share"),
        }
        sentence = _describe(found, fields)
        if buffer := find_buffer_m(evidence):
            sentence += f" What tiles share within the agreed buffer of {buffer:g} m is left out."
        if found.high <= limit * found.points and is_carried(evidence):
            told, remedy = tell_carried([BUFFER_KEY])
            return self.inconclusive(WHOLE_DELIVERY, f"{sentence} {told}", remedy=remedy, **parts)
        if found.high <= limit * found.points:
            return self.conforms(WHOLE_DELIVERY, sentence, **parts)
        parts["remedy"] = (
            "Leave out the second copy and export again: a line was merged twice."
            if found.across < _ALL_ACROSS
            else "Cut the tiles again without overlap, or write the buffer that was agreed in "
            f"job.toml ({BUFFER_KEY})."
        )
        parts["where"] = Where(file=found.fullest)
        if found.low <= limit * found.points:
            return self.inconclusive(WHOLE_DELIVERY, sentence, **parts)
        if "GPS time" not in fields:
            told = f"{sentence} Without GPS times, places that were rounded alike count too."
            return self.nonconforming(Grade.OBSERVATION, WHOLE_DELIVERY, told, **parts)
        return self.nonconforming(Grade.MINOR, WHOLE_DELIVERY, sentence, **parts)


def _tell_let_pass(finding: Finding, limit: float, points: int) -> Figure:
    sentence = f"{finding.sentence} Up to {100 * limit:g} % are let pass."
    return Figure(
        "duplicates", TOPIC, sentence, finding.observed, finding.unit, points, is_inner=True
    )


def _name_fields(summaries: Iterable[RepeatSummary]) -> str:
    timed = all(each.timed or each.points == 1 for each in summaries)
    return "X, Y, Z and GPS time" if timed else "X, Y and Z"


def _describe(found: Repeats, fields: str) -> str:
    points = count_things(found.points, "point")
    if not found.count and not found.bits:
        return f"None of {points} repeats another in {fields}."
    share = 100 * found.count / found.points
    if not found.bits:
        sentence = f"{found.count:,} of {points} ({share:.4f} %) repeat another in {fields}"
    else:
        sample = f"one point in {2**found.bits:,} was compared"
        low, high = (100 * each / found.points for each in (found.low, found.high))
        sentence = (
            f"About {share:.4f} % of {points} repeat another in {fields} (95 %: {low:.4f} to "
            f"{high:.4f} %; {sample})"
        )
    return f"{sentence}, most of them in {found.fullest}." if found.fullest else f"{sentence}."
