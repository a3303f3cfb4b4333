"""How thick a smooth surface is in a single pass.

USGS Lidar Base Specification 2025 rev. A, "Intraswath Precision": in each cell the highest less the
lowest point, corrected by slope × cell × 1.414, the slope being the largest one between the lowest
points of the cell and of its eight neighbours; then the RMSD over hard surfaces with only returns.
Here cells count in which at least half of the points are only returns, and these lie on a gentle
plane; the others are left out. Of a cloud denser than 32 points a square metre, which is far denser
than those that the specification was written for, a part of the points is looked at: the range
of all of them would be that of the noise of thousands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import cast

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.swath.joined_rows import join_rows
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.swath_check import (
    PRACTICE,
    SwathCheck,
    find_smooth,
    find_times,
    get_family,
    tell_sample,
)
from lidar_checks.swath.swath_family import CELL_M
from lidar_checks.swath.swath_step import compute_rmsd

Float64Array = NDArray[np.float64]

FEWEST_CELLS = 30
"""Cells without which no RMSD is said; the specification looks at about 100 a sample area."""

_DIAGONAL = 1.414


class SurfaceThicknessCriteria(Criteria):
    """How thick a surface may be."""

    rmsd_max_m: float = Field(
        gt=0, description="only the customer or a profile can say how thick a surface may be"
    )
    cell_m: float = Field(
        default=CELL_M,
        ge=0.25,
        le=10,
        description='USGS Lidar Base Specification 2025 rev. A, "Intraswath Precision": '
        "CEILING(ANPS) × 2, for an ANPS up to 1 m",
    )
    slope_max_deg: float = Field(default=10.0, gt=0, le=45, description=PRACTICE)
    rough_max_m: float = Field(default=0.08, gt=0, description=PRACTICE)


class SurfaceThickness(SwathCheck):
    """Thin surfaces within each pass."""

    id = "surface-thickness"
    title = "Smooth surfaces are thin within a single pass"
    catalogue = ("SW-03",)
    revision = 4
    criteria = SurfaceThicknessCriteria

    def judge(
        self,
        plan: Plan,
        summaries: Mapping[str, PassSummary],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Work out the RMSD over all files."""
        asked = cast("SurfaceThicknessCriteria", plan.criteria)
        rows = join_rows(summaries, get_family(plan), asked.cell_m)
        values = np.empty(0)
        if rows is not None:
            smooth = find_smooth(rows, asked.slope_max_deg, asked.rough_max_m)
            smooth &= np.isfinite(rows["lowest_slope"].astype(np.float64))
            smooth &= 2 * rows["on_surface"].astype(np.int64) >= rows["points"].astype(np.int64)
            rows = rows.take(smooth)
            values = compute_precision(
                rows["range_m"].astype(np.float64),
                rows["lowest_slope"].astype(np.float64),
                asked.cell_m,
            )
        if rows is None or len(values) < FEWEST_CELLS:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"Only {count_things(len(values), 'cell')} of {asked.cell_m:g} m hold a smooth "
                f"surface of only returns, fewer than {FEWEST_CELLS}.",
            )
            return
        rmsd = compute_rmsd(values)
        worst = int(np.argmax(values))
        sentence = (
            f"Single-pass thickness in {count_things(len(values), 'smooth cell')} of "
            f"{asked.cell_m:g} m{tell_sample(rows.level)}: RMSD {rmsd:.3f} m, "
            f"{float(values.min()):.3f} to {float(values.max()):.3f} m."
        )
        parts = {
            "observed": f"{rmsd:.3f}",
            "required": f"at most {asked.rmsd_max_m:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "rmsd_max_m", "cell_m"),
        }
        if rmsd <= asked.rmsd_max_m:
            yield self.conforms(WHOLE_DELIVERY, sentence, **parts)
            return
        yield self.nonconforming(
            Grade.MINOR,  # blank until somebody asks for it: what is asked for is not met
            WHOLE_DELIVERY,
            sentence,
            remedy="Look at a section of a roof or road there; calibrate again, or leave out long "
            "ranges and wide angles.",
            where=Where(
                file=rows.paths[int(rows["file"][worst])],
                xy=rows.find_place(worst, plan.lattice.steps_xy),
                strips=(f"swath {int(rows['source'][worst])}",),
                time_span=find_times(rows, (worst,), evidence),
            ),
            **parts,
        )


def compute_precision(range_m: Float64Array, slope: Float64Array, cell_m: float) -> Float64Array:
    """Return range − slope × cell × 1.414; where the slope takes all of it, zero.

    Source: USGS Lidar Base Specification 2025 rev. A, "Intraswath Precision".

    Args:
        range_m: highest less lowest point of each cell, metres, (n,).
        slope: largest slope to the eight neighbours, as a decimal, (n,).
        cell_m: side of a cell, metres.
    """
    return np.maximum(0.0, range_m - slope * cell_m * _DIAGONAL)
