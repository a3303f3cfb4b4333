"""Density spread: the median of the cells against their mean, and swaths by themselves."""

from __future__ import annotations

from typing import Any

import pytest
from made_cloud import Delivery, make_crs, make_lattice_points, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws, join, take
from lidar_checks.cloud.density_spread import DensitySpread

BOX = (1000.0, 2000.0, 1040.0, 2040.0)


def judge(*chunks: PointChunk, **parts: Any) -> Finding:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk, **parts)
    (found,) = delivery.drive(DensitySpread())
    return found


def hover(times: int) -> PointChunk:
    """Return an even cloud of 4 points a cell, and a spot of 100 cells with many more."""
    spot = make_lattice_points((1010.0, 2010.0, 1020.0, 2020.0), 0.5)
    return join([make_lattice_points(BOX, 0.5), *[spot] * times])


def test_an_even_cloud_conforms() -> None:
    """Median and mean are one."""
    found = judge(hover(0))
    assert (found.outcome, found.observed) == (Outcome.CONFORMS, "1.000")


@pytest.mark.parametrize(("times", "outcome"), [(9, "conforms"), (10, "nonconforming")])
def test_just_inside_and_just_outside(times: int, outcome: str) -> None:
    """1,444 cells off the rim: 4 / (4 + 400·n / 1,444) is 0.616 for 9 and 0.591 for 10."""
    found = judge(hover(times))
    assert found.outcome == outcome
    assert found.grade is (Grade.OBSERVATION if times == 10 else None)
    assert float(found.observed) == pytest.approx(4 / (4 + 400 * times / 1444), abs=0.001)


def test_a_swath_alone_is_told() -> None:
    """Two swaths over one another make twice the density of each."""
    one = make_lattice_points(BOX, 0.5, point_source_id=1)
    found = judge(one, make_lattice_points(BOX, 0.5, point_source_id=2))
    assert "the mean is 8.00, and a swath alone has 4.00" in found.sentence


def test_what_cannot_be_judged() -> None:
    """Degrees, nothing at all and too little are no pass."""
    degrees = judge(hover(0), crs=make_crs(None, CrsKind.GEOGRAPHIC))
    assert degrees.outcome is Outcome.NOT_ASSESSED
    assert judge(make_points([], [])).outcome is Outcome.NOT_ASSESSED
    assert judge(make_points([1.0], [1.0])).outcome is Outcome.INCONCLUSIVE


def test_tiles_are_judged_together_in_any_order() -> None:
    """Cut at a line, the cloud is the same."""
    cloud = hover(10)
    west = cloud.x < 1_015_3000
    parts = (take(cloud, west), take(cloud, ~west))
    assert judge(*parts).sentence == judge(*parts[::-1]).sentence == judge(cloud).sentence


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same counts."""
    check_tally_laws(DensitySpread(), [make_lattice_points((0.0, 0.0, 9.0, 9.0), 0.5)])
