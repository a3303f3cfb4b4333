"""Errors in what points carry: flags, scan angles, noise, and the way they were classed."""

from __future__ import annotations

import numpy as np
from planted import METRES, Flown, Planted, plant

from ledger.testing import Scene, SurveyBuilder
from lidar_checks.cloud.class_method import ClassMethod
from lidar_checks.cloud.classification import Classification
from lidar_checks.cloud.noise_classed import NoiseClassed
from lidar_checks.cloud.point_flags import PointFlags
from lidar_checks.cloud.scan_angles import ScanAngles

_NO_OVERLAP = METRES + '[criteria.point-flags]\noverlap_flag = "forbidden"\n'


def _class_anew(survey: SurveyBuilder, share: float) -> None:
    """Take a share of the ground of the first tile out of its class."""

    def spoil(points: dict[str, np.ndarray]) -> None:
        codes = points["classification"].copy()
        chosen = np.random.default_rng(2).uniform(0, 1, len(codes)) < share
        codes[chosen & (codes == 2)] = 1
        points["classification"] = codes

    survey.edit_points(0, spoil)


def _take_surface(survey: SurveyBuilder, share: float) -> None:
    """Take the ground of a share of all points of the first tile out of its class, in order."""
    codes = survey.tile(0).points["classification"].copy()
    ground = np.flatnonzero(codes == 2)
    codes[ground[: round(share * len(ground))]] = 1
    survey.set_field(0, "classification", codes)


CASES: tuple[Planted, ...] = (
    plant(
        "a tile whose ground nobody classed",
        Flown(Classification(), _take_surface, scene=Scene(columns=3)),
        beyond=1.0,
        inside=0.999,
        gate="all of its ground against all but a thousandth",
    ),
    plant(
        "points withheld in the ground",
        Flown(PointFlags(), lambda survey, share: survey.set_flag(0, "withheld", share)),
        beyond=0.01,
        inside=0.0,
        gate="1 % of the points against none",
    ),
    plant(
        "an overlap flag that is forbidden",
        Flown(
            PointFlags(),
            lambda survey, share: survey.set_flag(0, "overlap", share),
            specification=_NO_OVERLAP,
        ),
        beyond=0.01,
        inside=0.0,
        gate="1 % of the points against none",
    ),
    plant(
        "scan angles beyond the range",
        Flown(ScanAngles(), lambda survey, angle: survey.set_field(0, "scan_angle", angle)),
        beyond=180.006,
        inside=180.0,
        gate="180.006° against 180°",
    ),
    plant(
        "a point below the ground",
        Flown(NoiseClassed(), lambda survey, dz: survey.move_point(0, 5, dz=dz)),
        beyond=-14.0,
        inside=-9.0,
        gate="14 m against 9 m",
    ),
    plant(
        "a tile classed in another way",
        Flown(ClassMethod(), _class_anew),
        beyond=0.4,
        inside=0.05,
        gate="40 % of the ground left out against 5 %",
    ),
)
