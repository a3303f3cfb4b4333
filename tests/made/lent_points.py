"""Tiles with a buffer: each of two holds points of the other."""

from __future__ import annotations

from functools import partial

import numpy as np

from ledger.testing import SurveyBuilder
from ledger.testing.scene import Points


def lend_points(survey: SurveyBuilder, metres: float) -> None:
    """Let each of the first two tiles hold the points of the other that lie so near to it."""
    west, east = (dict(survey.tile(number).points) for number in (0, 1))
    border = float(np.asarray(east["x"], dtype=np.float64).min())
    for number, own, other in ((0, west, east), (1, east, west)):
        near = np.abs(np.asarray(other["x"], dtype=np.float64) - border) < metres
        both = {name: np.concatenate([own[name], other[name][near]]) for name in own}
        survey.edit_points(number, partial(_replace, both))


def _replace(points: Points, _: Points) -> Points:
    return points
