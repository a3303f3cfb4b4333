"""What all swath checks count together in one file: sources, columns of heights, sample patches."""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import PointChunk
from ledger.dataclass import dataclass
from lidar_checks.cloud.class_codes import HIGH_NOISE, LOW_NOISE
from lidar_checks.swath.height_columns import ColumnCounts, HeightColumns
from lidar_checks.swath.patch_cells import PatchCells, PatchSizes, measure_patches
from lidar_checks.swath.patch_sample import PatchSample, drop_coarse_times
from lidar_checks.swath.patch_window import PatchWindow


@dataclass(frozen=True)
class PassSummary:
    """What is left of a file.

    Args:
        points: points read, all of them.
        sources: points by point source id.
        timed: points have GPS times fine enough to tell passes apart.
        level: one patch in 2 to the power of this was looked at.
        columns: counts by column and bin of height, without withheld points and noise.
        cells: what the patches show, by the side of a cell in lattice steps.
    """

    points: int
    sources: tuple[tuple[int, int], ...]
    timed: bool
    level: int
    columns: ColumnCounts
    cells: dict[int, PatchCells | None]


class PassTally:
    """Counts of one file."""

    def __init__(
        self, sizes: PatchSizes, limit: int, expected: int = 0, level: int = 0, bits: int = 0
    ) -> None:
        """Take the sizes of patches and cells, and what a sample takes, see `PatchSample`."""
        self.sizes = sizes
        self.points = 0
        self.timed = False
        self.sources: dict[int, int] = {}
        self.sample = PatchSample(sizes.side, limit, expected, level, bits)
        self.columns = HeightColumns(sizes.bin)

    def chunk(self, points: PointChunk) -> None:
        """Take in some points."""
        if not len(points):
            return
        self.points += len(points)
        self._count_sources(cast("NDArray[np.uint16]", points["point_source_id"]))
        if not self.timed and "gps_time" in points.names:
            self.timed = bool(points["gps_time"].any())
        window = PatchWindow(points, self.sizes.side)
        self.sample.add(points, window)
        codes = cast("NDArray[np.uint8]", points["classification"])
        noise = (codes == LOW_NOISE) | (codes == HIGH_NOISE)
        noise |= points["withheld"].astype(np.bool_, copy=False)
        self.columns.add(window, ~noise if noise.any() else None)

    def merge(self, other: PassTally) -> None:
        """Take in another part of the same file."""
        self.points += other.points
        self.timed |= other.timed
        for source, count in other.sources.items():
            self.sources[source] = self.sources.get(source, 0) + count
        self.sample.merge(other.sample)
        self.columns.merge(other.columns)

    def close(self) -> PassSummary:
        """Measure the patches and drop their points."""
        kept = self.sample.close()
        if kept is not None:
            kept = drop_coarse_times(kept)
        cells = {cell: measure_patches(kept, self.sizes, cell) for cell in self.sizes.cells}
        return PassSummary(
            points=self.points,
            sources=tuple(sorted(self.sources.items())),
            timed=self.timed and (kept is None or bool(kept.time.any())),
            level=self.sample.level,
            columns=self.columns.close(),
            cells=cells,
        )

    def _count_sources(self, source: NDArray[np.uint16]) -> None:
        low, high = int(source.min()), int(source.max())
        if low == high:
            self.sources[low] = self.sources.get(low, 0) + len(source)
            return
        counts = np.bincount(source)
        for each in np.flatnonzero(counts).tolist():
            self.sources[each] = self.sources.get(each, 0) + int(counts[each])
