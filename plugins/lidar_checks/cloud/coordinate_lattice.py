"""Coordinate lattice: coordinates did not pass through 32-bit floats, or through coarse rounding.

A 32-bit float holds 24 binary digits (IEEE 754), so that a northing of 4,272,000 m moves in steps
of 0.5 m. Such steps stay in the file however fine its scale is. A shifted local origin keeps
numbers small and does no harm; it is not found here, since its steps are finer than the scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
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
from ledger.model.chunk import Lattice
from ledger.model.header import LasHeader
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.cloud.file_units import (
    HEIGHT_KEYS,
    PLAN_KEYS,
    NoScale,
    find_horizontal_scale,
    find_vertical_scale,
)

AXES = ("X", "Y", "Z")
_FEW = 100
# A float step that is not at least so many steps of the file cannot be told from its rounding.
_COARSER = 4
_COARSER_THAN_FLOAT = 1.5


class LatticeCriteria(Criteria):
    """How coarse the steps of coordinates may be."""

    step_max_m: float = Field(default=0.01, gt=0, description="common practice, no source")


@dataclass(frozen=True)
class LatticeSummary:
    """What is left of a file.

    Args:
        points: points read.
        steps: the greatest step, in lattice steps, on which all points lie along X, Y, Z; 0 where
            all of them are equal, and no more than is known where it is as fine as the scale.
        floats: the finest step of a 32-bit float that fits every point along X, Y, Z, file units;
            0 where they are no such floats.
    """

    points: int
    steps: tuple[int, int, int]
    floats: tuple[float, float, float]


class LatticeTally:
    """The steps of the coordinates of one file; stops looking where they are as fine as can be."""

    def __init__(self, finest: tuple[int, int, int], lattice: Lattice) -> None:
        """Take the steps that the file itself stores, in lattice steps."""
        self.finest = finest
        self.sizes = (lattice.steps_xy, lattice.steps_xy, lattice.steps_z)
        self.points = 0
        self.reference: list[int | None] = [None, None, None]
        self.step = [0, 0, 0]
        self.smallest = [math.inf, math.inf, math.inf]

    def chunk(self, points: PointChunk) -> None:
        """Look at some points, no further than needed."""
        self.points += len(points)
        if not len(points):
            return
        for axis, values in enumerate((points.x, points.y, points.z)):
            for part in (values[:4096], values[4096:]):
                self._look_at_steps(axis, part)
                self._look_at_floats(axis, part)

    def merge(self, other: LatticeTally) -> None:
        """Take in what another part of the same file showed."""
        self.points += other.points
        for axis in range(3):
            self.smallest[axis] = min(self.smallest[axis], other.smallest[axis])
            theirs, ours = other.reference[axis], self.reference[axis]
            if theirs is None:
                continue
            if ours is None:
                self.reference[axis], self.step[axis] = theirs, other.step[axis]
            else:
                self.step[axis] = math.gcd(self.step[axis], other.step[axis], ours - theirs)

    def close(self) -> LatticeSummary:
        """Return the steps; what is as fine as the file stores is said to be so fine."""
        steps = tuple(
            self.finest[axis] if self._is_settled(axis) else self.step[axis] for axis in range(3)
        )
        floats = tuple(each if 0 < each < math.inf else 0.0 for each in self.smallest)
        return LatticeSummary(
            self.points,
            cast("tuple[int, int, int]", steps),
            cast("tuple[float, float, float]", floats),
        )

    def _is_settled(self, axis: int) -> bool:
        return 0 < self.step[axis] <= self.finest[axis]

    def _look_at_steps(self, axis: int, values: NDArray[np.int64]) -> None:
        if not len(values) or self._is_settled(axis):
            return
        reference = self.reference[axis]
        if reference is None:
            reference = self.reference[axis] = int(values[0])
        found = int(np.gcd.reduce(np.abs(values - reference)))
        self.step[axis] = math.gcd(self.step[axis], found)

    def _look_at_floats(self, axis: int, values: NDArray[np.int64]) -> None:
        """Keep the finest float step as long as every point lies on one; 0 once any does not."""
        if not len(values) or self.smallest[axis] == 0:
            return
        stored = values / self.sizes[axis]
        nearest = stored.astype(np.float32)
        ulp = np.spacing(np.abs(nearest)).astype(np.float64)
        rounding = (self.finest[axis] / 2 + 1) / self.sizes[axis]
        fits = np.abs(stored - nearest) <= rounding
        fits &= ulp >= _COARSER * self.finest[axis] / self.sizes[axis]
        self.smallest[axis] = min(self.smallest[axis], float(ulp.min())) if fits.all() else 0


class LatticePlan(Plan):
    """What was worked out before the points.

    Attributes:
        criteria: the criteria as applied.
        metres: metres in a unit of X and Y and of Z, by path; None for a file in degrees.
    """

    criteria: LatticeCriteria
    metres: dict[str, tuple[float, float] | NoScale]


class CoordinateLattice(PointCheck):
    """Coordinates are as fine as their file says."""

    id = "coordinate-lattice"
    title = "Coordinates were not coarsened by 32-bit floats or by rounding"
    catalogue = ("FT-03",)
    needs = ("points",)
    specification_keys = (*PLAN_KEYS, *HEIGHT_KEYS)
    criteria = LatticeCriteria

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Find the unit of each file."""
        metres: dict[str, tuple[float, float] | NoScale] = {}
        for file in evidence.point_files:
            plan = find_horizontal_scale(file, evidence)
            metres[file.path] = (
                plan
                if isinstance(plan, NoScale)
                else (
                    float(plan.metres),
                    float(find_vertical_scale(file, evidence, plan).metres),
                )
            )
        return LatticePlan(criteria, evidence.lattice, metres=metres)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        """Return an empty tally that knows how fine the file stores."""
        return LatticeTally(_find_finest(file.header, plan.lattice), plan.lattice)

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,  # noqa: ARG002 - the contract hands it to every check
    ) -> Iterable[Finding]:
        """Judge each file."""
        laid = cast("LatticePlan", plan)
        if not any(each.points for each in summaries.values()):
            yield self.not_assessed(WHOLE_DELIVERY, "No point was read.", ("points",))
        for path, found in sorted(summaries.items()):
            metres, where = laid.metres[path], Where(file=path)
            if isinstance(metres, NoScale):
                yield self.not_assessed(path, f"{path} {metres.reason}.", metres.needs, where=where)
            elif 0 < found.points < _FEW:
                sentence = f"{path} holds too few points ({found.points}) to show steps."
                yield self.inconclusive(path, sentence, where=where)
            elif found.points:
                yield self._judge(laid, path, found, metres)

    def _judge(
        self, plan: LatticePlan, path: str, found: LatticeSummary, metres: tuple[float, float]
    ) -> Finding:
        limit = plan.criteria.step_max_m
        units = (metres[0], metres[0], metres[1])
        sizes = (plan.lattice.steps_xy, plan.lattice.steps_xy, plan.lattice.steps_z)
        steps = {a: s / n * u for a, s, n, u in zip(AXES, found.steps, sizes, units, strict=True)}
        floats = {
            a: f * u
            for a, f, u in zip(AXES, found.floats, units, strict=True)
            # Whole metres fit a float too: it is one only where its own steps are seen.
            if f and steps[a] < _COARSER_THAN_FLOAT * f * u
        }
        parts: dict[str, Any] = {
            "required": f"{limit:g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "step_max_m"),
            "where": Where(file=path),
        }
        coarse_floats = {axis: step for axis, step in floats.items() if step > limit}
        if coarse_floats:
            axis, step = max(coarse_floats.items(), key=lambda item: item[1])
            return self.nonconforming(
                Grade.MAJOR,
                path,
                f"{path}: every {axis} is a 32-bit float, which moves in steps of {step:g} m.",
                observed=f"{step:g}",
                remedy="Export again from the source in 64-bit coordinates, or through a format "
                "that keeps them; the lost digits are not in this file.",
                **parts,
            )
        axis, step = max(steps.items(), key=lambda item: item[1])
        if step > limit * (1 + 1e-9):
            return self.nonconforming(
                Grade.MINOR,
                path,
                f"{path}: every {axis} is a whole multiple of {step:g} m away from the others.",
                observed=f"{step:g}",
                remedy="Export again without rounding coordinates.",
                **parts,
            )
        listed = ", ".join(f"{axis} {step:g} m" for axis, step in steps.items())
        return self.conforms(
            path, f"{path}: coordinates move in steps of {listed}.", observed=f"{step:g}", **parts
        )


def _find_finest(header: LasHeader | None, lattice: Lattice) -> tuple[int, int, int]:
    """Return the steps of the scale of a file, in lattice steps, at least 1."""
    if header is None:
        return 1, 1, 1
    sizes = (lattice.steps_xy, lattice.steps_xy, lattice.steps_z)
    steps = [
        max(1, round(scale * size)) if 0 < scale < math.inf else 1
        for scale, size in zip(header.scale, sizes, strict=True)
    ]
    return steps[0], steps[1], steps[2]
