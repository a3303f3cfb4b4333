"""Surveys that went through a preset that thins them."""

from __future__ import annotations

import numpy as np

from ledger.testing import SurveyBuilder


def thin_survey(survey: SurveyBuilder, cell: float) -> None:
    """Keep one point, whichever comes first, in each square cell of every tile; 0 keeps all.

    Args:
        survey: the survey.
        cell: side of a cell, units of X and Y.
    """
    for path in survey.paths if cell else ():
        points = survey.tile(path.name).points
        order = np.random.default_rng(4).permutation(len(points["x"]))
        places = np.column_stack(
            [np.floor(points[axis][order].astype(np.float64) / cell) for axis in "xy"]
        )
        kept = np.zeros(len(order), dtype=bool)
        kept[order[np.unique(places, axis=0, return_index=True)[1]]] = True
        survey.keep_points(path.name, kept)
