"""Errors in points."""

from __future__ import annotations

import numpy as np
from planted import METRES, Flown, Planted, plant

from ledger.testing import Scene, SurveyBuilder
from lidar_checks.cloud.classification import Classification
from lidar_checks.cloud.coordinate_lattice import CoordinateLattice
from lidar_checks.cloud.duplicates import Duplicates
from lidar_checks.cloud.point_density import PointDensity
from lidar_checks.cloud.return_numbers import ReturnNumbers
from lidar_checks.cloud.seams import Seams
from lidar_checks.cloud.voids import Voids

_DENSE = METRES + "[criteria.point-density]\nmin_pts_per_m2 = 6.0\n"
_DENSITY_ASKED = METRES + "[criteria.point-density]\nmin_pts_per_m2 = 4.0\n"
_CLASSES = METRES + "[criteria.classification]\nrequired = [2]\nallowed = [1, 2, 5]\n"
_HOLES = METRES + "[criteria.voids]\narea_min_m2 = 9.0\n"
_FLAT = Scene(columns=3, rows=3, noise=0.01)


def cut_hole(survey: SurveyBuilder, radius: float) -> SurveyBuilder:
    """Leave out the points round the middle of the first tile."""
    points = survey.tile(0).points
    x, y = (float(np.mean(np.asarray(points[axis], dtype=float))) for axis in "xy")
    return survey.cut_hole(0, x, y, radius)


CASES: tuple[Planted, ...] = (
    plant(
        "a tile thinned",
        Flown(PointDensity(), lambda survey, share: survey.thin(0, share), specification=_DENSE),
        beyond=0.6,
        inside=0.98,
        gate="60 % of the points kept against 98 %",
    ),
    plant(
        "a tile raised",
        Flown(Seams(), lambda survey, dz: survey.shift_heights("tile_1_1", dz), scene=_FLAT),
        beyond=0.06,
        inside=0.04,
        gate="0.06 m against 0.04 m",
    ),
    plant(
        "a class that is not allowed",
        Flown(
            Classification(),
            lambda survey, code: survey.reclassify(0, 5, code),
            specification=_CLASSES,
        ),
        beyond=3,
        inside=1,
    ),
    plant(
        "returns numbered zero",
        Flown(ReturnNumbers(), lambda survey, spoilt: spoilt and survey.zero_returns(0)),
        beyond=True,
        inside=False,
    ),
    plant(
        "points stored twice",
        Flown(Duplicates(), lambda survey, count: survey.duplicate_points(0, count)),
        beyond=20,
        inside=1,
        gate="20 points against 1",
    ),
    plant(
        "coordinates stored too coarsely",
        Flown(CoordinateLattice(), lambda survey, scale: survey.scale(0, scale)),
        beyond=0.011,
        inside=0.01,
        gate="steps of 0.011 m against 0.01 m",
    ),
    plant(
        "a hole in a tile",
        Flown(Voids(), cut_hole, specification=_HOLES),
        beyond=2.5,
        inside=1.2,
        gate="a radius of 2.5 m against 1.2 m, where a void has 9 m²",
    ),
    plant(
        "a hole where nobody said how large one may be",
        Flown(Voids(), cut_hole, specification=_DENSITY_ASKED, beside=(PointDensity(),)),
        beyond=1.8,
        inside=0.8,
        gate="a radius of 1.8 m against 0.8 m, where 4 points are asked for per m²",
    ),
)
