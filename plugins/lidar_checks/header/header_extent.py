"""Does the box in the header fit the points, and can scale and offset hold them.

Invariant: what the header alone shows (scale, offset, range) is judged in a quick audit too; only
the comparison with the points needs the points.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.chunk import Lattice
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from lidar_checks.header.box import (
    AXES,
    Box,
    compute_excess,
    find_factors,
    find_header_box,
    find_point_box,
)
from lidar_checks.header.file_check import (
    LAS_SOURCE,
    FileCheck,
    find_crs,
    name_source,
    require_criteria,
)
from lidar_checks.header.position import METRES_PER_DEGREE

# ASPRS LAS 1.4 R15: X, Y and Z of a record are signed 32-bit whole numbers.
RECORD_LIMIT = 2**31


class HeaderExtentCriteria(Criteria):
    """How fine coordinates must be stored, and how close the header's box must fit."""

    scale_max_m: float = Field(
        default=0.01,
        gt=0,
        description="common practice, no source: coarser steps show as stairs in the points",
    )
    box_tolerance_steps: float = Field(
        default=1.0,
        ge=0,
        description="common practice, no source: one step of the scale, for rounding",
    )


class HeaderExtent(FileCheck):
    """The header's box, scale and offset fit the points."""

    id = "header-extent"
    title = "Box, scale and offset of the header fit the points"
    catalogue = ("FT-02", "FT-04", "FT-01")
    revision = 3
    criteria = HeaderExtentCriteria
    rests_on = ("crs", "scale", "has_points")

    def find_kind(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Hashable | None:
        """Return what files have alike whose points nobody read and whose boxes can be stored."""
        alone = file.reading is not None or _find_unusable(header)
        if alone or any(self._judge_range(file, header)):
            return None
        return super().find_kind(file, header, plan)

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what scale, offset and box say."""
        criteria = require_criteria(plan, HeaderExtentCriteria)
        broken = _find_unusable(header)
        if broken:
            yield self._tell_unusable(file, broken)
            return
        found = [*self._judge_range(file, header), *self._judge_scale(file, header, plan)]
        box = find_point_box(file)
        if box is not None:
            tolerance = _compute_tolerance(header, evidence.lattice, criteria)
            found += self._judge_box(file, header, box, tolerance, plan)
        yield from found
        if box is None and not _is_empty(file, header):
            yield self.not_assessed(
                file.path,
                f"{file.path}: its points were not all read, so the header's box was not compared.",
                ("points",),
                where=Where(file=file.path),
            )
        elif not found:
            yield self.conforms(
                file.path,
                f"{file.path}: box, scale and offset fit the points.",
                where=Where(file=file.path),
            )

    def _tell_unusable(self, file: DeliveredFile, broken: str) -> Finding:
        return self.nonconforming(
            Grade.MAJOR,
            file.path,
            f"{file.path}: {broken}, so no program can tell where its points are.",
            criterion_source=f"{LAS_SOURCE}, scale and offset",
            remedy="Export the file again.",
            catalogue=("FT-02",),
            where=Where(file=file.path),
        )

    def _judge_range(self, file: DeliveredFile, header: LasHeader) -> Iterator[Finding]:
        """Yield a finding where scale and offset cannot hold the coordinates of the box."""
        stated, counted = find_header_box(header), find_point_box(file)
        if stated is None:
            return
        for axis, name in enumerate(AXES):
            offset = header.offset[axis]
            low, high = stated.low[axis], stated.high[axis]
            reach, bound = max((abs(low - offset), low), (abs(high - offset), high))
            if reach / header.scale[axis] < RECORD_LIMIT:
                continue
            end = _describe_end(header, stated, counted, axis) if counted is not None else ""
            if counted is not None and not end:
                continue  # the points are where they can be: the box is wrong, not the range
            limit = RECORD_LIMIT * header.scale[axis]
            yield self.nonconforming(
                Grade.MAJOR,
                file.path,
                f"{file.path}: offset {header.offset[axis]:.12g} with scale "
                f"{header.scale[axis]:.12g} reaches {limit:.12g} to either side and cannot hold "
                f"{name} = {bound:.12g}{end}.",
                observed=f"{name} {bound:.12g} and offset {header.offset[axis]:.12g}, "
                f"{reach:.12g} apart",
                required=f"less than {limit:.12g} apart, in the unit of the file",
                criterion_source=f"{LAS_SOURCE}, signed 32-bit coordinates",
                remedy="Export again with an offset near the site.",
                catalogue=("FT-02",),
                where=Where(file=file.path),
            )
            return

    def _judge_scale(self, file: DeliveredFile, header: LasHeader, plan: Plan) -> Iterator[Finding]:
        """Yield a finding where coordinates are stored in steps that are too coarse."""
        criteria = require_criteria(plan, HeaderExtentCriteria)
        sizes = _find_unit_sizes(file)
        steps = [scale * size for scale, size in zip(header.scale, sizes, strict=True)]
        axis = max(range(len(AXES)), key=lambda a: steps[a])
        if steps[axis] <= criteria.scale_max_m * (1 + 1e-9):
            return
        yield self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{file.path} stores {AXES[axis]} in steps of {steps[axis]:.4g} m; "
            f"{criteria.scale_max_m:.4g} m or finer is needed.",
            observed=f"{steps[axis]:.6g}",
            required=f"{criteria.scale_max_m:.6g}",
            unit="m",
            criterion_source=name_source(plan, "scale_max_m"),
            remedy="Export again with a scale of 0.001.",
            catalogue=("FT-01",),
            where=Where(file=file.path),
        )

    def _judge_box(
        self,
        file: DeliveredFile,
        header: LasHeader,
        box: Box,
        tolerance: Sequence[float],
        plan: Plan,
    ) -> Iterator[Finding]:
        """Yield a finding where the header's box is not the box of the points."""
        stated = find_header_box(header)
        if stated is None:
            told = "the box in its header is no box"
        else:
            axis, off = compute_excess(stated, box, tolerance)
            if off == 0:
                return
            told = _describe_excess(stated, box, axis, off)
        yield self.nonconforming(
            Grade.MINOR,
            file.path,
            f"{file.path}: {told}.",
            observed=told,
            required=f"the box of its points within {max(tolerance):.3g}, in the unit of the file",
            criterion_source=name_source(plan, "box_tolerance_steps"),
            remedy="Export or re-index the file, so that its header is written anew.",
            catalogue=("FT-04",),
            where=Where(file=file.path),
        )


def _find_unusable(header: LasHeader) -> str:
    """Return what makes scale or offset unusable; empty when nothing does."""
    for name, scale, offset in zip(AXES, header.scale, header.offset, strict=True):
        if not math.isfinite(scale) or scale <= 0:
            return f"the {name} scale in its header is {scale:g}"
        if not math.isfinite(offset):
            return f"the {name} offset in its header is {offset:g}"
    return ""


def _compute_tolerance(
    header: LasHeader, lattice: Lattice, criteria: HeaderExtentCriteria
) -> tuple[float, float, float]:
    """Return how far the header's box may be off along each axis, file units.

    Points were counted on the lattice of the audit, so half of its step is rounding.
    """
    x, y, z = (criteria.box_tolerance_steps * scale for scale in header.scale)
    flat, height = 0.5 / lattice.steps_xy, 0.5 / lattice.steps_z
    return x + flat, y + flat, z + height


def _is_empty(file: DeliveredFile, header: LasHeader) -> bool:
    return not header.has_points and (file.reading is None or not file.reading.decoded)


def _find_unit_sizes(file: DeliveredFile) -> tuple[float, float, float]:
    """Return metres in one unit of X, Y, Z; where nothing is declared, a metre is taken.

    A degree counts as one of latitude, which is never shorter than one of longitude is.
    """
    crs = find_crs(file)
    if crs is None:
        return 1.0, 1.0, 1.0
    angular = crs.unit is None and crs.metres_per_unit is None and crs.kind == "geographic"
    flat = METRES_PER_DEGREE if angular else (crs.metres_per_unit or 1.0)
    height = crs.vertical.metres_per_unit if crs.vertical is not None else None
    return flat, flat, height or (1.0 if angular else flat)


def _describe_end(header: LasHeader, stated: Box, counted: Box, axis: int) -> str:
    """Return the clause that says what became of points beyond the range; empty for nothing.

    Numbers of 32 bits either wrap round, by a whole number of spans, or stop at their limit.
    """
    scale, limit = header.scale[axis], RECORD_LIMIT * header.scale[axis]
    turns = (stated.high[axis] - counted.high[axis]) / (2 * limit)
    if (
        math.isfinite(turns)
        and round(turns) != 0
        and abs(turns - round(turns)) * 2 * limit <= 2 * scale
    ):
        return f"; its points wrapped round to {counted.high[axis]:.12g}"
    reach = max(abs(bound - header.offset[axis]) for bound in counted.bounds(axis))
    return f"; its points stop at {reach:.12g}" if reach >= limit - 2 * scale else ""


def _describe_excess(stated: Box, box: Box, axis: int, off: float) -> str:
    factors = find_factors(stated, box)
    if factors:
        factor, axes = max(factors.items(), key=lambda row: len(row[1]))
        names = " and ".join(AXES[a] for a in axes)
        return f"the box in its header is {factor:g} × the box of its points in {names}"
    way = "beyond" if off > 0 else "short of"
    return f"the box in its header ends {abs(off):.6g} {way} its points in {AXES[axis]}"
