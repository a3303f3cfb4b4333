"""Errors in how points are spread, and in their times and intensities."""

from __future__ import annotations

from planted import METRES, Flown, Planted, plant

from ledger.testing import Scene, SurveyBuilder
from lidar_checks.cloud.attribute_range import AttributeRange
from lidar_checks.cloud.density_spread import DensitySpread
from lidar_checks.cloud.gps_time_kind import GpsTimeKind
from lidar_checks.cloud.ground_density import GroundDensity
from lidar_checks.cloud.spatial_distribution import SpatialDistribution

_EVEN = Scene(columns=2, rows=2, noise=0.01)
_WIDE = Scene(columns=4, rows=4, noise=0.01)
_CELLS = METRES + "[criteria.spatial-distribution]\ncell_m = 1.0\n"


def _thin_most(survey: SurveyBuilder, share: float) -> None:
    """Thin three tiles out of four, so that the last one makes the mean."""
    for number in range(3):
        survey.thin(number, share)


def _take_ground(survey: SurveyBuilder, tiles: int) -> None:
    """Class the ground of some tiles as something else."""
    for number in range(tiles):
        survey.reclassify(number, 2, 1)


def _take_middle(survey: SurveyBuilder, tiles: int) -> None:
    """Class the ground of one or two tiles off the rim as something else."""
    for number in (5, 10)[:tiles]:
        survey.reclassify(number, 2, 1)


def _thin_first(survey: SurveyBuilder, share: float) -> None:
    survey.thin(0, share)


CASES: tuple[Planted, ...] = (
    plant(
        "one dense tile makes the mean",
        Flown(DensitySpread(), _thin_most, scene=_EVEN),
        beyond=0.25,
        inside=0.6,
        gate="25 % of the points kept elsewhere against 60 %",
    ),
    plant(
        "tiles without ground",
        Flown(GroundDensity(), _take_ground, scene=_EVEN),
        beyond=2,
        inside=0,
        gate="half of the tiles against none",
    ),
    plant(
        "gaps of ground wider than 5 m",
        Flown(GroundDensity(), _take_middle, scene=_WIDE),
        beyond=2,
        inside=1,
        gate="two of sixteen tiles against one, 10 % allowed",
    ),
    plant(
        "cells of a swath without a point",
        Flown(SpatialDistribution(), _thin_first, scene=_EVEN, specification=_CELLS),
        beyond=0.2,
        inside=0.9,
        gate="20 % of the points kept against 90 %",
    ),
    plant(
        "intensity lost",
        Flown(
            AttributeRange(), lambda survey, spoilt: spoilt and survey.set_field(0, "intensity", 7)
        ),
        beyond=True,
        inside=False,
    ),
    plant(
        "times of the week called adjusted",
        Flown(GpsTimeKind(), lambda survey, spoilt: spoilt and survey.week_times(0)),
        beyond=True,
        inside=False,
    ),
    plant(
        "times called those of the week",
        Flown(GpsTimeKind(), lambda survey, adjusted: survey.time_flag(0, adjusted=adjusted)),
        beyond=False,
        inside=True,
    ),
    plant(
        "no times",
        Flown(GpsTimeKind(), lambda survey, spoilt: spoilt and survey.all_times_zero(0)),
        beyond=True,
        inside=False,
    ),
)
