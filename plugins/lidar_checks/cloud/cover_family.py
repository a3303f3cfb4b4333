"""The family of checks of density and cover, and what its members have in common."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, ClassVar, cast

from ledger.contract.check import (
    Criteria,
    Family,
    FamilyCheck,
    Finding,
    NoCriteria,
    Plan,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.chunk import Lattice
from ledger.model.phrases import count_things
from lidar_checks.cloud.cover_tally import CoverSummary, CoverTally, Wanted
from lidar_checks.cloud.file_units import (
    PLAN_KEYS,
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
)
from lidar_checks.cloud.idle_tally import IdleTally


class CoverPlan(Plan):
    """What a member worked out before the points.

    Attributes:
        scales: unit of X and Y, or why there is none, by path.
        common: the unit that the judged files have; None when there is none.
        wanted: what it asks of the tally.
    """

    scales: dict[str, Scale | NoScale]
    common: Scale | None
    wanted: tuple[Wanted, ...]


class CoverFamily(Family):
    """Counts once for all checks of density and cover."""

    id = "cover"
    dimensions = frozenset(
        {
            "classification",
            "number_of_returns",
            "point_source_id",
            "return_number",
            "withheld",
        }
    )

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Join what the members ask for."""
        plans = [cast("CoverPlan", plan) for plan in members.values()]
        wanted = sorted({wanted for plan in plans for wanted in plan.wanted})
        return CoverPlan(
            NoCriteria(),
            evidence.lattice,
            scales=plans[0].scales,
            common=plans[0].common,
            wanted=tuple(wanted),
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty count, or one that passes over a file without a usable unit."""
        laid = cast("CoverPlan", plan)
        if laid.common is None or laid.scales.get(file.path) != laid.common:
            return IdleTally()
        return CoverTally(laid.wanted)


class CoverCheck(FamilyCheck):
    """A check that counts with the family."""

    needs: ClassVar[tuple[str, ...]] = ("points",)
    specification_keys: ClassVar[tuple[str, ...]] = PLAN_KEYS
    family = CoverFamily()

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the unit of each file, and ask for what the check needs."""
        scales = {f.path: find_horizontal_scale(f, evidence) for f in evidence.point_files}
        common = find_common_scale(scales.values())
        plan = CoverPlan(criteria, evidence.lattice, scales=scales, common=common, wanted=())
        if common is not None:
            self.lay_out(plan, common)
        return plan

    def lay_out(self, plan: CoverPlan, scale: Scale) -> None:
        """Put into the plan what is asked of the tally; `wanted` at least."""
        raise NotImplementedError

    def list_faults(
        self, plan: CoverPlan, summaries: Mapping[str, Any]
    ) -> Iterator[tuple[str, Finding]]:
        """Yield why a file cannot be judged, with its path."""
        for path in sorted(summaries):
            where, scale, summary = Where(file=path), plan.scales[path], summaries[path]
            if isinstance(scale, NoScale):
                sentence = f"{path} {scale.reason}."
                yield path, self.not_assessed(path, sentence, scale.needs, where=where)
            elif summary is None:
                sentence = (
                    f"{path} has another unit of length than most files, so its cells differ."
                )
                yield path, self.not_assessed(path, sentence, ("one unit of length",), where=where)
            elif _is_scattered(summary, plan.wanted):
                sentence = (
                    f"The points in {path} are scattered over an area too large to be counted."
                )
                yield path, self.inconclusive(path, sentence, where=where)
            else:
                yield from self._find_kind_fault(plan, path, summary)

    def _find_kind_fault(
        self, plan: CoverPlan, path: str, summary: CoverSummary
    ) -> Iterator[tuple[str, Finding]]:
        """Yield that a file holds none of the points that count."""
        for wanted in plan.wanted:
            if wanted.kind in ("ground", "water", "building", "all") or not summary.points:
                continue
            if _count_kind(summary, wanted):
                continue
            where = Where(file=path)
            if summary.unnumbered == summary.points:
                told = f"Every return number in {path} is 0, so {wanted.kind} cannot be counted."
                yield path, self.not_assessed(path, told, ("return_number",), where=where)
            else:
                points = count_things(summary.points, "point")
                told = f"None of the {points} in {path} is one of the {wanted.kind} asked for."
                yield path, self.inconclusive(path, told, where=where)
            return

    def tell_nothing_read(self) -> Finding:
        """Return that there is no point at all."""
        return self.not_assessed(
            WHOLE_DELIVERY, "No point was read, so nothing can be counted.", ("points",)
        )


def _is_scattered(summary: CoverSummary, asked: tuple[Wanted, ...]) -> bool:
    for wanted in asked:
        if wanted in summary.counts and summary.counts[wanted].scattered:
            return True
        if wanted in summary.cells and summary.cells[wanted].overflown:
            return True
        sources = summary.sources.get(wanted)
        if sources is not None and any(each.overflown for each in sources.cells.values()):
            return True
    return False


def _count_kind(summary: CoverSummary, wanted: Wanted) -> int:
    """Return how many points, or cells with points, of a kind a file has; 1 for some."""
    if wanted in summary.counts:
        return summary.counts[wanted].counted
    if wanted in summary.cells:
        return len(summary.cells[wanted].keys)
    sources = summary.sources[wanted]
    return int(sources.crowded) or sum(sources.counted.values())


def exact(number: float) -> Fraction:
    """Return the decimal that a person typed, not its binary neighbour."""
    return Fraction(repr(number))


def compute_steps(metres: float | Fraction, scale: Scale, lattice: Lattice) -> int:
    """Return a length in lattice steps of the file's own unit, at least 1."""
    length = metres if isinstance(metres, Fraction) else exact(metres)
    return max(1, round(length / scale.metres * lattice.steps_xy))


def floor_percent(share: Fraction) -> str:
    """Return percent with two decimals, never rounded up to a criterion that is not met."""
    hundredths = share * 10_000 // 1
    return f"{hundredths // 100}.{hundredths % 100:02d}"
