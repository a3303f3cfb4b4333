"""Flyers: lone points far above or below everything round them, and not marked as noise.

Birds, dust and multipath leave single points in the air or under the ground. A point is lone when
its column of 16 m and the eight round it hold hardly any other within a few metres of its height,
while they hold plenty at other heights. Points of class 7 or 18 and withheld ones are no flyers
(ASPRS LAS 1.4 R15, table 17: low point and high noise).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import cast

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.swath.height_columns import ColumnCounts, join_counts, pack, unpack
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import PRACTICE, SwathCheck, get_family
from lidar_checks.swath.swath_family import BIN_M

Int64Array = NDArray[np.int64]

# Bins on either side that have to be empty: with bins of 2 m a clearance of 4 to 6 m.
_CLEAR = 2
# Points of other heights round a flyer; a lone point in an empty place is an edge, not noise.
_PLENTY = 50


class FlyersCriteria(Criteria):
    """What is lone, and how many may be."""

    max_points: int = Field(default=0, ge=0, description=PRACTICE)
    cluster_max_points: int = Field(
        default=3, ge=1, le=50, description=f"{PRACTICE}: more together are a thing, not noise"
    )


@dataclass(frozen=True)
class Lone:
    """Lone points of one bin.

    Args:
        column, row, level: its place, in columns and bins.
        count: its points.
        is_below: it lies below all else in its column and round it.
    """

    column: int
    row: int
    level: int
    count: int
    is_below: bool


class Flyers(SwathCheck):
    """No lone points that nobody marked."""

    id = "flyers"
    title = "Lone points far above or below the rest are marked as noise"
    catalogue = ("SW-04",)
    criteria = FlyersCriteria

    def judge(
        self,
        plan: Plan,
        summaries: Mapping[str, PassSummary],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Look at the columns of all files together."""
        asked = cast("FlyersCriteria", plan.criteria)
        counts = join_counts([each.columns for each in summaries.values()])
        lone = find_lone(counts, asked.cluster_max_points)
        points = sum(each.count for each in lone)
        parts = {
            "observed": str(points),
            "required": f"at most {asked.max_points}",
            "unit": "points",
            "criterion_source": name_sources(plan, "max_points", "cluster_max_points"),
        }
        if points <= asked.max_points:
            sentence = f"{count_things(points, 'lone point')} more than {_CLEAR * BIN_M:g} m off."
            if not points:
                sentence = f"No point lies alone, more than {_CLEAR * BIN_M:g} m off all others."
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        below = sum(each.count for each in lone if each.is_below)
        first = min(lone, key=lambda each: (not each.is_below, each.level))
        family = get_family(plan)
        side = 2 * next(iter(family.sizes.values())).side
        place = ((first.column + 0.5) * side, (first.row + 0.5) * side)
        path = _find_file(summaries, first)
        yield self.nonconforming(
            Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"{count_things(points, 'point')} in no noise class and not withheld "
            f"{agree(points, 'lies', 'lie')} alone, more than {_CLEAR * BIN_M:g} m off all "
            f"others: {below} below the ground, {points - below} above; for one, see {path} near "
            f"height {(first.level + 0.5) * BIN_M:.0f} m.",
            remedy="Look at them in a section; give low ones class 7 and high ones class 18, or "
            "flag them withheld.",
            where=Where(
                file=path,
                xy=(place[0] / plan.lattice.steps_xy, place[1] / plan.lattice.steps_xy),
            ),
            **parts,
        )


def find_lone(counts: ColumnCounts, most: int) -> list[Lone]:
    """Return the bins whose points lie alone, in order of their place."""
    column, row, level = unpack(counts.key)
    candidates = np.flatnonzero(counts.count <= most)
    near = np.zeros(len(candidates), dtype=np.int64)
    around = np.zeros(len(candidates), dtype=np.int64)
    lowest = np.full(len(candidates), np.iinfo(np.int64).max)
    run = np.concatenate([[0], np.cumsum(counts.count)])
    a, b, c = column[candidates], row[candidates], level[candidates]
    bottom, top = np.full_like(c, -(1 << 20)), np.full_like(c, 1 << 20)
    for along, up in ((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)):
        start, stop = _find_span(counts.key, (a + along, b + up), (bottom, top))
        around += run[stop] - run[start]
        held = stop > start
        lowest[held] = np.minimum(lowest[held], level[start[held]])
        start, stop = _find_span(counts.key, (a + along, b + up), (c - _CLEAR, c + _CLEAR))
        near += run[stop] - run[start]
    chosen = (near <= most) & (around - near >= _PLENTY)
    return [
        Lone(int(a[i]), int(b[i]), int(c[i]), int(counts.count[candidates[i]]), bool(is_below))
        for i, is_below in zip(
            np.flatnonzero(chosen).tolist(), (c <= lowest + _CLEAR)[chosen].tolist(), strict=True
        )
    ]


def _find_span(
    key: Int64Array, place: tuple[Int64Array, Int64Array], ends: tuple[Int64Array, Int64Array]
) -> tuple[Int64Array, Int64Array]:
    """Return where the bins between two heights of each column begin and end in the keys."""
    start = np.searchsorted(key, pack(*place, ends[0]), "left")
    stop = np.searchsorted(key, pack(*place, ends[1]), "right")
    return start, stop


def _find_file(summaries: Mapping[str, PassSummary], lone: Lone) -> str:
    """Return the first file that holds the point."""
    place = (np.array([each]) for each in (lone.column, lone.row, lone.level))
    wanted = int(pack(*place)[0])
    for path in sorted(summaries):
        keys = summaries[path].columns.key
        index = int(np.searchsorted(keys, wanted))
        if index < len(keys) and int(keys[index]) == wanted:
            return path
    return ""
