"""Ground is never accused: cliffs, quarries and pits are told, a shifted tile beside one found."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Floats, Site
from made_seams import EAST, NORTH, judge_seams, list_accused

from ledger.contract.check import Outcome


@pytest.mark.parametrize(
    ("name", "ground"),
    [
        ("flat", lambda x, y: 100 + 0 * x),
        ("slope of 45 degrees", lambda x, y: 100 + (x - EAST)),
        ("slope across tiles", lambda x, y: 100 + 0.7 * (x - EAST) - 0.7 * (y - NORTH)),
        ("cliff on one tile edge", lambda x, y: 100 + 8.0 * _near_one_edge(x, y)),
        ("cliff inside the strip", lambda x, y: 100 + 8.0 * (x > EAST + 41)),
        ("wall across the seams", lambda x, y: 100 + 3.0 * (np.abs(y - NORTH - 65) < 2)),
        ("steps everywhere", lambda x, y: 100 + 2.0 * np.floor((x - EAST) / 7)),
    ],
)
def test_ground_is_never_accused(name: str, ground: Any) -> None:
    """Whatever the ground does on its own, no tile is said to stand off."""
    findings = judge_seams(Site(3, 3, 40.0, ground=ground, noise=0.02))
    assert {f.outcome for f in findings} <= {Outcome.CONFORMS, Outcome.INCONCLUSIVE}, name
    assert not list_accused(findings), name


def _near_one_edge(x: Floats, y: Floats) -> Floats:
    """Return 1 west of one tile edge, falling to 0 over the tile, so that only it has a cliff."""
    inside = (x < EAST + 80) & (x > EAST + 40) & (y > NORTH + 40) & (y < NORTH + 80)
    return inside * (x - EAST - 40) / 40 * np.minimum(1, np.minimum(y - NORTH - 40, NORTH + 80 - y))


def test_a_cliff_of_8_m_on_one_tile_edge_is_ground() -> None:
    """The way round the cliff shows no step, so the delivery conforms and says so."""
    (finding,) = judge_seams(
        Site(3, 3, 40.0, ground=lambda x, y: 100 + 8.0 * _near_one_edge(x, y), noise=0.02)
    )
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.endswith("steps that are ground, since a way round shows none: 1.")


def _pit(x: Floats, y: Floats) -> Floats:
    """Return a quarry whose faces stand on all edges of one tile and whose floor has a ramp."""
    inside = (x > EAST + 40) & (x < EAST + 80) & (y > NORTH + 40) & (y < NORTH + 80)
    return np.where(inside, 100.0 - 8.0 + 0.03 * (x - EAST - 40), 100.0)


def _benches(x: Floats, y: Floats) -> Floats:
    """Return a quarry in one corner, with faces on two edges of a tile and a floor that falls."""
    inside = (x > EAST + 80) & (y > NORTH + 80)
    return np.where(inside, 100.0 - 8.0 - 0.04 * (x - EAST - 80), 100.0)


@pytest.mark.parametrize("ground", [_pit, _benches])
def test_a_quarry_round_a_tile_is_told_and_not_judged(ground: Any) -> None:
    """Faces of 8 m on several edges of a tile differ from edge to edge: nobody is accused."""
    findings = judge_seams(Site(3, 3, 40.0, ground=ground, noise=0.02))
    assert not list_accused(findings)
    assert {f.outcome for f in findings} <= {Outcome.INCONCLUSIVE, Outcome.CONFORMS}


@pytest.mark.parametrize(
    ("columns", "rows", "tile"), [(2, 2, (1, 1)), (3, 3, (2, 2)), (3, 1, (1, 0))]
)
def test_a_pit_with_a_level_floor_on_two_edges_is_ground(
    columns: int, rows: int, tile: tuple[int, int]
) -> None:
    """Its faces end on both edges, and where they end the tiles meet at one height."""
    west, south = EAST + 40 * tile[0], NORTH + 40 * tile[1]

    def ground(x: Floats, y: Floats) -> Floats:
        wide = 40 if rows == 1 else 28
        inside = (x > west) & (x < west + wide) & (y > south) & (y < south + 28)
        return np.where(inside, 96.0, 100.0)

    (finding,) = judge_seams(Site(columns, rows, 40.0, ground=ground, noise=0.02))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.endswith("steps that are ground, since a way round shows none: 2.")


@pytest.mark.parametrize("rise", [0.5, -8.0])
def test_a_shifted_tile_in_a_quarry_is_still_found(rise: float) -> None:
    """A tile of wrong height beside a face on one of its edges steps alike at the others."""

    def ground(x: Floats, y: Floats) -> Floats:
        return np.asarray(100.0 + 0.03 * (x - EAST) + 5.0 * (x > EAST + 80) + 0 * y)

    findings = judge_seams(Site(3, 3, 40.0, ground=ground, noise=0.02, raised={(1, 1): rise}))
    assert list_accused(findings) == ["tile_1_1.laz"]


def test_a_cliff_along_all_tiles_is_told_and_not_judged() -> None:
    """A step that no other seam explains is inconclusive, once a seam, with both tiles named."""
    findings = judge_seams(Site(2, 2, ground=lambda x, _: np.where(x > EAST + 20, 108.0, 100.0)))
    assert [f.outcome for f in findings] == [Outcome.INCONCLUSIVE] * 2
    assert findings[0].subject == "tile_0_0.laz and tile_1_0.laz"
    assert "lies 8.00 m below tile_1_0.laz" in findings[0].sentence
    assert findings[0].where.file == "tile_0_0.laz"
