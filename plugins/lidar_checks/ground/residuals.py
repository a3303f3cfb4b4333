"""What each surveyed point shows of the cloud: the one list that every check of the ground reads.

A check that wants it is a `GroundCheck` and asks `list_residuals` in its `finish`. The signs: cloud
less survey, so that a cloud that lies too high gives a positive `dz`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from typing import ClassVar, cast

import numpy as np

from ledger.contract.check import Criteria, Evidence, FamilyCheck, Plan
from ledger.dataclass import dataclass
from ledger.model.surveypoints import CHECKPOINTS
from lidar_checks.cloud.file_units import HEIGHT_KEYS, PLAN_KEYS
from lidar_checks.ground.flown import Flown, join_flown
from lidar_checks.ground.near_tally import RINGS, NearSummary, Spot, join_points
from lidar_checks.ground.passes import Pass, find_passes
from lidar_checks.ground.patch_fit import Around, Patch, Sizes, fit_patch
from lidar_checks.ground.placing import PLACING_KEYS, PlacedPoint
from lidar_checks.ground.residual_family import FAMILY, ResidualPlan, list_radii


@dataclass(frozen=True)
class Residual:
    """One surveyed point and the cloud round it; metres, in the horizontal system of the job.

    Args:
        id: name of the point in its table.
        table: path of the table as the book writes it.
        kind: `control` or `checkpoints`.
        east_m, north_m, height_m: the point as surveyed, metres; NaN where they cannot be known in
            the system of the job, which `reason` then tells.
        dz: height of the cloud less that of the point, metres; None where there is no telling.
        reason: why there is no `dz`, as a clause ("4 points of the cloud within 0.5 m, fewer than
            10"); empty where there is one.
        dx, dy: the target as picked in the cloud less the point, metres; None without such columns.
        gradient: rise of the fitted surface to the east and to the north, metres a metre; None
            without a surface.
        roughness_m: root mean square of what the surface leaves over, metres.
        count: points of the cloud that the surface stands on.
        stratum: `nonvegetated`, `vegetated`, what the file says, or empty.
        sigma_vertical_m: standard deviation of the survey in height, metres.
        surveyed: when, ISO 8601; empty where the table does not say.
        files: delivered files with points near it, sorted.
        gps_times: first and last GPS time of those points, as stored; None without times.
        source_ids: their point source ids, sorted.
        minutes: whole minutes of their GPS times, sorted; none without times.
        surface: what `dz` was taken to: `ground class`, or `lowest surface` where the delivery has
            no ground class; empty without points.
        radius_m: radius of the circle that they lie in, metres; 0 without points.
        was_sought: the cloud was looked at round the point.
        passes: when the scanner came by, as far as the points there have times.
    """

    id: str
    table: str
    kind: str
    east_m: float
    north_m: float
    height_m: float
    dz: float | None = None
    reason: str = ""
    dx: float | None = None
    dy: float | None = None
    gradient: tuple[float, float] | None = None
    roughness_m: float | None = None
    count: int = 0
    stratum: str = ""
    sigma_vertical_m: float | None = None
    surveyed: str = ""
    files: tuple[str, ...] = ()
    gps_times: tuple[float, float] | None = None
    source_ids: tuple[int, ...] = ()
    minutes: tuple[int, ...] = ()
    surface: str = ""
    radius_m: float = 0.0
    was_sought: bool = False
    passes: tuple[Pass, ...] = ()

    @property
    def is_off_cloud(self) -> bool:
        """Say whether the cloud has no point anywhere near."""
        return self.was_sought and not self.files

    @property
    def is_placed(self) -> bool:
        """Say whether the point has a place in the system of the job."""
        return math.isfinite(self.east_m) and math.isfinite(self.north_m)


class GroundCheck(FamilyCheck):
    """A check of surveyed points against the cloud."""

    family = FAMILY
    needs = ("points", CHECKPOINTS)
    specification_keys: ClassVar[tuple[str, ...]] = (*PLAN_KEYS, *HEIGHT_KEYS, *PLACING_KEYS)

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        """Keep the criteria; the family places the points."""
        return Plan(criteria, evidence.lattice)


def list_unusable(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return the files that the surveyed points are not held against: path, and a sentence why.

    Args:
        plan: of any member of the family.
    """
    return tuple(sorted(cast("ResidualPlan", plan.family).units.unusable.items()))


def list_flown(summaries: Mapping[str, NearSummary | None]) -> Flown:
    """Return the strips and minutes of all points of the delivery.

    Args:
        summaries: what the `finish` of any member was given.
    """
    return join_flown(each.flown for each in summaries.values() if each is not None)


def list_residuals(plan: Plan, summaries: Mapping[str, NearSummary | None]) -> tuple[Residual, ...]:
    """Return one residual for each point of each table, in the order of tables and rows.

    Worked out once an audit, however many checks ask.

    Args:
        plan: of any member of the family.
        summaries: what its `finish` was given.
    """
    laid = cast("ResidualPlan", plan.family)
    known = {path: each for path, each in sorted(summaries.items()) if each is not None}
    key = tuple((path, id(each)) for path, each in known.items())
    listed = cast("tuple[object, object, tuple[Residual, ...]] | None", laid.listed)
    if listed is None or listed[0] != key:
        # The summaries are kept beside it, so that no other gets the identity of one of them.
        listed = (key, known, tuple(_list(laid, known)))
        laid.listed = listed
    return listed[2]


def _list(plan: ResidualPlan, summaries: Mapping[str, NearSummary]) -> Iterator[Residual]:
    places = {number: place for place, number in enumerate(plan.numbers)}
    gatherer = _Gatherer(plan, summaries)
    for number, placed in enumerate(plan.placed):
        bare = _start(placed)
        if number in places:
            yield gatherer.describe(places[number], placed, bare)
        elif placed.fault:
            yield bare
        else:
            told = "no file has a unit of length"
            yield replace(bare, reason=told)


def _start(placed: PlacedPoint) -> Residual:
    """Return what is known of a point without the cloud."""
    point = placed.point
    picked = placed.measured_m
    return Residual(
        id=point.id,
        table=placed.table,
        kind=placed.kind,
        east_m=placed.east_m,
        north_m=placed.north_m,
        height_m=placed.height_m,
        reason=placed.fault,
        dx=None if picked is None else picked[0] - placed.east_m,
        dy=None if picked is None else picked[1] - placed.north_m,
        stratum=point.stratum,
        sigma_vertical_m=_to_float(point.sigma_vertical_m),
        surveyed=point.surveyed,
    )


def _to_float(number: Decimal | None) -> float | None:
    return None if number is None else float(number)


class _Gatherer:
    """What all files together hold round each place."""

    def __init__(self, plan: ResidualPlan, summaries: Mapping[str, NearSummary]) -> None:
        self.plan = plan
        self.summaries = summaries
        self.has_ground = any(each.has_ground for each in summaries.values())
        self.radii_m = tuple(float(radius) for radius in list_radii(plan.patch))
        self.bounds = {
            path: np.searchsorted(each.points.place, np.arange(len(plan.numbers) + 1))
            for path, each in summaries.items()
        }

    def describe(self, place: int, placed: PlacedPoint, bare: Residual) -> Residual:
        """Return the residual of a place that the cloud was looked at round."""
        near = {
            path: spots
            for path in self.summaries
            if any(spots := [self._find_spot(path, place, ring) for ring in range(RINGS)])
        }
        heights = {self.plan.units.heights[path].metres for path in near}
        if not near:
            told = f"no point of the cloud within {self.radii_m[-1]:g} m"
            return replace(bare, reason=told, was_sought=True)
        if len(heights) > 1:
            return replace(bare, reason="files with different units of height meet there")
        patch = fit_patch(
            self._gather(place, near),
            placed.point.stratum,
            self._find_sizes(heights),
            self.plan.patch,
        )
        found = self._add(bare, patch, near)
        return replace(found, passes=tuple(self._list_passes(place, patch.ring, found.files)))

    def _find_spot(self, path: str, place: int, ring: int) -> Spot | None:
        return self.summaries[path].spots.get((place, ring))

    def _gather(self, place: int, near: Mapping[str, list[Spot | None]]) -> Around:
        parts = []
        for path in near:
            begin, end = self.bounds[path][place : place + 2]
            parts.append(self.summaries[path].points.take(slice(begin, end)))
        points = join_points(parts)
        x, y = (int(axis[place]) for axis in (self.plan.index.given_x, self.plan.index.given_y))
        moved = replace(points, x=points.x - x, y=points.y - y)
        return Around(moved, _join_rings(near.values()), self.has_ground)

    def _list_passes(self, place: int, ring: int, files: Sequence[str]) -> Iterator[Pass]:
        """Yield when the scanner came by, of the points that a surface may stand on."""
        for path in files:
            summary = self.summaries[path]
            if summary.timed:
                begin, end = self.bounds[path][place : place + 2]
                points = summary.points.take(slice(begin, end))
                used = points.ring <= ring
                if self.has_ground:
                    used &= points.is_ground
                yield from find_passes(path, points.source[used], points.time[used])

    def _find_sizes(self, heights: set[Fraction]) -> Sizes:
        lattice, common = self.plan.lattice, self.plan.units.common
        plan_m = common.metres if common is not None else Fraction(1)
        return Sizes(
            radii=self.plan.radii,
            radii_m=self.radii_m,
            z_m=float(next(iter(heights)) / lattice.steps_z),
            xy_m=float(plan_m / lattice.steps_xy),
        )

    def _add(self, bare: Residual, patch: Patch, near: Mapping[str, list[Spot | None]]) -> Residual:
        """Return a residual with what the cloud shows, and the files and times it is of."""
        inside = {path: spots[: patch.ring + 1] for path, spots in near.items()}
        files = tuple(path for path, spots in inside.items() if any(spots))
        seen = [spot for path in files for spot in inside[path] if spot is not None]
        timed = [
            spot for path in files if self.summaries[path].timed for spot in inside[path] if spot
        ]
        times = (min(s.first for s in timed), max(s.last for s in timed)) if timed else None
        height = patch.height_m
        usable = height is not None and not patch.reason
        return replace(
            bare,
            dz=height - bare.height_m if usable and height is not None else None,
            reason=patch.reason,
            gradient=patch.gradient,
            roughness_m=patch.roughness_m,
            count=patch.count,
            surface=patch.kind,
            radius_m=patch.radius_m,
            was_sought=True,
            files=files,
            gps_times=times,
            source_ids=tuple(sorted({source for spot in seen for source in spot.sources})),
            minutes=tuple(sorted({m for spot in timed for m in spot.minutes or ()})),
        )


def _join_rings(files: Iterable[list[Spot | None]]) -> tuple[Spot, ...]:
    rings: list[Spot] = []
    for ring in zip(*files, strict=True):
        held = [spot for spot in ring if spot is not None]
        rings.append(reduce(Spot.join, held) if held else Spot())
    return tuple(rings)
