"""Thinning that shows in the points themselves.

A preview or a light preset left on makes a cloud that looks whole. Whether it was thinned to a
distance or to a grid shows where passes lie over each other: their points keep apart, which two
passes never do by chance (see `close_pairs`). A cloud of which every nth point was kept, or of
which each pass was thinned by itself, shows nothing of the kind and is not found.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

from pydantic import Field

from ledger.contract.check import (
    Criteria,
    Finding,
    Grade,
    Plan,
    PointCheck,
    PointChunk,
    Tally,
    Where,
)
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import (
    HEIGHT_KEYS,
    PLAN_KEYS,
    NoScale,
    find_horizontal_scale,
    find_vertical_scale,
)
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.swath.close_pairs import (
    ClosePairs,
    add_up,
    count_close_pairs,
    expect_close,
    lay_out_blocks,
    measure_nearest,
)
from lidar_checks.swath.patch_sample import PatchSample, drop_coarse_times
from lidar_checks.swath.patch_window import PatchWindow
from lidar_checks.swath.swath_family import PAUSE_S

FEWEST_BLOCKS = 30
"""Blocks without which nothing is said (common practice, no source)."""

FEWEST_PAIRS = 40
"""So many close pairs have to be expected before their absence says anything."""

# Passes that lie over each other like two gratings keep apart as well: then one place beside a
# point is of its own pass, and another place of the other. After thinning any may be of either.
_MOST_UNEVEN = 0.5

_LONGEST = 2**62
_POINTS_A_BLOCK = 128
_MOST_KEPT = 1 << 15
_SMALLEST_SIDE = 9
_NEEDS_TIME = ("gps_time",)
_NEEDS_PASSES = ("two passes over the same ground in one file",)


class ThinnedCriteria(Criteria):
    """How few close pairs are the work of thinning."""

    least_share: float = Field(
        default=0.3,
        gt=0,
        lt=1,
        description="common practice, no source: close pairs of two passes that are there, of "
        "those that chance would leave",
    )


@dataclass(frozen=True)
class BlockSizes:
    """What the tally of a file needs; see `lay_out_blocks`."""

    side: int
    rise: float
    metres: float


class ThinnedPlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        sizes: of the files that can be judged, by path.
        reasons: why the others cannot, by path.
    """

    criteria: ThinnedCriteria
    sizes: dict[str, BlockSizes]
    reasons: dict[str, NoScale]


@dataclass(frozen=True)
class ThinnedSummary:
    """What is left of a file.

    Args:
        points: points read.
        timed: points have GPS times fine enough to tell passes apart.
        pairs: what its blocks show.
        nearest: how near neighbours lie, see `measure_nearest`; looked for where the pairs speak
            of thinning, since the search loads a library.
    """

    points: int
    timed: bool
    pairs: ClosePairs
    nearest: tuple[float, float] | None = None


class ThinnedTally:
    """All points of some blocks of one file."""

    def __init__(self, sizes: BlockSizes, asked: ThinnedCriteria, expected: int) -> None:
        """Take the sizes, the criteria, and how many points the file states."""
        self.sizes, self.asked, self.points = sizes, asked, 0
        self.sample = PatchSample(sizes.side, _MOST_KEPT, expected)

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if len(points):
            self.points += len(points)
            self.sample.add(points, PatchWindow(points, self.sizes.side))

    def merge(self, other: ThinnedTally) -> None:
        """Take in another part of the same file."""
        self.points += other.points
        self.sample.merge(other.sample)

    def close(self) -> ThinnedSummary:
        """Count pairs and drop the points."""
        kept = self.sample.close()
        if kept is None:
            return ThinnedSummary(self.points, timed=False, pairs=ClosePairs())
        kept = drop_coarse_times(kept)
        if not kept.time.any():
            return ThinnedSummary(self.points, timed=False, pairs=ClosePairs())
        points = lay_out_blocks(kept, self.sizes.side, PAUSE_S, self.sizes.rise)
        pairs = count_close_pairs(points)
        nearest = None
        if points is not None and _is_thinned(pairs, self.asked):
            nearest = measure_nearest(points)
        return ThinnedSummary(self.points, timed=True, pairs=pairs, nearest=nearest)


class ThinnedPoints(PointCheck):
    """No trace of thinning."""

    id = "thinned-points"
    title = "Points of different passes do not keep apart, as they do after thinning"
    catalogue = ("PS-04",)
    needs = ("points",)
    fields = ("run.thinning", "step.thinning")
    specification_keys = (*PLAN_KEYS, *HEIGHT_KEYS)
    dimensions = frozenset({"classification", "number_of_returns", "point_source_id", "withheld"})
    optional_dimensions = frozenset({"gps_time"})
    criteria = ThinnedCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Choose the blocks of each file from what its header says of its density."""
        sizes: dict[str, BlockSizes] = {}
        reasons: dict[str, NoScale] = {}
        for file in evidence.point_files:
            plan = find_horizontal_scale(file, evidence)
            if isinstance(plan, NoScale):
                reasons[file.path] = plan
                continue
            steps, up = evidence.lattice.steps_xy, evidence.lattice.steps_z
            height = find_vertical_scale(file, evidence, plan)
            rise = height.metres / up / (plan.metres / Fraction(steps))
            sizes[file.path] = BlockSizes(
                max(_SMALLEST_SIDE, _find_side(file, steps)),
                float(rise),
                float(plan.metres) / steps,
            )
        return ThinnedPlan(criteria, evidence.lattice, sizes=sizes, reasons=reasons)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally, or one that passes over a file without a usable unit."""
        laid = cast("ThinnedPlan", plan)
        sizes = laid.sizes.get(file.path)
        if sizes is None:
            return IdleTally()
        expected = file.header.point_count if file.header is not None else 0
        return ThinnedTally(sizes, laid.criteria, expected)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Judge each file that shows enough by itself, and the rest together."""
        laid = cast("ThinnedPlan", plan)
        for path in sorted(laid.reasons.keys() & summaries.keys()):
            why = laid.reasons[path]
            where = Where(file=path)
            yield self.not_assessed(path, f"{path} {why.reason}.", why.needs, where=where)
        read: dict[str, ThinnedSummary] = {
            path: each
            for path, each in sorted(summaries.items())
            if isinstance(each, ThinnedSummary) and each.points
        }
        if not read:
            if not laid.reasons:
                yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
            return
        files = {file.path: file for file in evidence.files}
        against = [path for path, each in read.items() if each.nearest is not None]
        for path in against:
            yield self._report(laid, path, read[path], files.get(path))
        rest = {path: each for path, each in read.items() if path not in against}
        if rest:
            yield self._judge_together(laid, rest)

    def _judge_together(self, plan: ThinnedPlan, read: Mapping[str, ThinnedSummary]) -> Finding:
        together = add_up([each.pairs for each in read.values()])
        parts = _tell_parts(plan, together)
        if not any(each.timed for each in read.values()):
            return self.not_assessed(
                WHOLE_DELIVERY,
                "Without GPS times fine enough nothing tells one pass from the next, and points of "
                "one pass keep apart by themselves.",
                _NEEDS_TIME,
            )
        if not together.seen_twice:
            return self.not_assessed(
                WHOLE_DELIVERY,
                "No ground was passed over twice in one file, and points of one pass keep apart by "
                "themselves.",
                _NEEDS_PASSES,
            )
        if not _has_power(together):
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"Passes lie well over each other in {count_things(together.blocks, 'block')} that "
                "were looked at, too few to say whether points were thinned.",
                **parts,
            )
        if _is_sparse(together, plan.criteria) and not _is_mixed(together):
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{_describe(together)} The passes lie over each other like two gratings, so that "
                "this says nothing of thinning.",
                **parts,
            )
        if _is_sparse(together, plan.criteria):
            return self._accuse(WHOLE_DELIVERY, _describe(together), parts, None)
        return self.conforms(WHOLE_DELIVERY, _describe(together), **parts)

    def _report(
        self, plan: ThinnedPlan, path: str, summary: ThinnedSummary, file: DeliveredFile | None
    ) -> Finding:
        metres = plan.sizes[path].metres
        near, usual = summary.nearest or (0.0, 0.0)
        sentence = (
            f"{path}: {_describe(summary.pairs)} Nearest neighbours lie {usual * metres:.3f} m "
            f"apart, 5 % of them {near * metres:.3f} m or less."
        )
        parts = {**_tell_parts(plan, summary.pairs), "where": Where(file=path)}
        name, stated = _find_stated(file)
        if stated is None:
            return self._accuse(path, sentence, parts, None)
        if stated.value == "none":
            return self._accuse(path, sentence, parts, name)
        told = f"{sentence} {name} says so: thinning “{stated.value}”."
        if stated.can_prove:
            return self.conforms(path, told, **parts)
        return self.inconclusive(path, f"{told} Nobody has confirmed it.", **parts)

    def _accuse(
        self, subject: str, sentence: str, parts: dict[str, Any], denied_by: str | None
    ) -> Finding:
        denied = f", though {denied_by} says that they were not" if denied_by else ""
        return self.nonconforming(
            Grade.OBSERVATION,
            subject,
            f"{sentence} So points were thinned{denied}.",
            remedy="Look which step or preset thinned them; export again without it, or record how "
            "they were thinned (thinning) if that was agreed.",
            **parts,
        )


def _find_side(file: DeliveredFile, steps: int) -> int:
    """Return the side of a block with some points, lattice steps.

    0 where nothing is known, or the box is larger than coordinates can be.
    """
    header = file.header
    if header is None or not header.point_count:
        return 0
    wide, deep = (header.maximum[axis] - header.minimum[axis] for axis in (0, 1))
    side = math.sqrt(max(0.0, wide * deep) / header.point_count * _POINTS_A_BLOCK) * steps
    return round(side) if side < _LONGEST else 0  # nor is NaN


def _find_stated(file: DeliveredFile | None) -> tuple[str, KnownValue | None]:
    """Return the run or step behind a file that says how points were thinned, and what it says.

    One that thinned comes before one that did not.
    """
    found: tuple[str, KnownValue | None] = ("", None)
    lines = file.custody.lines if file is not None and file.custody is not None else ()
    for process in (process for line in lines for process in line.processes):
        value = process.find_value("thinning")
        if value is not None and value.value != "none":
            return process.id, value
        if value is not None and found[1] is None:
            found = process.id, value
    return found


def _list_shares(pairs: ClosePairs) -> list[tuple[int, float]]:
    """Return close pairs, and those that were to be expected, where these are enough."""
    both = zip(pairs.close, expect_close(pairs), strict=True)
    return [(close, expected) for close, expected in both if expected >= FEWEST_PAIRS]


def _has_power(pairs: ClosePairs) -> bool:
    return pairs.blocks >= FEWEST_BLOCKS and bool(_list_shares(pairs))


def _is_sparse(pairs: ClosePairs, asked: ThinnedCriteria) -> bool:
    return any(close <= asked.least_share * expected for close, expected in _list_shares(pairs))


def _is_mixed(pairs: ClosePairs) -> bool:
    return pairs.uneven <= _MOST_UNEVEN * pairs.all_pairs


def _is_thinned(pairs: ClosePairs, asked: ThinnedCriteria) -> bool:
    return _has_power(pairs) and _is_sparse(pairs, asked) and _is_mixed(pairs)


def _find_worst(pairs: ClosePairs) -> tuple[int, float]:
    shares = _list_shares(pairs)
    if not shares:
        return pairs.close[0], expect_close(pairs)[0]
    return min(shares, key=lambda each: each[0] / each[1])


def _describe(pairs: ClosePairs) -> str:
    close, expected = _find_worst(pairs)
    return (
        f"In {count_things(pairs.blocks, 'block')} where passes lie over each other "
        f"{count_things(close, 'pair')} of points of two passes lie close together, where "
        f"{expected:.0f} are to be expected by chance."
    )


def _tell_parts(plan: ThinnedPlan, pairs: ClosePairs) -> dict[str, Any]:
    close, expected = _find_worst(pairs)
    return {
        "observed": f"{100 * close / expected:.0f}" if expected else "",
        "required": f"more than {100 * plan.criteria.least_share:g}",
        "unit": "% of the close pairs of chance",
        "criterion_source": name_sources(plan, "least_share"),
    }
