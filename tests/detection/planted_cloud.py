"""Errors in points."""

from __future__ import annotations

from planted import METRES, Flown, Planted, plant

from ledger.testing import Scene
from lidar_checks.cloud.classification import Classification
from lidar_checks.cloud.point_density import PointDensity
from lidar_checks.cloud.return_numbers import ReturnNumbers
from lidar_checks.cloud.seams import Seams

_DENSE = METRES + "[criteria.point-density]\nmin_pts_per_m2 = 6.0\n"
_CLASSES = METRES + "[criteria.classification]\nrequired = [2]\nallowed = [1, 2, 5]\n"
_FLAT = Scene(columns=3, rows=3, noise=0.01)

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
)
