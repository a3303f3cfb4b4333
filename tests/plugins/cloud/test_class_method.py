"""Class method: a jump along a tile border is found, an honest forest edge is not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from made_cloud import ORIGIN, Delivery, Floats, make_crs, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.testing import check_tally_laws
from lidar_checks.cloud.class_method import ClassMethod

SIDE = 40.0
DENSITY = 12.0

# Share of the points in trees at a place, and share of the ground that is classed as ground.
Share = Callable[[Floats, Floats], Floats]


def sparse(x: Floats, _y: Floats) -> Floats:
    """Return a few trees everywhere."""
    return np.full_like(x, 0.2)


def make_tile(
    column: int, classed: float, forest: Share = sparse, *, several: bool = True
) -> PointChunk:
    """Return a tile in which a share of the ground is classed as such, the rest as unclassified."""
    random = np.random.default_rng((7, column))
    count = int(DENSITY * SIDE**2)
    x = column * SIDE + random.uniform(0, SIDE, count)
    y = random.uniform(0, SIDE, count)
    tree = random.uniform(0, 1, count) < forest(x, y)
    ground = ~tree & (random.uniform(0, 1, count) < classed)
    total = np.where(tree, 2, 1) if several else 1
    codes = np.where(tree, 5, np.where(ground, 2, 1))
    return make_points(
        ORIGIN[0] + x,
        ORIGIN[1] + y,
        100.0,
        classification=codes,
        number_of_returns=total,
    )


def judge(*tiles: PointChunk, **criteria: Any) -> list[Finding]:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, tile in enumerate(tiles):
        delivery.add(f"tile_{number}.laz", tile)
    return list(delivery.drive(ClassMethod(), criteria))


def list_faults(findings: list[Finding]) -> list[str]:
    """Return the subjects of what does not conform; nothing is ever worse than an observation."""
    found = [f for f in findings if f.outcome is Outcome.NONCONFORMING]
    assert all(f.grade is Grade.OBSERVATION and f.catalogue == ("CL-07",) for f in found)
    return [f.subject for f in found]


def test_tiles_classed_alike_conform() -> None:
    """The same share of ground on both sides goes on across the border."""
    (finding,) = judge(make_tile(0, 0.9), make_tile(1, 0.9))
    assert finding.outcome is Outcome.CONFORMS
    assert "Along 1 border between tiles" in finding.sentence


def test_another_way_of_classing_is_observed() -> None:
    """Half of the ground left unclassified in one tile shows on its borders, and only there."""
    tiles = [make_tile(0, 0.95), make_tile(1, 0.95), make_tile(2, 0.45)]
    (finding,) = [f for f in judge(*tiles) if f.outcome is not Outcome.CONFORMS]
    assert list_faults([finding]) == ["tile_1.laz | tile_2.laz"]
    assert "from 76 % in tile_1.laz to 38 % in tile_2.laz" in finding.sentence
    assert finding.where.xy is not None
    assert finding.where.xy == pytest.approx((ORIGIN[0] + 2 * SIDE, ORIGIN[1] + SIDE / 2), abs=0.1)


@pytest.mark.parametrize(("other", "cries"), [(0.78, False), (0.55, True)])
def test_the_gate_is_the_step(other: float, *, cries: bool) -> None:
    """Steps well below 15 points are left, well above they are seen."""
    assert bool(list_faults(judge(make_tile(0, 0.9), make_tile(1, other)))) is cries


@pytest.mark.parametrize("several", [True, False])
@pytest.mark.parametrize("angle", [0.3, 0.0])
def test_an_honest_forest_edge_stays_silent(angle: float, *, several: bool) -> None:
    """A forest that ends near the border: slanting, or parallel to it a few metres inside.

    Whether the scanner tells several returns or one only.
    """

    def forest(x: Floats, y: Floats) -> Floats:
        edge = SIDE - 3 + angle * (y - SIDE / 2)
        return np.where(x < edge, 0.8, 0.05)

    tiles = [make_tile(number, 0.95, forest, several=several) for number in (0, 1)]
    assert not list_faults(judge(*tiles))


def test_a_forest_that_ends_at_the_border_is_known_by_its_returns() -> None:
    """An edge exactly along the border stays silent where pulses have several returns."""

    def forest(x: Floats, _y: Floats) -> Floats:
        return np.where(x < SIDE, 0.8, 0.05)

    tiles = [make_tile(number, 0.95, forest) for number in (0, 1)]
    assert not list_faults(judge(*tiles))
    # One return a pulse leaves nothing to tell it by, which is why it is an observation at most.
    single = [make_tile(number, 0.95, forest, several=False) for number in (0, 1)]
    assert list_faults(judge(*single)) == ["tile_0.laz | tile_1.laz"]


def test_a_patch_at_the_border_stays_silent() -> None:
    """A wood on half of the border is no rule of the whole border."""

    def forest(x: Floats, y: Floats) -> Floats:
        return np.where((x < SIDE) & (y < SIDE / 2), 0.8, 0.05)

    tiles = [make_tile(number, 0.95, forest, several=False) for number in (0, 1)]
    assert not list_faults(judge(*tiles))


def test_water_is_surface() -> None:
    """A shore along the border goes from ground to water, both of which are surface."""
    land, water = make_tile(0, 0.95), make_tile(1, 0.95)
    codes = np.where(water["classification"] == 2, 9, water["classification"])
    place = [axis / 1e4 for axis in (water.x, water.y, water.z)]
    lake = make_points(*place, classification=codes, number_of_returns=water["number_of_returns"])
    assert not list_faults(judge(land, lake))


def test_one_tile_has_nothing_to_compare() -> None:
    """One tile conforms; two far apart, or too thin, are inconclusive; none is not assessed."""
    assert judge(make_tile(0, 0.9))[0].outcome is Outcome.CONFORMS
    assert judge(make_tile(0, 0.9), make_tile(3, 0.9))[0].outcome is Outcome.INCONCLUSIVE
    two = make_tile(0, 0.9), make_tile(1, 0.4)
    assert judge(*two, fewest_points=1000)[0].outcome is Outcome.INCONCLUSIVE
    assert judge()[0].outcome is Outcome.NOT_ASSESSED


def test_without_a_unit_nothing_is_assessed() -> None:
    """Tiles of unknown unit have no metres to lay bands in."""
    delivery = Delivery()
    for number in (0, 1):
        delivery.add(f"tile_{number}.laz", make_tile(number, 0.9), crs=make_crs(unit=None))
    findings = delivery.drive(ClassMethod())
    assert [f.outcome for f in findings] == [Outcome.NOT_ASSESSED] * 2


def test_the_tally_keeps_the_laws() -> None:
    """Cutting, order, merging and pickling leave the counts of each border."""
    delivery = Delivery()
    for number in (0, 1):
        delivery.add(f"tile_{number}.laz", make_tile(number, 0.7))
    chunk = delivery.chunks["tile_0.laz"]
    file = delivery.files["tile_0.laz"]
    check_tally_laws(ClassMethod(), [chunk], evidence=delivery.make_evidence(), file=file)
