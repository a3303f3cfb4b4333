"""Tile edges: no white line between two tiles, no strip in both, no point twice.

Neighbours are those of `seams`: boxes that touch, leave a small gap or overlap a little. Files that
lie on each other further than that, as flight lines do, are no tiles.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, PointCheck, Tally, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.chunk import Lattice
from ledger.model.phrases import count_things, tell_carried
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.edge_tally import FAR, Edge, EdgeSummary, EdgeTally, thin
from lidar_checks.cloud.file_units import PLAN_KEYS, NoScale, Scale
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.cloud.seam_plan import Seam, Sizes, measure_overlap, plan_seams
from lidar_checks.cloud.tile_boxes import find_boxes
from lidar_checks.header.tile_buffer import BUFFER_KEY, find_buffer_m, is_carried

PRACTICE = "common practice, no source"
_STRIP_M, _WINDOW_M, _APART_M, _SHORTEST_M = 2.0, 2.0, 4.0, 10.0
_FEWEST_WINDOWS = 5
# The outermost points of a window lie some 1 / (density · window) off an even border on each side.
_TIMES_EXPECTED = 3.0


class TileEdgesCriteria(Criteria):
    """What may lie between and beyond tiles.

    A gap counts above `gap_max_m`, and above three times what the density of the points leaves.
    """

    gap_max_m: float = Field(default=1.0, gt=0, description=PRACTICE)
    overlap_max_m: float = Field(default=0.1, ge=0, description=PRACTICE)
    double_points_max: int = Field(default=0, ge=0, description=PRACTICE)


class EdgePlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        scales: unit of X and Y, or why there is none, by path.
        common: the unit that the judged files have; None when there is none.
        seams: every seam.
        edges: borders of each file, by path.
        overlaps: by how much the boxes on both sides lie on each other, lattice steps, by seam.
        buffer_m: the buffer that was agreed, metres.
    """

    criteria: TileEdgesCriteria
    scales: dict[str, Scale | NoScale]
    common: Scale | None
    seams: tuple[Seam, ...]
    edges: dict[str, tuple[Edge, ...]]
    overlaps: tuple[int, ...]
    buffer_m: float

    def is_agreed(self, seam: Seam) -> bool:
        """Say whether two tiles lie on each other by no more than their agreed buffers."""
        allowed = 2 * self.buffer_m + self.criteria.overlap_max_m
        return self.buffer_m > 0 and self.overlaps[seam.number] * _get_metres(self) <= allowed

    def find_place(self, seam: Seam) -> tuple[float, float]:
        """Return the middle of a seam, file units."""
        across, along = seam.line, (seam.start + seam.stop) / 2
        x, y = (across, along) if seam.axis == "x" else (along, across)
        return x / self.lattice.steps_xy, y / self.lattice.steps_xy


class TileEdges(PointCheck):
    """Tiles that meet without gap and without doubles."""

    id = "tile-edges"
    title = "Tiles meet without a gap, an overlap or points in two of them"
    catalogue = ("FT-07",)
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, BUFFER_KEY)
    revision = 2
    dimensions = frozenset({"return_number", "withheld"})
    optional_dimensions = frozenset({"gps_time"})
    criteria = TileEdgesCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the unit of each file, and the borders of the tiles."""
        tiles = find_boxes(evidence)
        boxes = tiles.boxes
        seams: tuple[Seam, ...] = ()
        if tiles.common is not None:
            seams = plan_seams(boxes, _compute_sizes(tiles.common, evidence.lattice))
        edges: dict[str, tuple[Edge, ...]] = dict.fromkeys(boxes, ())
        for seam in seams:
            # Both ends, across, of what both boxes hold.
            ends = boxes[seam.high].span(seam.axis)[0], boxes[seam.low].span(seam.axis)[1]
            edges[seam.low] += (Edge(seam.zones[0], True, *ends),)  # noqa: FBT003
            edges[seam.high] += (Edge(seam.zones[1], False, *ends),)  # noqa: FBT003
        overlaps = tuple(measure_overlap(boxes[seam.low], boxes[seam.high]) for seam in seams)
        return EdgePlan(
            criteria,
            evidence.lattice,
            scales=tiles.scales,
            common=tiles.common,
            seams=seams,
            edges=edges,
            overlaps=overlaps,
            buffer_m=find_buffer_m(evidence),
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return empty borders of one file."""
        laid = cast("EdgePlan", plan)
        return EdgeTally(laid.edges[file.path]) if file.path in laid.edges else IdleTally()

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every seam."""
        laid = cast("EdgePlan", plan)
        if not summaries:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
            return
        unusable = list(self._list_unusable(laid, summaries))
        yield from unusable
        judged = 0
        against: list[Finding] = []
        for seam in laid.seams:
            low, high = (_get(summaries, path, seam.number) for path in (seam.low, seam.high))
            if low is not None and high is not None and low.points and high.points:
                judged += 1
                if not laid.is_agreed(seam):
                    against += [*self._judge_doubles(laid, seam, low, high)]
                against += [*self._judge_gap(laid, seam, low, high)]
        yield from against
        if not against and len(unusable) < len(summaries):
            yield self._tell_whole(laid, judged, evidence)

    def _tell_whole(self, plan: EdgePlan, judged: int, evidence: Evidence) -> Finding:
        """Return that no edge is at fault; a buffer that was only carried over proves none."""
        source = name_sources(plan, "gap_max_m", "overlap_max_m")
        if not judged:
            sentence = "No two tiles with points meet, so there is no edge to compare."
            return self.conforms(WHOLE_DELIVERY, sentence, criterion_source=source)
        beyond = f" beyond the agreed buffer of {plan.buffer_m:g} m" if plan.buffer_m else ""
        seams = count_things(judged, "seam")
        sentence = f"No gap, overlap or double point{beyond} at {seams}."
        if is_carried(evidence):
            told, remedy = tell_carried([BUFFER_KEY])
            return self.inconclusive(
                WHOLE_DELIVERY, f"{sentence} {told}", remedy=remedy, criterion_source=source
            )
        return self.conforms(WHOLE_DELIVERY, sentence, criterion_source=source)

    def _list_unusable(self, plan: EdgePlan, summaries: Mapping[str, Any]) -> Iterable[Finding]:
        for path in sorted(summaries):
            scale, where = plan.scales[path], Where(file=path)
            if isinstance(scale, NoScale):
                yield self.not_assessed(path, f"{path} {scale.reason}.", scale.needs, where=where)
            elif scale != plan.common:
                sentence = f"{path} has another unit of length than most files."
                yield self.not_assessed(path, sentence, ("one unit of length",), where=where)
            elif path not in plan.edges:
                sentence = f"{path} states no usable box in its header."
                yield self.not_assessed(path, sentence, ("header box",), where=where)

    def _judge_doubles(
        self, plan: EdgePlan, seam: Seam, low: EdgeSummary, high: EdgeSummary
    ) -> Iterable[Finding]:
        """Yield what lies in both tiles."""
        asked = plan.criteria
        level = max(low.level, high.level)
        common = np.intersect1d(thin(low.hashes, level), thin(high.hashes, level))
        doubles = len(common) << level
        reach = max(0, _median_reach(low, high)) * _get_metres(plan)
        parts = {
            "criterion_source": name_sources(plan, "double_points_max", "overlap_max_m"),
            "where": Where(file=seam.high, xy=plan.find_place(seam)),
            "remedy": f"Cut the tiles again with the buffer of {plan.buffer_m:g} m that job.toml "
            "states."
            if plan.buffer_m
            else "Cut the tiles again, each point in one tile only, or write the buffer that was "
            f"agreed in job.toml ({BUFFER_KEY}).",
        }
        if doubles > asked.double_points_max:
            about = "about " if level else ""
            yield self.nonconforming(
                Grade.MINOR,
                f"{seam.low} and {seam.high}",
                f"{about.capitalize()}{count_things(doubles, 'point')} are in both {seam.low} and "
                f"{seam.high}, which overlap by {reach:.2f} m.",
                observed=str(doubles),
                required=f"at most {asked.double_points_max}",
                unit="points",
                **parts,
            )
        elif low.beyond and high.beyond and reach > asked.overlap_max_m:
            yield self.nonconforming(
                Grade.OBSERVATION,
                f"{seam.low} and {seam.high}",
                f"{seam.low} and {seam.high} overlap by {reach:.2f} m, though no point is in both.",
                observed=f"{reach:.2f}",
                required=f"at most {asked.overlap_max_m:g}",
                unit="m",
                **parts,
            )

    def _judge_gap(
        self, plan: EdgePlan, seam: Seam, low: EdgeSummary, high: EdgeSummary
    ) -> Iterable[Finding]:
        """Yield a gap that runs along most of a seam."""
        gaps = _list_gaps(low, high)
        if len(gaps) < _FEWEST_WINDOWS:
            return
        gap = float(np.median(gaps)) * _get_metres(plan)
        limit = max(plan.criteria.gap_max_m, _TIMES_EXPECTED * _compute_expected(low, high))
        if gap > limit:
            yield self.nonconforming(
                Grade.MINOR,
                f"{seam.low} and {seam.high}",
                f"Between {seam.low} and {seam.high} a strip of {gap:.2f} m holds no points.",
                observed=f"{gap:.2f}",
                required=f"at most {limit:.2f}",
                unit="m",
                criterion_source=name_sources(plan, "gap_max_m"),
                remedy="Cut the tiles again from the whole cloud, with edges that touch.",
                where=Where(file=seam.high, xy=plan.find_place(seam)),
            )


def _get(summaries: Mapping[str, Any], path: str, number: int) -> EdgeSummary | None:
    found = summaries.get(path)
    return found.get(number) if found is not None else None


def _get_metres(plan: EdgePlan) -> float:
    """Return metres in a lattice step of X and Y."""
    return float(cast("Scale", plan.common).metres / plan.lattice.steps_xy)


def _list_gaps(low: EdgeSummary, high: EdgeSummary) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return the gap in each window in which both tiles have points, lattice steps."""
    both = (low.outermost != FAR) & (high.outermost != FAR)
    return np.asarray(high.outermost[both] - low.outermost[both])


def _median_reach(low: EdgeSummary, high: EdgeSummary) -> float:
    """Return by how much the tiles reach over each other, lattice steps."""
    gaps = _list_gaps(low, high)
    return -float(np.median(gaps)) if len(gaps) else 0.0


def _compute_expected(low: EdgeSummary, high: EdgeSummary) -> float:
    """Return the gap, metres, that points as dense as these leave between two even borders."""
    expected = 0.0
    for side in (low, high):
        windows = int(np.count_nonzero(side.outermost != FAR))
        expected += _STRIP_M * windows / side.points
    return expected


def _compute_sizes(scale: Scale, lattice: Lattice) -> Sizes:
    """Return lengths in lattice steps of the files' own unit."""

    def convert(metres: float) -> int:
        return max(1, round(Fraction(repr(metres)) / scale.metres * lattice.steps_xy))

    return Sizes(
        cell=convert(_WINDOW_M),
        strip=convert(_STRIP_M),
        gap=convert(_APART_M),
        shortest=convert(_SHORTEST_M),
    )
