"""The family of the ground checks: one tally a file serves all that ask about surveyed points."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, DeliveredFile, Evidence, Family, Plan, Tally
from ledger.dataclass import dataclass
from lidar_checks.cloud.file_units import (
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
    find_vertical_scale,
)
from lidar_checks.cloud.idle_tally import IdleTally
from lidar_checks.ground.near_tally import KEPT, RINGS, NearTally
from lidar_checks.ground.placing import PlacedPoint, place_points
from lidar_checks.ground.point_index import PointIndex

PATCH_CHECK = "checkpoint-patch"
"""The check whose criteria say what a patch of ground has to be like."""

_PRACTICE = "common practice, no source"


class PatchCriteria(Criteria):
    """What the cloud round a surveyed point has to be like for a height to be taken there.

    Where fewer than `fewest_points` points lie within `radius_m`, the circle grows in steps up to
    `radius_max_m`. `rough_max_m` is not asked of a point in vegetation, where rough ground is what
    such a point is for.
    """

    radius_m: float = Field(default=0.5, gt=0, le=5, description=_PRACTICE)
    radius_max_m: float = Field(default=2.0, gt=0, le=5, description=_PRACTICE)
    fewest_points: int = Field(default=10, ge=6, le=KEPT, description=_PRACTICE)
    slope_max: float = Field(default=0.10, gt=0, le=1, description=_PRACTICE)
    rough_max_m: float = Field(default=0.03, gt=0, description=_PRACTICE)
    other_class_max_share: float = Field(default=0.5, ge=0, le=1, description=_PRACTICE)


@dataclass(frozen=True)
class FileUnits:
    """Units of the files.

    Args:
        common: unit of X and Y that the judged files have; None when there is none.
        heights: unit of Z, by path of the judged files.
        unusable: why the other files are not judged, by path: a sentence.
    """

    common: Scale | None
    heights: Mapping[str, Scale]
    unusable: Mapping[str, str]


class ResidualPlan(Plan):
    """What was worked out before the points.

    Attributes:
        placed: every surveyed point of every table, in the system of the job.
        units: units of the files.
        patch: what a patch of ground has to be like.
        index: the places that the cloud is looked at round.
        numbers: index in `placed` of each of these places.
        radii: radii of the rings round them, lattice steps, ascending.
        listed: the residuals once they were worked out, and what from.
    """

    placed: tuple[PlacedPoint, ...]
    units: FileUnits
    patch: PatchCriteria
    index: PointIndex
    numbers: tuple[int, ...]
    radii: tuple[int, ...]
    listed: object


class ResidualFamily(Family):
    """The points of the cloud round each surveyed point."""

    id = "residuals"
    dimensions = frozenset(
        {
            "classification",
            "number_of_returns",
            "point_source_id",
            "return_number",
            "withheld",
        }
    )
    optional_dimensions = frozenset({"gps_time"})

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Place the surveyed points, and lay rings of the criteria round them."""
        asked = members.get(PATCH_CHECK)
        patch = cast("PatchCriteria", asked.criteria) if asked is not None else PatchCriteria()
        units = _find_units(evidence)
        placed = place_points(evidence)
        radii: tuple[int, ...] = ()
        numbers: list[int] = []
        places: list[tuple[int, int]] = []
        if units.common is not None:
            steps = evidence.lattice.steps_xy / units.common.metres
            radii = tuple(round(radius * steps) for radius in list_radii(patch))
            for number, each in enumerate(placed):
                if each.is_placed and not each.fault:
                    numbers.append(number)
                    places.append((_step(each.east_m, steps), _step(each.north_m, steps)))
        x, y = np.array(places, dtype=np.int64).reshape(-1, 2).T
        return ResidualPlan(
            patch,
            evidence.lattice,
            placed=placed,
            units=units,
            patch=patch,
            index=PointIndex(x, y, radii[-1] if radii else 1),
            numbers=tuple(numbers),
            radii=radii,
            listed=None,
        )

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally, or one that passes over a file without a usable unit."""
        laid = cast("ResidualPlan", plan)
        if file.path not in laid.units.heights:
            return IdleTally()
        return NearTally(laid.index, laid.radii)


FAMILY = ResidualFamily()


def list_radii(patch: PatchCriteria) -> tuple[Fraction, ...]:
    """Return the radii of the rings, metres, from the least to the greatest in even steps."""
    least = Fraction(repr(patch.radius_m))
    growth = max(Fraction(0), Fraction(repr(patch.radius_max_m)) - least) / (RINGS - 1)
    return tuple(least + growth * ring for ring in range(RINGS))


def _step(metres: float, steps: Fraction) -> int:
    return round(Fraction(metres) * steps)


def _find_units(evidence: Evidence) -> FileUnits:
    scales = {f.path: find_horizontal_scale(f, evidence) for f in evidence.point_files}
    common = find_common_scale(scales.values())
    heights: dict[str, Scale] = {}
    unusable: dict[str, str] = {}
    for file in evidence.point_files:
        scale = scales[file.path]
        if isinstance(scale, NoScale):
            unusable[file.path] = f"{file.path} {scale.reason}."
        elif common is None or scale != common:
            unusable[file.path] = f"{file.path} has another unit of length than most files."
        else:
            heights[file.path] = find_vertical_scale(file, evidence, common)
    return FileUnits(common, heights, unusable)
