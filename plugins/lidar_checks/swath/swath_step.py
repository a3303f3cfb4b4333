"""Steps in height between swaths, where both saw the same smooth ground.

Each cell in which two passes left a smooth surface of less than 10 degrees gives one difference, in
the middle of planes laid through the only returns of each. USGS Lidar Base Specification 2025
rev. A, "Interswath Consistency": differences on slopes below 10 degrees, by point source id, their
RMSD against a limit, and no step that is contiguous and prevalent. Passes of one point source id
are told apart by the pause between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Figure, Finding, Grade, Plan, Raster, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.swath.joined_rows import Pair, Rows, join_rows, list_pairs
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import (
    NO_PATCH,
    PRACTICE,
    SwathCheck,
    find_smooth,
    find_times,
    get_family,
    tell_sample,
)
from lidar_checks.swath.swath_family import CELL_M
from lidar_checks.swath.swath_map import draw_differences

TOPIC = "Where swaths overlap"
"""The heading of figures about strips."""

FEWEST_CELLS = 20
"""Cells that a pair needs before its difference means anything (common practice, no source)."""

_FEWEST_IN_PATCH = 4
_MOST_OF_PATCH = 0.6


class SwathStepCriteria(Criteria):
    """How far swaths may differ.

    A patch of ground steps when the differences in most of its cells are greater than `step_max_m`
    and of one sign.
    """

    rmsd_max_m: float = Field(
        default=0.08, gt=0, description=f"{PRACTICE}; a profile sets that of its quality level"
    )
    step_max_m: float = Field(
        default=0.08,
        gt=0,
        description='USGS Lidar Base Specification 2025 rev. A, "Interswath Consistency": 8 cm, '
        "for quality levels 1 and 2",
    )
    max_share_of_patches: float = Field(default=0.1, ge=0, le=1, description=PRACTICE)
    slope_max_deg: float = Field(
        default=10.0,
        gt=0,
        le=45,
        description='USGS Lidar Base Specification 2025 rev. A, "Interswath Consistency"',
    )
    rough_max_m: float = Field(default=0.08, gt=0, description=PRACTICE)


class SwathStep(SwathCheck):
    """Swaths that agree in height."""

    id = "swath-step"
    title = "Overlapping swaths agree in height on smooth ground"
    catalogue = ("SW-01",)
    revision = 4
    criteria = SwathStepCriteria

    def judge(
        self,
        plan: Plan,
        summaries: Mapping[str, PassSummary],
        evidence: Evidence,
    ) -> Iterable[Finding | Figure | Raster]:
        """Measure every pair of swaths."""
        asked = cast("SwathStepCriteria", plan.criteria)
        rows = join_rows(summaries, get_family(plan), CELL_M)
        if not can_tell(summaries):
            yield self._tell_blind()
            return
        if rows is None:
            yield self.inconclusive(WHOLE_DELIVERY, NO_PATCH)
            return
        smooth = rows.take(find_smooth(rows, asked.slope_max_deg, asked.rough_max_m))
        pairs = list(list_pairs(smooth))
        large = [pair for pair in pairs if len(pair.step_m) >= FEWEST_CELLS]
        if not large:
            cells = sum(len(pair.step_m) for pair in pairs)
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"Two passes saw smooth ground in {count_things(cells, 'cell')} of {CELL_M:g} m"
                f"{tell_sample(rows.level)}, fewer than {FEWEST_CELLS} for any pair, so no "
                "difference between swaths is known.",
            )
            return
        yield tell_steps(large)
        drawn = draw_differences(large, smooth, plan.lattice)
        if drawn is not None:
            yield drawn
        against = [self._judge_pair(plan, pair, smooth, evidence) for pair in large]
        yield from (finding for finding in against if finding is not None)
        if not any(against):
            yield self._tell_good(plan, large, rows.level)

    def _judge_pair(
        self, plan: Plan, pair: Pair, smooth: Rows, evidence: Evidence
    ) -> Finding | None:
        """Return the finding against one pair, or None."""
        asked = cast("SwathStepCriteria", plan.criteria)
        median, rmsd = float(np.median(pair.step_m)), compute_rmsd(pair.step_m)
        judged, stepping, worst = _count_patches(pair, smooth, asked.step_max_m)
        told, required, observed = "", asked.rmsd_max_m, rmsd
        if rmsd > asked.rmsd_max_m:
            told = f"RMSD {rmsd:.3f} m"
        elif abs(median) > asked.step_max_m:
            told, required, observed = f"median {median:+.3f} m", asked.step_max_m, abs(median)
        elif judged and stepping > asked.max_share_of_patches * judged:
            told = f"{stepping} of {judged} patches step by more than {asked.step_max_m:g} m"
            required, observed = asked.max_share_of_patches, stepping / judged
        if not told:
            return None
        name = name_pair(pair)
        unit = "share of patches" if required == asked.max_share_of_patches and judged else "m"
        place, other = int(pair.rows[worst]), int(pair.others[worst])
        return self.nonconforming(
            Grade.MINOR,
            name,
            f"{name.capitalize()} differ in height by {_describe(pair.step_m)} in "
            f"{count_things(len(pair.step_m), 'smooth cell')}: {told}.",
            observed=f"{observed:.3f}",
            required=f"at most {required:g}",
            unit=unit,
            criterion_source=name_sources(plan, "rmsd_max_m", "step_max_m", "max_share_of_patches"),
            remedy="Adjust the strips, or process again with the right trajectory and boresight; "
            "then audit again.",
            where=Where(
                file=smooth.paths[int(smooth["file"][place])],
                xy=smooth.find_place(place, plan.lattice.steps_xy),
                cell=name,
                strips=tuple(f"swath {number}" for number in sorted({pair.low, pair.high})),
                time_span=find_times(smooth, (place, other), evidence),
            ),
        )

    def _tell_good(self, plan: Plan, pairs: list[Pair], level: int) -> Finding:
        cells = sum(len(pair.step_m) for pair in pairs)
        worst = max(pairs, key=lambda pair: compute_rmsd(pair.step_m))
        asked = cast("SwathStepCriteria", plan.criteria)
        return self.conforms(
            WHOLE_DELIVERY,
            f"{count_things(len(pairs), 'pair')} of swaths agree in {count_things(cells, 'cell')} "
            f"of {CELL_M:g} m{tell_sample(level)}; the worst, {name_pair(worst)}: RMSD "
            f"{compute_rmsd(worst.step_m):.3f} m, median {float(np.median(worst.step_m)):+.3f} m.",
            observed=f"{compute_rmsd(worst.step_m):.3f}",
            required=f"at most {asked.rmsd_max_m:g}",
            unit="m",
            criterion_source=name_sources(plan, "rmsd_max_m", "step_max_m"),
        )

    def _tell_blind(self) -> Finding:
        return self.not_assessed(
            WHOLE_DELIVERY,
            "Swaths cannot be told apart: every point source id is the same, and there is no GPS "
            "time fine enough.",
            ("point_source_id", "gps_time"),
        )


def tell_steps(pairs: list[Pair]) -> Figure:
    """Return the median step of each pair."""
    medians = [float(np.median(pair.step_m)) for pair in pairs]
    most = max(medians, key=abs)
    return Figure(
        "strip-differences",
        TOPIC,
        f"Median differences in height of {count_things(len(pairs), 'pair')} of swaths: "
        f"{min(medians):+.3f} to {max(medians):+.3f} m.",
        f"{most:.4f}",
        "m",
        len(pairs),
        listed=tuple(name_pair(pair) for pair in pairs),
        values=tuple(f"{each:.4f}" for each in medians),
        is_inner=True,
    )


def can_tell(summaries: Mapping[str, PassSummary]) -> bool:
    """Say whether passes can be told apart at all."""
    sources = {source for each in summaries.values() for source, _ in each.sources}
    return len(sources) > 1 or any(each.timed for each in summaries.values())


def compute_rmsd(steps: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    """Return the root mean square difference."""
    return math.sqrt(math.fsum(step * step for step in steps.tolist()) / len(steps))


def name_pair(pair: Pair) -> str:
    """Return how a person would call two swaths."""
    if pair.low == pair.high:
        return f"passes of swath {pair.low}"
    return f"swaths {pair.low} and {pair.high}"


def _describe(steps: np.ndarray[tuple[int], np.dtype[np.float64]]) -> str:
    """Return the median step, and whether it is the same everywhere."""
    median = float(np.median(steps))
    scatter = float(np.median(np.abs(steps - median)))
    pattern = "nearly the same everywhere" if scatter < abs(median) / 3 else "changing from place"
    ending = "" if pattern.startswith("nearly") else " to place"
    return f"{median:+.3f} m, {pattern}{ending},"


def _count_patches(pair: Pair, smooth: Rows, limit: float) -> tuple[int, int, int]:
    """Return patches judged, patches that step, and the place in the pair of the worst one."""
    column, row = (smooth[name][pair.rows].astype(np.int64) for name in ("column", "row"))
    order = np.lexsort((row, column))
    column, row, steps = column[order], row[order], pair.step_m[order]
    begins = np.ones(len(order), dtype=np.bool_)
    begins[1:] = (np.diff(column) != 0) | (np.diff(row) != 0)
    first = np.flatnonzero(begins)
    count = np.diff(first, append=len(order))
    ups, downs = (np.add.reduceat((sign * steps > limit).astype(int), first) for sign in (1, -1))
    judged = count >= _FEWEST_IN_PATCH
    stepping = judged & (np.maximum(ups, downs) >= _MOST_OF_PATCH * count)
    # The mean of absolute steps, of the patches that could be judged if any could.
    means = np.add.reduceat(np.abs(steps), first) / count
    worst = int(order[first[int(np.argmax(np.where(judged, means + 1e6, means)))]])
    return int(judged.sum()), int(stepping.sum()), worst
