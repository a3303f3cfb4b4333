"""Errors between swaths, within one, and along the edges of tiles."""

from __future__ import annotations

import numpy as np
from lent_points import lend_points
from planted import METRES, Flown, plant
from thinned import thin_survey

from ledger.testing import Scene, SurveyBuilder
from lidar_checks.cloud.duplicates import Duplicates
from lidar_checks.cloud.tile_edges import TileEdges
from lidar_checks.swath.double_surfaces import DoubleSurfaces
from lidar_checks.swath.flyers import Flyers
from lidar_checks.swath.point_source_ids import PointSourceIds
from lidar_checks.swath.surface_thickness import SurfaceThickness
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep
from lidar_checks.swath.thinned_points import ThinnedPoints

_SMOOTH = Scene(columns=2, rows=2, density=8.0, relief=0.1, noise=0.0)
_TILES = Scene(columns=2, rows=1, density=40.0, noise=0.01)
_BUFFERED = METRES + "[delivery]\ntile_buffer_m = 2.0\n"
_THICK = METRES + "[criteria.surface-thickness]\nrmsd_max_m = 0.06\n"
_TWICE = METRES + "[criteria.swath-overlap]\nmin_share = 0.6\n"


def _split_surface(survey: SurveyBuilder, apart: float) -> None:
    """Raise every second point of the first swath: a surface seen twice by one pass."""
    for path in survey.paths:
        points = survey.tile(path.name).points
        chosen = points["point_source_id"] == 1
        rise = np.where(chosen & (np.arange(len(chosen)) % 2 == 0), apart, 0.0)
        survey.set_field(path.name, "z", points["z"].astype(np.float64) + rise)
        survey.keep_points(path.name, chosen)


def _number(survey: SurveyBuilder, source: int) -> None:
    """Give every point one id, or leave them as they are."""
    for path in survey.paths if source >= 0 else ():
        survey.set_field(path.name, "point_source_id", source)


def _leave_out(survey: SurveyBuilder, tiles: int) -> None:
    """Leave the second swath out of some tiles."""
    for number in range(tiles):
        survey.keep_points(number, survey.tile(number).points["point_source_id"] == 1)


def _cut_back(survey: SurveyBuilder, metres: float) -> None:
    """Take a strip off the west side of the second tile."""
    x = survey.tile(1).points["x"].astype(np.float64)
    survey.keep_points(1, x - x.min() > metres)


CASES = (
    plant(
        "a swath raised",
        Flown(SwathStep(), lambda survey, dz: survey.shift_swath(2, dz), scene=_SMOOTH),
        beyond=0.085,
        inside=0.075,
        gate="0.085 m against 0.075 m",
    ),
    plant(
        "two surfaces in one pass",
        Flown(DoubleSurfaces(), _split_surface, scene=_SMOOTH),
        beyond=0.12,
        inside=0.06,
        gate="0.12 m apart against 0.06 m",
    ),
    plant(
        "a surface thick by itself",
        Flown(SurfaceThickness(), _split_surface, scene=_SMOOTH, specification=_THICK),
        beyond=0.12,
        inside=0.05,
        gate="0.12 m against 0.05 m",
    ),
    plant(
        "a lone point in the air",
        Flown(Flyers(), lambda survey, dz: survey.move_point(0, 5, dz=dz)),
        beyond=12.0,
        inside=1.5,
        gate="12 m off against 1.5 m",
    ),
    plant(
        "a swath left out",
        Flown(SwathOverlap(), _leave_out, scene=_SMOOTH, specification=_TWICE),
        beyond=2,
        inside=1,
        gate="of half the tiles against a quarter",
    ),
    plant(
        "one point source id for all",
        Flown(PointSourceIds(), _number),
        beyond=0,
        inside=-1,
    ),
    plant(
        "one point kept in each cell of a grid",
        Flown(ThinnedPoints(), thin_survey, scene=_TILES),
        beyond=0.2,
        inside=0.02,
        gate="0.2 m against 0.02 m, of passes with a point every 0.16 m",
    ),
    plant(
        "a white line between tiles",
        Flown(TileEdges(), _cut_back, scene=_TILES),
        beyond=1.3,
        inside=0.7,
        gate="1.3 m against 0.7 m",
    ),
    plant(
        "points in two tiles, further than the agreed buffer",
        Flown(TileEdges(), lend_points, scene=_TILES, specification=_BUFFERED),
        beyond=2.2,
        inside=1.9,
        gate="2.2 m of each other against 1.9 m, 2 m agreed",
    ),
    plant(
        "points repeated further than the agreed buffer",
        Flown(Duplicates(), lend_points, scene=_TILES, specification=_BUFFERED),
        beyond=2.4,
        inside=1.9,
        gate="2.4 m of each other against 1.9 m, 2 m agreed",
    ),
    plant(
        "points in two tiles, and no buffer agreed",
        Flown(Duplicates(), lend_points, scene=_TILES),
        beyond=2.0,
        inside=0.0,
        gate="2 m of each other against none",
    ),
)
