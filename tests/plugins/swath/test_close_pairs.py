"""Close pairs, held against the search of scipy."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.spatial import cKDTree

import lidar_checks.swath.close_pairs as module
from lidar_checks.swath.close_pairs import BlockPoints, count_close_pairs, lay_out_blocks
from lidar_checks.swath.patch_sample import Kept

SIDE = 5_000


def scatter(points: int, blocks: int, seed: int) -> Kept:
    """Return points of two passes strewn over a row of blocks, and crowded in one corner of it."""
    random = np.random.default_rng(seed)
    x = random.integers(0, SIDE * blocks, points)
    y = random.integers(0, SIDE, points)
    x[: points // 20] //= 40 * blocks
    y[: points // 20] //= 40
    return Kept(
        x=x - SIDE,
        y=y,
        z=random.integers(0, 300, points),
        source=np.ones(points, dtype=np.uint16),
        time=random.choice([0.0, 1000.0], points) + random.random(points),
        surface=np.ones(points, dtype=np.bool_),
    )


def count_with_scipy(points: BlockPoints) -> dict[str, Any]:
    """Return the counts as a search tree and plain arithmetic have them."""
    tree = cKDTree(np.column_stack((points.u, points.v)))
    one, two = tree.query_pairs(2.0, output_type="ndarray").T
    flat = np.hypot(points.u[two] - points.u[one], points.v[two] - points.v[one])
    rise = np.abs(points.w[two] - points.w[one])
    crossing = points.number[one] != points.number[two]
    return {
        "close": tuple(
            int(np.sum(crossing & (rise <= 1 / part) & (flat <= 1 / part))) for part in (4, 8)
        ),
        "wide": tuple(int(np.sum(crossing & (rise <= 1 / part))) for part in (4, 8)),
        "all_pairs": len(one),
    }


@pytest.mark.parametrize(("count", "blocks"), [(300, 1), (2_000, 7), (9_000, 3), (9_000, 70)])
def test_pairs_are_those_of_a_search_tree(count: int, blocks: int) -> None:
    """Strips and batches leave no pair out, and count none twice."""
    points = lay_out_blocks(scatter(count, blocks, count), SIDE, 100.0, 1.0)
    assert points is not None
    found = count_close_pairs(points)
    assert found.all_pairs > count
    assert found.close[0] > 0
    expected = count_with_scipy(points)
    assert {name: getattr(found, name) for name in expected} == expected


def test_the_order_of_the_points_leaves_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor do the batches, nor points that share a place or a time."""
    kept = scatter(3_000, 4, 1)
    kept = replace(kept, x=kept.x // 5 * 5, time=np.round(kept.time))
    found = count_close_pairs(lay_out_blocks(kept, SIDE, 100.0, 1.0))
    turned = kept.take(np.random.default_rng(2).permutation(3_000))
    monkeypatch.setattr(module, "_AT_ONCE", 700)
    assert count_close_pairs(lay_out_blocks(turned, SIDE, 100.0, 1.0)) == found
    assert found.uneven > 0
