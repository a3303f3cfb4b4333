"""A surface through the cloud round each surveyed point, and whether a height may be taken from it.

The surface is a plane through the ground class, whose height is taken where the surveyed point is:
the height of the nearest point would be off by the slope times its distance. Where the cloud has no
ground class, the lowest surface stands in for it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.model.phrases import count_things
from ledger.model.surveypoints import VEGETATED
from lidar_checks.ground.lowest_surface import find_lowest_surface
from lidar_checks.ground.near_tally import RINGS, NearPoints, Spot
from lidar_checks.ground.residual_family import PatchCriteria
from lidar_checks.swath.plane_fit import Planes, fit_planes

GROUND_CLASS, LOWEST = "ground class", "lowest surface"

# Points of other classes lie on the surface when they are this near to it, metres, or within three
# times what the ground class scatters (common practice, no source).
_ON_SURFACE_M = 0.05
_SCATTERS = 3.0


@dataclass(frozen=True)
class Around:
    """The cloud round one surveyed point, of all files together.

    Args:
        points: the kept points, x and y from the surveyed point, lattice steps.
        spots: what each ring holds, innermost first; exact.
        has_ground: the delivery has points of the ground class anywhere.
    """

    points: NearPoints
    spots: tuple[Spot, ...]
    has_ground: bool


@dataclass(frozen=True)
class Sizes:
    """Lengths of one place.

    Args:
        radii: radii of the rings, lattice steps, ascending.
        radii_m: the same, metres.
        z_m: metres in a lattice step of Z.
        xy_m: metres in a lattice step of X and Y.
    """

    radii: tuple[int, ...]
    radii_m: tuple[float, ...]
    z_m: float
    xy_m: float


@dataclass(frozen=True)
class Patch:
    """What the cloud shows at one surveyed point.

    Args:
        count: points that the surface stands on.
        radius_m: radius of the circle that they were taken from.
        ring: number of that circle.
        kind: `GROUND_CLASS` or `LOWEST`.
        height_m: height of the surface at the point; None without one.
        gradient: rise to the east and to the north, metres a metre; None without a surface.
        roughness_m: root mean square of what is left over; None without a surface.
        reason: why no height may be taken, as a clause; empty where one may.
    """

    count: int
    radius_m: float
    ring: int
    kind: str
    height_m: float | None = None
    gradient: tuple[float, float] | None = None
    roughness_m: float | None = None
    reason: str = ""


def fit_patch(around: Around, stratum: str, sizes: Sizes, patch: PatchCriteria) -> Patch:
    """Return the surface at one surveyed point.

    Args:
        around: the cloud round it.
        stratum: of the surveyed point.
        sizes: lengths.
        patch: what the cloud has to be like.
    """
    kind = GROUND_CLASS if around.has_ground else LOWEST
    counts = np.cumsum([s.ground if around.has_ground else s.other for s in around.spots]).tolist()
    ring = next((i for i, n in enumerate(counts) if n >= patch.fewest_points), RINGS - 1)
    count, radius_m = counts[ring], sizes.radii_m[ring]
    inside = around.points.take(around.points.ring <= ring)
    if count < patch.fewest_points:
        return Patch(count, radius_m, ring, kind, reason=_tell_few(around, count, radius_m, patch))
    if kind == LOWEST:
        chosen = find_lowest_surface(inside, sizes.radii[ring], sizes.xy_m, sizes.z_m)
        count = int(np.count_nonzero(chosen))
        if count < patch.fewest_points:
            told = f"{count_things(count, 'point')} on the lowest surface, fewer than "
            return Patch(count, radius_m, ring, kind, reason=f"{told}{patch.fewest_points}")
    else:
        chosen = inside.is_ground
    found = _Found(inside, chosen, count, ring, kind, around.spots[: ring + 1])
    return _judge(found, stratum, sizes, patch)


@dataclass(frozen=True)
class _Found:
    """Points to lay a surface through, and where they come from."""

    points: NearPoints
    chosen: NDArray[np.bool_]
    count: int
    ring: int
    kind: str
    spots: tuple[Spot, ...]


def _judge(found: _Found, stratum: str, sizes: Sizes, patch: PatchCriteria) -> Patch:
    planes, base = fit_plane(found.points, found.chosen, sizes.radii[found.ring])
    radius_m = sizes.radii_m[found.ring]
    if not planes.is_fit[0]:
        reason = "the points of the cloud lie to one side of it"
        return Patch(found.count, radius_m, found.ring, found.kind, reason=reason)
    ratio = sizes.z_m / sizes.xy_m
    gradient = float(planes.east[0]) * ratio, float(planes.north[0]) * ratio
    roughness = float(planes.rough[0]) * sizes.z_m
    slope = float(np.hypot(*gradient))
    if slope > patch.slope_max:
        reason = f"the ground slopes {slope:.0%} there, more than {patch.slope_max:.0%}"
    elif roughness > patch.rough_max_m and stratum != VEGETATED:
        reason = (
            f"the cloud there scatters {roughness:.3f} m about a plane, "
            f"more than {patch.rough_max_m:g} m"
        )
    else:
        reason = _tell_mixed(found, planes, base, sizes, patch)
    return Patch(
        count=found.count,
        radius_m=radius_m,
        ring=found.ring,
        kind=found.kind,
        height_m=(base + float(planes.height[0])) * sizes.z_m,
        gradient=gradient,
        roughness_m=roughness,
        reason=reason,
    )


def fit_plane(points: NearPoints, chosen: NDArray[np.bool_], radius: int) -> tuple[Planes, int]:
    """Return the least-squares plane through the chosen points, and the step that it rises from.

    Args:
        points: x and y from the surveyed point, lattice steps.
        chosen: those that count; at least one, (n,).
        radius: of their circle, lattice steps.
    """
    base = int(points.z[chosen].min())
    rise = np.where(chosen, points.z - base, 0)
    begin = np.zeros(1, dtype=np.int64)
    return fit_planes((points.x, points.y), rise, chosen, begin, 2 * radius), base


def _tell_few(around: Around, count: int, radius_m: float, patch: PatchCriteria) -> str:
    kind = "point of the ground class" if around.has_ground else "point"
    kinds = "points of the ground class" if around.has_ground else "points"
    told = "no " + kinds if count == 0 else count_things(count, kind, kinds)
    return f"{told} within {radius_m:g} m, fewer than {patch.fewest_points}"


def _tell_mixed(
    found: _Found, planes: Planes, base: int, sizes: Sizes, patch: PatchCriteria
) -> str:
    """Return why the points on the surface are too much of other classes; empty otherwise."""
    others = found.points.take(~found.chosen)
    if not len(others):
        return ""
    plane = planes.height[0] + planes.east[0] * others.x + planes.north[0] * others.y
    above = np.abs((others.z - base) - plane) * sizes.z_m
    limit = max(_ON_SURFACE_M, _SCATTERS * float(planes.rough[0]) * sizes.z_m)
    if found.kind == LOWEST:
        share = 1 - found.count / len(found.points)
        told = "of the returns there lie off the lowest surface"
    else:
        other = sum(spot.other for spot in found.spots)
        on_surface = other * float(np.mean(above <= limit))
        share = on_surface / (on_surface + found.count)
        told = "of the points on the surface there are not of the ground class"
    if share <= patch.other_class_max_share:
        return ""
    return f"{share:.0%} {told}, more than {patch.other_class_max_share:.0%}"
