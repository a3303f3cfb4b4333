"""The steps at all seams as one small map: along each border how much its two tiles differ."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ledger.contract.check import Raster
from ledger.contract.rasters import Sheet
from lidar_checks.cloud.seam_groups import JudgedSeam
from lidar_checks.cloud.seam_measure import SeamPlan

_STEPS_IN_M = 1000


def draw_seams(plan: SeamPlan, judged: Sequence[JudgedSeam]) -> Raster | None:
    """Return a map of the steps that were measured; None where no seam was.

    A cell is as wide as the strip on one side of a border. Where seams meet in one cell, it shows
    the larger step.
    """
    if not judged or plan.common is None:
        return None
    width = plan.criteria.strip_m / float(plan.common.metres)
    cell = max(1, round(width * plan.lattice.steps_xy))
    places = [_list_cells(plan, seam, cell) for seam in judged]
    columns = np.concatenate([columns for columns, _ in places])
    rows = np.concatenate([rows for _, rows in places])
    steps = [round(seam.delta_m * _STEPS_IN_M) for seam in judged]
    values = np.repeat(np.array(steps, dtype=np.int64), [len(one) for one, _ in places])
    extent = (int(columns.min()), int(rows.min()), int(columns.max()), int(rows.max()))
    sheet = Sheet(cell, plan.lattice, extent, keep="largest")
    sheet.add(columns, rows, values)
    title = "Step at each seam: west or south tile less the other"
    return sheet.draw("seam-steps", title, step=1 / _STEPS_IN_M, unit="m")


def _list_cells(
    plan: SeamPlan, judged: JudgedSeam, cell: int
) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], ...]:
    """Return column and row of every cell that a seam runs through."""
    seam = plan.seams[judged.number]
    along = np.arange(seam.start // cell, seam.stop // cell + 1, dtype=np.int64)
    # Borders mostly lie on edges of cells; half a cell off, a few centimetres move no seam.
    across = np.full_like(along, (seam.line - cell // 2) // cell)
    return (across, along) if seam.axis == "x" else (along, across)
