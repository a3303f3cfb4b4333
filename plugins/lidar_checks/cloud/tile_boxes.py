"""The boxes of all tiles that have one unit, as their headers state them."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from lidar_checks.cloud.file_units import NoScale, Scale, find_common_scale, find_horizontal_scale
from lidar_checks.cloud.seam_plan import Box, compute_box


@dataclass(frozen=True)
class TileBoxes:
    """Where tiles lie.

    Args:
        scales: horizontal unit of each point file, or why it has none.
        common: the unit that most of them have; None when none has one.
        boxes: of the files in that unit, those that a header states, lattice steps.
    """

    scales: Mapping[str, Scale | NoScale]
    common: Scale | None
    boxes: Mapping[str, Box]


def find_boxes(evidence: Evidence) -> TileBoxes:
    """Return the boxes of the tiles; a file in another unit, or without a usable box, has none."""
    scales = {file.path: find_horizontal_scale(file, evidence) for file in evidence.point_files}
    common = find_common_scale(scales.values())
    boxes = {
        file.path: box
        for file in evidence.point_files
        if common is not None
        and scales[file.path] == common
        and file.header is not None
        and (box := compute_box(file.header, evidence.lattice)) is not None
    }
    return TileBoxes(scales, common, boxes)
