"""Every seam of a delivery, measured: strips in lattice steps to steps in metres."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from lidar_checks.cloud.file_units import NoScale, Scale, find_vertical_scale
from lidar_checks.cloud.seam_groups import JudgedSeam
from lidar_checks.cloud.seam_plan import Box, Seam, Zone
from lidar_checks.cloud.seam_step import FEWEST_WINDOWS, Side, measure_step
from lidar_checks.cloud.seam_strip import StripSummary

PRACTICE = "common practice, no source"


class SeamCriteria(Criteria):
    """What makes a step at a seam.

    A step counts above `step_max_m`, above `mad_factor` times the seam's own scatter, and along
    `min_share_of_seam`. Tiles further apart than `gap_max_m` share no seam, nor do corners shorter
    than `shortest_m`.
    """

    strip_m: float = Field(default=2.0, gt=0, le=50, description=PRACTICE)
    cell_m: float = Field(default=0.5, gt=0, le=10, description=PRACTICE)
    step_max_m: float = Field(default=0.05, gt=0, description=PRACTICE)
    min_share_of_seam: float = Field(default=0.6, gt=0, le=1, description=PRACTICE)
    mad_factor: float = Field(default=4.0, ge=0, description=PRACTICE)
    gap_max_m: float = Field(default=2.0, ge=0, le=20, description=PRACTICE)
    shortest_m: float = Field(default=10.0, gt=0, description=PRACTICE)


class SeamPlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        scales: unit of X and Y, or why there is none, by path.
        common: the unit that the judged files have; None when there is none.
        boxes: boxes of the headers, lattice steps, by path.
        seams: every seam.
        zones: what is kept of each file, by path.
    """

    criteria: SeamCriteria
    scales: dict[str, Scale | NoScale]
    common: Scale | None
    boxes: dict[str, Box]
    seams: tuple[Seam, ...]
    zones: dict[str, tuple[Zone, ...]]

    def find_place(self, number: int) -> tuple[float, float]:
        """Return the middle of a seam, file units."""
        seam = self.seams[number]
        across, along = seam.line, (seam.start + seam.stop) / 2
        x, y = (across, along) if seam.axis == "x" else (along, across)
        return x / self.lattice.steps_xy, y / self.lattice.steps_xy

    def find_centre(self, box: Box) -> tuple[float, float]:
        """Return the middle of a box, file units."""
        steps = 2 * self.lattice.steps_xy
        return (box.x0 + box.x1) / steps, (box.y0 + box.y1) / steps


def judge_seams(
    plan: SeamPlan,
    summaries: Mapping[str, StripSummary | None],
    files: Mapping[str, DeliveredFile],
    evidence: Evidence,
) -> list[JudgedSeam]:
    """Measure every seam that has points on both sides."""
    if plan.common is None:
        return []
    asked, judged = plan.criteria, []
    heights = {path: find_vertical_scale(files[path], evidence, plan.common) for path in plan.boxes}
    for seam in plan.seams:
        sides = [
            _make_side(summaries.get(path), seam, plan, heights[path])
            for path in (seam.low, seam.high)
        ]
        low, high = sides
        if low is None or high is None:
            continue
        step = measure_step(low, high, asked.strip_m, asked.step_max_m)
        if step.windows >= FEWEST_WINDOWS:
            gate = max(asked.step_max_m, asked.mad_factor * step.mad_m)
            is_step = abs(step.delta_m) > gate and step.stepping >= asked.min_share_of_seam
            names = seam.number, seam.low, seam.high, seam.axis
            judged.append(JudgedSeam(*names, step.delta_m, gate, is_step, step.level_m))
    return judged


def _make_side(
    summary: StripSummary | None, seam: Seam, plan: SeamPlan, height: Scale
) -> Side | None:
    """Return the lowest points of one side of a seam in metres, or None where there are none."""
    points = summary.strips.get(seam.number) if summary is not None else None
    if points is None or plan.common is None:
        return None
    metres = float(plan.common.metres / plan.lattice.steps_xy)
    return Side(
        (points.across - seam.line).astype(np.float64) * metres,
        (points.along - seam.start).astype(np.float64) * metres,
        points.height.astype(np.float64) * float(height.metres / plan.lattice.steps_z),
    )
