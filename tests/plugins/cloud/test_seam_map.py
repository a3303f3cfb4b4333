"""The map of seams: each border shows by how much its tiles differ."""

from __future__ import annotations

import pytest
from made_cloud import ORIGIN, Site

from ledger.contract.rasters import NO_VALUE
from lidar_checks.cloud.seams import Seams


def test_the_step_is_drawn_along_the_border() -> None:
    """The middle one of nine tiles lies 0.2 m high: west of it below, east of it above."""
    site = Site(3, 3, 40.0, raised={(1, 1): 0.2})
    (drawn,) = site.deliver().draw(Seams())
    assert (drawn.name, drawn.unit) == ("seam-steps", "m")

    def read(x: float, y: float) -> float:
        column, row = (
            int((along + corner - start) // drawn.cell)
            for along, corner, start in zip((x, y), ORIGIN, drawn.origin, strict=True)
        )
        value = int(drawn.values[row, column])
        return value * drawn.step if value != NO_VALUE else 99.0

    assert read(39, 60) == pytest.approx(-0.2, abs=0.005)
    assert read(79, 60) == pytest.approx(0.2, abs=0.005)
    assert read(39, 20) == pytest.approx(0.0, abs=0.005)
    assert read(20, 20) == 99.0


def test_a_single_tile_has_no_map() -> None:
    """Where there is no seam there is nothing to draw."""
    assert Site(1, 1, 40.0).deliver().draw(Seams()) == []
