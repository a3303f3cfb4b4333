"""The family of the swath checks: one tally a file serves all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import cast

from ledger.contract.check import DeliveredFile, Evidence, Family, NoCriteria, Plan, Tally
from ledger.dataclass import dataclass
from ledger.model.chunk import Lattice
from lidar_checks.cloud.file_units import (
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
    find_vertical_scale,
)
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.swath.pass_tally import PassTally
from lidar_checks.swath.patch_cells import PatchSizes
from lidar_checks.swath.sample_share import FEWEST_POINTS, choose_bits, choose_level

CELL_M = 2.0
"""Side of a cell, metres: CEILING(ANPS) × 2 for an ANPS up to 1 m (USGS Lidar Base Specification
2025 rev. A, "Intraswath Precision")."""

PATCH_CELLS = 4
BIN_M = 2.0
PAUSE_S = 10.0
"""A patch is left and seen again by another pass after so long (common practice, no source)."""

# Kept points of a file: one in 24 of those stated, within limits of time and memory.
_SHARE = 24
_LEAST_KEPT, _MOST_KEPT = 1 << 15, FEWEST_POINTS


@dataclass(frozen=True)
class FileUnits:
    """Units of the files.

    Args:
        scales: unit of X and Y, or why there is none, by path.
        common: the unit that the judged files have; None when there is none.
        heights: unit of Z, by path of the files that are judged.
    """

    scales: dict[str, Scale | NoScale]
    common: Scale | None
    heights: dict[str, Scale]


def find_units(evidence: Evidence) -> FileUnits:
    """Return the units of all point files."""
    scales = {f.path: find_horizontal_scale(f, evidence) for f in evidence.point_files}
    common = find_common_scale(scales.values())
    heights: dict[str, Scale] = {}
    if common is not None:
        heights = {
            file.path: find_vertical_scale(file, evidence, common)
            for file in evidence.point_files
            if scales[file.path] == common
        }
    return FileUnits(scales, common, heights)


class MemberPlan(Plan):
    """What each member works out.

    Attributes:
        units: units of the files.
    """

    units: FileUnits


class SwathPlan(Plan):
    """What was worked out before the points.

    Attributes:
        units: units of the files.
        sizes: lengths in lattice steps, by path of the files that are judged.
        steps: side of a cell in lattice steps, by its side in metres.
        xy_m: metres in a lattice step of X and Y.
        level: level of sampling at which the patches of all files together stay bounded.
    """

    units: FileUnits
    sizes: dict[str, PatchSizes]
    steps: dict[float, int]
    xy_m: float
    level: int


class SwathFamily(Family):
    """Patches, sources and columns of heights."""

    id = "swath"
    dimensions = frozenset({"classification", "number_of_returns", "point_source_id", "withheld"})
    optional_dimensions = frozenset({"gps_time"})

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Find the sizes of cells that the members ask for."""
        asked = {CELL_M, *(getattr(plan.criteria, "cell_m", CELL_M) for plan in members.values())}
        # Every member has found the same units.
        units = cast("MemberPlan", next(iter(members.values()))).units
        steps: dict[float, int] = {}
        sizes: dict[str, PatchSizes] = {}
        xy_m = 0.0
        if units.common is not None:
            xy_m = float(units.common.metres / evidence.lattice.steps_xy)
            steps = {
                cell: _convert(cell, units.common, evidence.lattice.steps_xy) for cell in asked
            }
            for path, height in units.heights.items():
                sizes[path] = _make_sizes(steps, height, evidence.lattice, xy_m)
        return SwathPlan(
            NoCriteria(),
            evidence.lattice,
            units=units,
            sizes=sizes,
            steps=steps,
            xy_m=xy_m,
            level=_choose_level(sizes, evidence),
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally, or one that passes over a file without a usable unit."""
        laid = cast("SwathPlan", plan)
        if file.path not in laid.sizes:
            return IdleTally()
        stated = file.header.point_count if file.header is not None else 0
        limit = min(_MOST_KEPT, max(_LEAST_KEPT, stated // _SHARE))
        common = laid.units.common
        bits = choose_bits(file.header, 1 / float(common.metres)) if common is not None else 0
        return PassTally(laid.sizes[file.path], limit, stated, laid.level, bits)


FAMILY = SwathFamily()


def _choose_level(sizes: Mapping[str, PatchSizes], evidence: Evidence) -> int:
    """Return the level of sampling for the files that are judged."""
    if not sizes:
        return 0
    headers = (
        file.header
        for file in evidence.point_files
        if file.path in sizes and file.header is not None
    )
    side = next(iter(sizes.values())).side / evidence.lattice.steps_xy
    return choose_level(headers, side)


def _make_sizes(
    steps: Mapping[float, int], height: Scale, lattice: Lattice, xy_m: float
) -> PatchSizes:
    cells = tuple(sorted(set(steps.values())))
    return PatchSizes(
        side=PATCH_CELLS * cells[-1],
        cells=cells,
        bin=_convert(BIN_M, height, lattice.steps_z),
        pause_s=PAUSE_S,
        xy_m=xy_m,
        z_m=float(height.metres / lattice.steps_z),
    )


def _convert(metres: float, scale: Scale, steps: int) -> int:
    """Return a length in lattice steps of the file's own unit."""
    return max(1, round(Fraction(repr(metres)) / scale.metres * steps))


def list_unusable(plan: Plan, paths: Iterable[str]) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return the files that were passed over: path, sentence and what would have to be known."""
    units = cast("SwathPlan", plan.family).units
    told = []
    for path in sorted(paths):
        scale = units.scales[path]
        if isinstance(scale, NoScale):
            told.append((path, f"{path} {scale.reason}.", scale.needs))
        elif scale != units.common:
            sentence = f"{path} has another unit of length than most files."
            told.append((path, sentence, ("one unit of length",)))
    return told
