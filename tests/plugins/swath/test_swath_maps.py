"""Maps of what strips show together: how much was seen twice, and how far they differ."""

from __future__ import annotations

import numpy as np
import pytest
from made_cloud import ORIGIN
from made_flight import Flight

from ledger.contract.rasters import NO_VALUE, Raster
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep


def read_at(drawn: Raster, x: float, y: float) -> float:
    """Return the value of a map at a place from the corner of the site, metres."""
    column, row = (
        int((along + corner - start) // drawn.cell)
        for along, corner, start in zip((x, y), ORIGIN, drawn.origin, strict=True)
    )
    value = int(drawn.values[row, column])
    assert value != NO_VALUE
    return value * drawn.step


@pytest.mark.parametrize("tile", [80.0, 40.0])
def test_the_difference_is_drawn_where_it_is(tile: float) -> None:
    """The second pass is raised in the west alone; how the site is tiled leaves no trace."""
    flight = Flight(
        tile=tile,
        density=2.0,
        noise=0.0,
        raise_by={2: lambda x, y: np.where(x < 40, 0.06, 0.0) + 0.0 * y},
    )
    (drawn,) = flight.deliver().draw(SwathStep())
    assert (drawn.name, drawn.unit) == ("strip-differences", "m")
    assert read_at(drawn, 12, 60) == pytest.approx(0.06, abs=0.001)
    assert read_at(drawn, 68, 20) == pytest.approx(0.0, abs=0.001)


def test_the_overlap_is_drawn_whether_anybody_asks_for_one() -> None:
    """Four swaths of 26 m, 20 m apart: seen twice at 20 m from the rim, once in their middle."""
    (drawn,) = Flight(density=2.0, passes=4, swath=26.0).deliver().draw(SwathOverlap())
    assert (drawn.name, drawn.unit) == ("overlap", "%")
    assert read_at(drawn, 20, 40) > 50
    assert read_at(drawn, 70, 40) < 20


def test_one_pass_has_no_differences() -> None:
    """Nothing is drawn of what nobody can know."""
    assert Flight(passes=1).deliver().draw(SwathStep()) == []
