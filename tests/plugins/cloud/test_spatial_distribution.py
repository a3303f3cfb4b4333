"""Spatial distribution: cells of one swath, over all tiles, with at least one first return."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.testing import check_tally_laws, make_chunk, take
from lidar_checks.cloud.spatial_distribution import SpatialDistribution

CELL = {"cell_m": 0.5}


def make_swath(share: float, source: int = 3, seed: int = 1, west: float = 1000.0) -> PointChunk:
    """Return a swath of 100 by 100 cells of which about `share` hold a point, each its middle."""
    random = np.random.default_rng(seed)
    cells = np.ones((100, 100), dtype=bool)
    inner = np.argwhere(cells[2:-2, 2:-2]) + 2
    empty = random.permutation(len(inner))[: round((1 - share) * len(inner))]
    cells[tuple(inner[empty].T)] = False
    rows, columns = np.nonzero(cells)
    made = make_points(west + columns / 2 + 0.25, 2000 + rows / 2 + 0.25)
    return give_source(made, source)


def give_source(chunk: PointChunk, source: Any) -> PointChunk:
    """Return points of one or several point sources."""
    fields = {name: chunk[name] for name in chunk.names}
    fields["point_source_id"] = np.broadcast_to(np.asarray(source, dtype=np.uint16), len(chunk))
    return make_chunk({"x": chunk.x / 1e4, "y": chunk.y / 1e4, "z": chunk.z / 1e4, **fields})


def judge(*chunks: PointChunk) -> Finding:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk)
    (found,) = delivery.drive(SpatialDistribution(), CELL)
    return found


@pytest.mark.parametrize(("share", "outcome"), [(0.92, "conforms"), (0.88, "nonconforming")])
def test_just_inside_and_just_outside(share: float, outcome: str) -> None:
    """The specification asks for 90 %."""
    found = judge(make_swath(share))
    assert found.outcome == outcome
    assert float(found.observed) == pytest.approx(100 * share, abs=1.0)


def test_one_swath_does_not_hide_another() -> None:
    """The weakest is named, although a second one fills its cells."""
    found = judge(make_swath(0.8), make_swath(1.0, 4))
    assert found.grade is Grade.MINOR
    assert "point source 3 hold a first return, the least of 2 swaths" in found.sentence


def test_a_swath_goes_on_from_tile_to_tile() -> None:
    """The cells at a border are not its rim."""
    swath = make_swath(0.95)
    west = swath.x < 1_023_0000
    cut = judge(take(swath, west), take(swath, ~west))
    assert cut.observed == judge(swath).observed


def test_without_point_sources_nothing_passes() -> None:
    """All swaths together hide each other, so that only a failure tells."""
    assert judge(make_swath(1.0, 0)).outcome is Outcome.INCONCLUSIVE
    assert judge(make_swath(0.7, 0)).outcome is Outcome.NONCONFORMING


def test_a_lake_is_taken_out() -> None:
    """A gap wider than four cells is a void, and not sparse cover."""
    swath = make_swath(1.0)
    x, y = swath.x / 1e4, swath.y / 1e4
    lake = (x > 1010) & (x < 1030) & (y > 2010) & (y < 2030)
    assert judge(take(swath, ~lake)).observed == "100.00"


def test_too_little_is_inconclusive() -> None:
    """A few cells show nothing."""
    found = judge(give_source(make_points([1.0, 2.0], [1.0, 2.0]), 3))
    assert found.outcome is Outcome.INCONCLUSIVE


def test_too_many_sources_are_no_swaths() -> None:
    """More ids than can be swaths are something else."""
    many = give_source(make_points(np.arange(2000.0), np.arange(2000.0)), np.arange(2000))
    assert judge(many).outcome is Outcome.INCONCLUSIVE


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same cells."""
    swath = take(make_swath(0.9), np.arange(0, 9_000, 19))
    sources = np.where(np.arange(len(swath)) % 3, 3, 4)
    check_tally_laws(SpatialDistribution(), [give_source(swath, sources)], criteria=CELL)
