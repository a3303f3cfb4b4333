"""Errors at the boundary of the site."""

from __future__ import annotations

import numpy as np
from planted import Flown, Planted, plant

from ledger.model.boundary import Boundary
from ledger.testing import Scene, SurveyBuilder
from lidar_checks.cloud.boundary_coverage import BoundaryCoverage
from lidar_checks.header.boundary_place import BoundaryPlace

_SCENE = Scene(columns=3, rows=3)
_X, _Y = _SCENE.origin
_SIDE = 60.0


def make_boundary(side: float = _SIDE, east: float = 0.0) -> Boundary:
    """Return a square site at the corner of the scene, moved east."""
    west, right, north = _X + east, _X + east + side, _Y + side
    ring = ((west, _Y), (right, _Y), (right, north), (west, north), (west, _Y))
    return Boundary("site.geojson", "ab" * 32, ((ring,),))


def cut_rim(survey: SurveyBuilder, width: float) -> None:
    """Leave out the points along the eastern rim."""
    for tile in survey.paths:
        x = np.asarray(survey.tile(tile.name).points["x"], dtype=float)
        survey.keep_points(tile.name, x < _X + _SIDE - width)


def move_east(survey: SurveyBuilder, metres: float) -> None:
    """Move every tile."""
    for tile in survey.paths:
        survey.shift(tile.name, dx=metres)


CASES: tuple[Planted, ...] = (
    plant(
        "a delivery beside its site",
        Flown(
            BoundaryPlace(),
            move_east,
            scene=_SCENE,
            options=(("boundary", make_boundary()),),
        ),
        beyond=61.0,
        inside=59.0,
        gate="moved by 61 m against 59 m, where the site is 60 m wide",
    ),
    plant(
        "a line missed at the rim of the site",
        Flown(
            BoundaryCoverage(),
            cut_rim,
            scene=_SCENE,
            options=(("boundary", make_boundary()),),
        ),
        beyond=6.0,
        inside=0.9,
        gate="a strip of 6 m against 0.9 m, which is half a cell",
    ),
)
