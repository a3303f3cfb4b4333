"""Ground density: the share of cells without a ground point, over all tiles."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, make_crs, make_lattice_points, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws, join, take
from lidar_checks.cloud.ground_density import GroundDensity

BOX = (1000.0, 2000.0, 1040.0, 2040.0)


# Where gaps of any width are let pass, so that the share without ground decides.
GAPS_PASS = {"max_share_in_gaps": 1.0}


def judge(*chunks: PointChunk, criteria: dict[str, float] | None = None, **parts: Any) -> Finding:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk, **parts)
    (found,) = delivery.drive(GroundDensity(), criteria)
    return found


def wood(columns: int) -> PointChunk:
    """Return a cloud whose first so many columns of cells off the rim hold vegetation alone."""
    cloud = make_lattice_points(BOX, 0.5)
    x, y = cloud.x / 1e4, cloud.y / 1e4
    under = x < 1002 + 2 * columns
    return make_points(x, y, 0.0, classification=np.where(under, 5, 2))


@pytest.mark.parametrize(("columns", "outcome"), [(4, "conforms"), (5, "nonconforming")])
def test_just_inside_and_just_outside(columns: int, outcome: str) -> None:
    """Of 18 columns of cells off the rim 4 are 22 %, 5 are 28 %; the limit is 25 %."""
    found = judge(wood(columns), criteria=GAPS_PASS)
    assert found.outcome == outcome
    assert found.grade is (Grade.OBSERVATION if columns == 5 else None)
    assert float(found.observed) == pytest.approx(100 * columns / 18, abs=0.01)


@pytest.mark.parametrize("code", [6, 9])
def test_water_and_roofs_are_left_out(code: int) -> None:
    """Where class 9 or 6 lies no ground is to be had; a third of the area is a lake, or a hall."""
    cloud = wood(6)
    lake = np.where(cloud["classification"] == 5, code, 2)
    wet = make_points(cloud.x / 1e4, cloud.y / 1e4, 0.0, classification=lake)
    assert judge(cloud).outcome is Outcome.NONCONFORMING
    assert judge(wet).observed == "0.00"


def test_the_tenth_of_the_cells_is_told() -> None:
    """Everywhere 4 points a square metre."""
    assert "nine of ten hold at least 4.00 per m²" in judge(wood(0)).sentence


def test_no_ground_at_all_is_not_assessed() -> None:
    """Where nobody classified, nothing can be said of the ground."""
    found = judge(make_lattice_points(BOX, 0.5, classification=1))
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("points of class 2",))


def test_what_cannot_be_judged() -> None:
    """Degrees, nothing at all and too little are no pass."""
    assert judge(wood(0), crs=make_crs(None, CrsKind.GEOGRAPHIC)).outcome is Outcome.NOT_ASSESSED
    assert judge(make_points([], [])).outcome is Outcome.NOT_ASSESSED
    assert judge(make_points([1.0], [1.0])).outcome is Outcome.INCONCLUSIVE


def test_tiles_are_judged_together_in_any_order() -> None:
    """Ground of a neighbour counts in a cell at the border."""
    cloud = wood(5)
    west = cloud.x < 1_011_3000
    parts = (take(cloud, west), take(cloud, ~west))
    assert judge(*parts).sentence == judge(*parts[::-1]).sentence == judge(cloud).sentence


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same counts."""
    mixed = join([wood(3), make_points([1.0], [1.0], classification=7)])
    check_tally_laws(GroundDensity(), [take(mixed, np.arange(0, len(mixed), 13))])


def test_water_everywhere_is_inconclusive() -> None:
    """Ground points in every cell with water too: nothing is left to judge."""
    both = join([make_lattice_points(BOX, 0.5), make_lattice_points(BOX, 0.5, classification=9)])
    assert judge(both).outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize(
    ("columns", "rows", "share", "grade"),
    [(3, 5, "4.62", None), (4, 8, "9.87", None), (3, 11, "10.18", Grade.OBSERVATION)],
)
def test_gaps_of_more_than_5_metres_are_told(
    columns: int, rows: int, share: str, grade: Grade | None
) -> None:
    """Of 18 by 18 cells off the rim 32 are 9.87 %, 33 are 10.18 %; the limit is 10 %."""
    cloud = make_lattice_points(BOX, 0.5)
    x, y = cloud.x / 1e4, cloud.y / 1e4
    under = (x >= 1010) & (x < 1010 + 2 * columns) & (y >= 2010) & (y < 2010 + 2 * rows)
    found = judge(make_points(x, y, 0.0, classification=np.where(under, 5, 2)))
    assert found.grade is grade
    assert f"{share} % lie in gaps of 6 m and more" in found.sentence


def test_narrow_gaps_are_none() -> None:
    """Stripes of two cells are without ground, and no square of three cells fits in."""
    cloud = make_lattice_points(BOX, 0.5)
    x, y = cloud.x / 1e4, cloud.y / 1e4
    under = (x >= 1010) & (x < 1014)
    found = judge(make_points(x, y, 0.0, classification=np.where(under, 5, 2)))
    assert found.outcome is Outcome.CONFORMS
    assert "gaps" not in found.sentence
