"""Where a site lies and how checkpoints are spread over it; metres, in the system of the job."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.loading import load_part
from lidar_checks.cloud.file_units import Scale, find_horizontal_scale

Places = NDArray[np.float64]


@dataclass(frozen=True)
class Site:
    """The ground that a delivery covers.

    Args:
        west, south, east, north: its box, metres.
        area_m2: its area: of the boundary where the job has one, else of the boxes of the files.
        basis: what that is from, as it follows "of": `the boundary`, `the boxes of the files`.
    """

    west: float
    south: float
    east: float
    north: float
    area_m2: float
    basis: str

    @property
    def diagonal_m(self) -> float:
        """Return the diagonal of the box."""
        return float(np.hypot(self.east - self.west, self.north - self.south))

    def count_quadrants(self, places: Places) -> tuple[int, int, int, int]:
        """Return how many places lie in each quarter of the box.

        Args:
            places: easting and northing, metres, (n, 2).

        Returns:
            South-west, south-east, north-west, north-east.
        """
        right = places[:, 0] >= (self.west + self.east) / 2
        upper = places[:, 1] >= (self.south + self.north) / 2
        counts = np.bincount(right + 2 * upper, minlength=4)
        return int(counts[0]), int(counts[1]), int(counts[2]), int(counts[3])


QUADRANTS = ("south-west", "south-east", "north-west", "north-east")


def find_site(evidence: Evidence) -> Site | None:
    """Return the site of a delivery; None where neither a boundary nor a header says."""
    boundary = evidence.boundary
    if boundary is not None and boundary.polygons and evidence.specified_crs is not None:
        metres = evidence.specified_crs.metres_per_unit
        if metres is not None:
            rings = [
                (ring, 1 if place == 0 else -1)
                for polygon in boundary.polygons
                for place, ring in enumerate(polygon)
            ]
            area = sum(sign * compute_ring_area(np.array(ring)) for ring, sign in rings)
            west, south, east, north = (float(side) * metres for side in boundary.box)
            return Site(west, south, east, north, float(area) * metres**2, "the boundary")
    return _find_boxes(evidence)


def _find_boxes(evidence: Evidence) -> Site | None:
    """Return the site as the boxes of the headers; overlapping ones are not counted twice."""
    boxes = []
    for file in evidence.point_files:
        scale = find_horizontal_scale(file, evidence)
        if file.header is None or not isinstance(scale, Scale):
            continue
        low, high = file.header.minimum, file.header.maximum
        box = np.array([float(low[0]), float(low[1]), float(high[0]), float(high[1])])
        if np.isfinite(box).all() and box[2] >= box[0] and box[3] >= box[1]:
            boxes.append(box * float(scale.metres))
    if not boxes:
        return None
    all_of_them = np.array(boxes)
    west, south = all_of_them[:, :2].min(axis=0)
    east, north = all_of_them[:, 2:].max(axis=0)
    corners = np.vstack([all_of_them[:, [0, 1]], all_of_them[:, [2, 1]], all_of_them[:, [0, 3]]])
    corners = np.vstack([corners, all_of_them[:, [2, 3]]])
    summed = float(np.prod(all_of_them[:, 2:] - all_of_them[:, :2], axis=1).sum())
    area = min(summed, compute_hull_area(corners))
    return Site(
        float(west), float(south), float(east), float(north), area, "the boxes of the files"
    )


def compute_ring_area(ring: Places) -> float:
    """Return the area of a closed ring, squares of its unit, whatever its sense (shoelace)."""
    x, y = (ring - ring[0]).T
    return abs(float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]))) / 2


def compute_hull_area(places: Places) -> float:
    """Return the area of the convex hull of places, squares of their unit; 0 along a line."""
    distinct = np.unique(places, axis=0)
    if len(distinct) < 3:
        return 0.0
    centred = distinct - distinct.mean(axis=0)
    if np.linalg.matrix_rank(centred, tol=1e-6 * max(1e-9, float(np.abs(centred).max()))) < 2:
        return 0.0
    hull = load_part("scipy.spatial", "ConvexHull")(centred)
    return float(hull.volume)  # of a plane figure: its area


def find_nearest_pair(places: Places) -> tuple[int, int, float]:
    """Return the two places that are nearest to each other, and how far apart they are.

    Args:
        places: (n, 2), at least two.
    """
    tree = load_part("scipy.spatial", "cKDTree")(places)
    apart, which = tree.query(places, k=2)
    one = int(np.argmin(apart[:, 1]))
    other = int(which[one, 1])
    if other == one:  # two on one spot
        other = int(which[one, 0])
    return min(one, other), max(one, other), float(apart[one, 1])


def list_places(points: Sequence[tuple[float, float]]) -> Places:
    """Return places as an array, (n, 2), also for none."""
    return np.array(points, dtype=np.float64).reshape(-1, 2)
