"""Lone points above or below the ground, and what stands together."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from judged_flights import list_grades
from made_flight import Flight, append

from ledger.contract.check import Grade
from lidar_checks.swath.flyers import Flyers


@pytest.mark.parametrize(
    ("height", "fields", "found"),
    [
        (30.0, {}, 1),
        (-9.0, {}, 1),
        (2.5, {}, 0),
        (30.0, {"classification": 18}, 0),
        (-9.0, {"classification": 7}, 0),
        (30.0, {"withheld": True}, 0),
    ],
)
def test_lone_points_are_flyers_unless_marked(
    height: float, fields: dict[str, Any], found: int
) -> None:
    """A bird or a low point is an observation; what is marked or near the rest is not."""
    flight = Flight()
    points = append(flight.make_points(), 30.0, 50.0, height, **fields)
    (finding,) = flight.deliver(points).drive(Flyers())
    assert list_grades([finding]) == [Grade.OBSERVATION] * found
    if found:
        below = int(height < 0)
        assert f"{below} below the ground, {1 - below} above" in finding.sentence
        assert finding.where.file == "tile_0_0.laz"


@pytest.mark.parametrize(("count", "found"), [(3, 1), (4, 0)])
def test_more_points_together_are_a_thing(count: int, found: int) -> None:
    """A lamp or a wire has several points at one height."""
    flight = Flight()
    spots = 30 + np.arange(count) * 0.3
    points = append(flight.make_points(), spots, np.full(count, 50.0), np.full(count, 25.0))
    (finding,) = flight.deliver(points).drive(Flyers())
    assert len(list_grades([finding])) == found


def test_a_flyer_at_a_tile_edge_is_judged_with_the_next_tile() -> None:
    """A tree of which one tile has three points is no flyer: the rest stands in the next tile."""
    flight = Flight(tile=40)
    spots = 40.5 + np.linspace(-0.9, 8, 40)
    points = append(flight.make_points(), spots, np.full(40, 50.0), np.full(40, 25.0))
    (finding,) = flight.deliver(points).drive(Flyers())
    assert list_grades([finding]) == []
