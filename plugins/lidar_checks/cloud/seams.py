"""Seams: no step in height where two tiles meet.

Catches tiles of another run or height system that a checkpoint set does not touch. How a step is
measured stands in `seam_step`, what makes it a tile's fault and not the ground's in `seam_groups`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any, cast

from ledger.contract.check import Criteria, Finding, Grade, Plan, PointCheck, Raster, Tally, Where
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.chunk import Lattice
from ledger.model.lineage import CustodyState
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import HEIGHT_KEYS, PLAN_KEYS, NoScale, Scale
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.cloud.seam_cause import CAUSE_KEYS, name_cause
from lidar_checks.cloud.seam_groups import JudgedSeam, StandingOff, group_tiles
from lidar_checks.cloud.seam_map import draw_seams
from lidar_checks.cloud.seam_measure import SeamCriteria, SeamPlan, judge_seams
from lidar_checks.cloud.seam_plan import Box, Seam, Sizes, Zone, plan_seams
from lidar_checks.cloud.seam_strip import StripSummary, StripTally
from lidar_checks.cloud.tile_boxes import find_boxes

_DECIDING = ("step_max_m", "mad_factor", "min_share_of_seam")


class Seams(PointCheck):
    """Tiles that fit together in height."""

    id = "seams"
    title = "No tile stands off from its neighbours in height"
    catalogue = ("VD-08",)
    revision = 3
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, *HEIGHT_KEYS, *CAUSE_KEYS)
    dimensions = frozenset({"classification", "withheld"})
    criteria = SeamCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the unit of each file, the boxes and the seams between them."""
        asked = cast("SeamCriteria", criteria)
        tiles = find_boxes(evidence)
        seams: tuple[Seam, ...] = ()
        if tiles.common is not None:
            seams = plan_seams(tiles.boxes, _compute_sizes(asked, tiles.common, evidence.lattice))
        zones: dict[str, tuple[Zone, ...]] = dict.fromkeys(tiles.boxes, ())
        for seam in seams:
            zones[seam.low] += (seam.zones[0],)
            zones[seam.high] += (seam.zones[1],)
        return SeamPlan(
            asked,
            evidence.lattice,
            scales=tiles.scales,
            common=tiles.common,
            boxes=tiles.boxes,
            seams=seams,
            zones=zones,
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return empty strips for the seams of one file."""
        laid = cast("SeamPlan", plan)
        if file.path not in laid.boxes:
            return IdleTally()
        return StripTally(laid.boxes[file.path], laid.zones[file.path])

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Raster]:
        """Measure every seam, then say which tiles stand off."""
        laid = cast("SeamPlan", plan)
        if not summaries:
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        elif len(evidence.point_files) == 1:
            yield self.conforms(
                WHOLE_DELIVERY, "There is one tile only, so there is nothing to compare."
            )
        elif len(summaries) == 1:
            count = len(evidence.point_files)
            sentence = (
                f"Only one of {count_things(count, 'tile')} could be read, so no seam could be "
                "compared."
            )
            yield self.inconclusive(WHOLE_DELIVERY, sentence)
        else:
            files = {file.path: file for file in evidence.files}
            yield from self._report_unusable(laid, summaries)
            judged = judge_seams(laid, summaries, files, evidence)
            drawn = draw_seams(laid, judged)
            if drawn is not None:
                yield drawn
            grouping = group_tiles(judged)
            for tile in grouping.standing_off:
                yield self._report_standing_off(tile, laid, files[tile.path], evidence)
            for seam in grouping.open:
                yield self._report_open(seam, laid)
            yield from self._report_blind(laid, judged, summaries)
            if not grouping.standing_off and not grouping.open:
                yield from self._report_level(laid, judged, len(grouping.ground))

    def _report_unusable(
        self, plan: SeamPlan, summaries: Mapping[str, StripSummary | None]
    ) -> Iterable[Finding]:
        """Say which files could not be compared with their neighbours, and why."""
        for path in sorted(summaries):
            where, scale, summary = Where(file=path), plan.scales[path], summaries[path]
            if isinstance(scale, NoScale):
                yield self.not_assessed(path, f"{path} {scale.reason}.", scale.needs, where=where)
            elif scale != plan.common:
                sentence = f"{path} has another unit of length than most files."
                yield self.not_assessed(path, sentence, ("one unit of length",), where=where)
            elif path not in plan.boxes:
                sentence = f"{path} states no usable box in its header."
                yield self.not_assessed(path, sentence, ("header box",), where=where)
            elif summary is not None and summary.box is not None:
                off = _measure_box_fault(plan.boxes[path], summary.box) / plan.lattice.steps_xy
                off_m = off * float(scale.metres)
                if off_m > plan.criteria.strip_m:
                    yield self.inconclusive(
                        path,
                        f"The header box of {path} is {off_m:.2f} m off its points, so its seams "
                        "were looked for in the wrong place.",
                        where=where,
                    )

    def _report_standing_off(
        self, tile: StandingOff, plan: SeamPlan, file: DeliveredFile, evidence: Evidence
    ) -> Finding:
        asked, box = plan.criteria, plan.boxes[tile.path]
        metres = float(cast("Scale", plan.common).metres) / plan.lattice.steps_xy
        radius = math.hypot(box.x1 - box.x0, box.y1 - box.y0) / 2 * metres
        places = [plan.find_place(seam.number) for seam in tile.seams] or [plan.find_centre(box)]
        cause = name_cause(tile.rise_m, places, radius, file, evidence)
        return self.nonconforming(
            Grade.MAJOR,
            tile.path,
            f"{_describe(tile)}{' ' + cause if cause else ''}",
            observed=f"{tile.rise_m:.3f}",
            required=f"within {asked.step_max_m:g}",
            unit="m",
            criterion_source=name_sources(plan, *_DECIDING),
            remedy=_find_remedy(file, evidence),
            where=Where(file=tile.path, xy=plan.find_centre(box)),
        )

    def _report_open(self, seam: JudgedSeam, plan: SeamPlan) -> Finding:
        word = "above" if seam.delta_m > 0 else "below"
        return self.inconclusive(
            f"{seam.low} and {seam.high}",
            f"{seam.low} lies {abs(seam.delta_m):.2f} m {word} {seam.high} at their common seam. "
            "No other seam shows whether this is a wrong height or a cliff in the ground.",
            observed=f"{seam.delta_m:.3f}",
            required=f"within {plan.criteria.step_max_m:g}",
            unit="m",
            criterion_source=name_sources(plan, *_DECIDING),
            remedy="Compare both tiles with a checkpoint or with the runs that made them.",
            where=Where(file=seam.low, xy=plan.find_place(seam.number)),
        )

    def _report_blind(
        self,
        plan: SeamPlan,
        judged: Iterable[JudgedSeam],
        summaries: Mapping[str, StripSummary | None],
    ) -> Iterable[Finding]:
        """Name the tiles that have seams of which none could be judged."""
        seen = {path for seam in judged for path in (seam.low, seam.high)}
        for path, zones in sorted(plan.zones.items()):
            summary = summaries.get(path)
            if zones and path not in seen and summary is not None and summary.points:
                yield self.inconclusive(
                    path,
                    f"No seam of {path} could be judged: too few points on both sides, or no "
                    "surface to carry to the border.",
                    where=Where(file=path, xy=plan.find_centre(plan.boxes[path])),
                )

    def _report_level(
        self, plan: SeamPlan, judged: Sequence[JudgedSeam], ground: int
    ) -> Iterable[Finding]:
        """Say that nothing stands off, and how small a step would have been seen."""
        if not plan.boxes:
            return
        if not plan.seams:
            gap = plan.criteria.gap_max_m
            sentence = (
                f"No two of {count_things(len(plan.boxes), 'tile')} lie within {gap:g} m, so there "
                "is no seam to compare."
            )
            yield self.conforms(WHOLE_DELIVERY, sentence)
        elif judged:
            gates = sorted(seam.gate_m for seam in judged)
            sentence = (
                f"No tile stands off at {len(judged)} of {count_things(len(plan.seams), 'seam')}; "
                f"half of them would show a step of {gates[len(gates) // 2]:.3f} m, all one of "
                f"{gates[-1]:.3f} m"
            )
            if ground:
                sentence += f"; steps that are ground, since a way round shows none: {ground}"
            yield self.conforms(
                WHOLE_DELIVERY, sentence + ".", criterion_source=name_sources(plan, *_DECIDING)
            )


def _compute_sizes(asked: SeamCriteria, scale: Scale, lattice: Lattice) -> Sizes:
    """Return the criteria in lattice steps of the files' own unit."""

    def convert(metres: float) -> int:
        return round(Fraction(repr(metres)) / scale.metres * lattice.steps_xy)

    return Sizes(
        cell=max(1, convert(asked.cell_m)),
        strip=convert(asked.strip_m),
        gap=convert(asked.gap_max_m),
        shortest=convert(asked.shortest_m),
    )


def _measure_box_fault(stated: Box, found: Box) -> int:
    """Return by how much the worst side of a stated box misses the points, lattice steps."""
    pairs = zip(stated.list_sides(), found.list_sides(), strict=True)
    return max(abs(a - b) for a, b in pairs)


def _find_remedy(file: DeliveredFile, evidence: Evidence) -> str:
    """Return what to do with a tile that stands off: another file, or the same one made again."""
    typed = quote_path(f"{evidence.folder}/{file.path}")
    custody = file.custody
    if custody is not None and custody.state is CustodyState.ACCEPTED:
        return (
            "It is the file of the accepted run: look what was done to it otherwise than to its "
            f"neighbours (swathbook trace {typed}), and make it again."
        )
    return (
        f"Find the run that made this file (swathbook trace {typed}), and deliver the file of the "
        "accepted run."
    )


def _count_seams(tile: StandingOff) -> str:
    if len(tile.seams) < tile.judged:
        return f"{len(tile.seams)} of {count_things(tile.judged, 'seam')}"
    return f"all {count_things(tile.judged, 'seam')}" if tile.judged > 1 else "its only seam"


def _describe(tile: StandingOff) -> str:
    word = "above" if tile.rise_m > 0 else "below"
    rise = f"{abs(tile.rise_m):.2f} m {word}"
    if tile.seams:
        sentence = f"{tile.path} lies {rise} its neighbours along {_count_seams(tile)}"
    else:
        sentence = f"{tile.path} lies {rise} the rest of the delivery, with the files round it"
    if tile.group > 1:
        sentence += f"; {count_things(tile.group, 'file')} lie so"
    if tile.is_even:
        sentence += (
            ", as many as lie the other way, so that the records have to tell which is wrong"
        )
    return sentence + "."
