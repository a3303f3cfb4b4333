"""Which tiles stand off: shifted tiles on every side, never ground that steps along one border."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lidar_checks.cloud.seam_groups import Grouping, JudgedSeam, group_tiles

Tile = tuple[int, int]
GATE = 0.05


def make_seams(
    columns: int,
    rows: int,
    raised: Callable[[Tile], float],
    walls: dict[tuple[Tile, Tile], float] | None = None,
    rough: dict[tuple[Tile, Tile], float] | None = None,
) -> list[JudgedSeam]:
    """Return the judged seams of a grid of tiles.

    Args:
        columns: tiles from west to east.
        rows: tiles from south to north.
        raised: by how much each tile is raised.
        walls: steps in the ground at single borders.
        rough: gates of single borders that are not the usual one.
    """
    seams: list[JudgedSeam] = []
    for low in ((c, r) for c in range(columns) for r in range(rows)):
        neighbours: dict[Literal["x", "y"], tuple[int, int]] = {
            "x": (low[0] + 1, low[1]),
            "y": (low[0], low[1] + 1),
        }
        for axis, high in neighbours.items():
            if high[0] < columns and high[1] < rows:
                delta = raised(low) - raised(high) + (walls or {}).get((low, high), 0.0)
                gate = (rough or {}).get((low, high), GATE)
                names = (f"{low[0]}_{low[1]}", f"{high[0]}_{high[1]}")
                step = abs(delta) > gate
                seams.append(JudgedSeam(len(seams), *names, axis, delta, gate, step))
    return seams


def name_found(grouping: Grouping) -> dict[str, float]:
    """Return by how much each tile stands off."""
    return {tile.path: round(tile.rise_m, 6) for tile in grouping.standing_off}


def raise_tiles(**rises: float) -> Callable[[Tile], float]:
    """Return the rise of tiles named `t1_2`; the others are level."""
    return lambda tile: rises.get(f"t{tile[0]}_{tile[1]}", 0.0)


def test_level_tiles_have_nothing() -> None:
    """Without a step there is no finding of any kind."""
    assert group_tiles(make_seams(4, 3, lambda _: 0.0)) == Grouping((), (), ())
    assert group_tiles([]) == Grouping((), (), ())


@pytest.mark.parametrize("rise", [-31.9, 0.38, 0.0501, -0.06])
@pytest.mark.parametrize("tile", ["1_1", "0_0", "3_1"])
def test_a_shifted_tile_stands_off_alone(tile: str, rise: float) -> None:
    """A tile inside, at a corner or at an edge is named with its rise and all its seams."""
    grouping = group_tiles(make_seams(4, 3, raise_tiles(**{f"t{tile}": rise})))
    assert name_found(grouping) == {tile: rise}
    (found,) = grouping.standing_off
    assert len(found.seams) == found.judged == {"1_1": 4, "0_0": 2, "3_1": 3}[tile]
    assert (found.group, found.is_even) == (1, False)
    assert not grouping.open
    assert not grouping.ground


def test_a_step_at_one_border_is_ground() -> None:
    """A cliff along one border is ground, since the ways round it show none."""
    wall = {((1, 1), (2, 1)): 8.0}
    grouping = group_tiles(make_seams(4, 3, lambda _: 0.0, wall))
    assert [seam.low for seam in grouping.ground] == ["1_1"]
    assert not grouping.standing_off
    assert not grouping.open


def test_a_walled_corner_of_equal_height_is_ground() -> None:
    """Walls along two borders of a tile step alike, but the other two borders show the truth."""
    walls = {((1, 1), (2, 1)): 2.0, ((1, 1), (1, 2)): 2.0}
    grouping = group_tiles(make_seams(4, 3, lambda _: 0.0, walls))
    assert len(grouping.ground) == 2
    assert not grouping.standing_off


def test_a_cliff_along_a_whole_line_of_tiles_stays_open() -> None:
    """Tiles that each step against one neighbour are not accused; each seam is told."""
    grouping = group_tiles(make_seams(4, 3, lambda tile: 8.0 if tile[0] > 1 else 0.0))
    assert not grouping.standing_off
    assert [(seam.low, seam.high) for seam in grouping.open] == [
        ("1_0", "2_0"),
        ("1_1", "2_1"),
        ("1_2", "2_2"),
    ]


def test_tiles_of_unequal_size_along_one_cliff_stay_open() -> None:
    """Two steps on the same side of a large tile are one line, and accuse nobody."""
    seams = [
        JudgedSeam(0, "large", "a", "x", 8.0, GATE, is_step=True),
        JudgedSeam(1, "large", "b", "x", 8.0, GATE, is_step=True),
        JudgedSeam(2, "a", "b", "y", 0.0, GATE, is_step=False),
    ]
    grouping = group_tiles(seams)
    assert not grouping.standing_off
    assert len(grouping.open) == 2


def test_terraces_are_not_shifted_tiles() -> None:
    """Ground that climbs by equal steps from tile to tile accuses nobody."""
    grouping = group_tiles(make_seams(5, 1, lambda tile: 2.0 * tile[0]))
    assert not grouping.standing_off
    assert len(grouping.open) == 4


def test_two_tiles_alone_stay_open() -> None:
    """With one seam a cliff and a wrong height look alike."""
    grouping = group_tiles(make_seams(2, 1, raise_tiles(t0_0=0.3)))
    assert not grouping.standing_off
    assert len(grouping.open) == 1


def test_the_end_of_a_chain_stays_open_and_its_middle_does_not() -> None:
    """A tile between two others is accused by both, a tile at the end by one only."""
    middle = group_tiles(make_seams(3, 1, raise_tiles(t1_0=0.3)))
    end = group_tiles(make_seams(3, 1, raise_tiles(t2_0=0.3)))
    assert name_found(middle) == {"1_0": 0.3}
    assert not end.standing_off
    assert len(end.open) == 1


def test_a_block_of_shifted_tiles_is_named_whole() -> None:
    """Of nine stale tiles also the one in the middle is named, though no seam of it steps."""
    block = {(c, r) for c in (1, 2, 3) for r in (1, 2, 3)}
    grouping = group_tiles(make_seams(7, 6, lambda tile: -0.5 if tile in block else 0.0))
    assert set(name_found(grouping)) == {f"{c}_{r}" for c, r in block}
    assert {tile.group for tile in grouping.standing_off} == {9}
    middle = next(tile for tile in grouping.standing_off if tile.path == "2_2")
    assert (middle.seams, middle.judged, middle.rise_m) == ((), 4, -0.5)


def test_scattered_stale_tiles_and_the_tile_between_them() -> None:
    """The level tile between two stale ones is not accused."""
    grouping = group_tiles(make_seams(6, 4, raise_tiles(t1_1=-31.9, t3_1=-31.9)))
    assert name_found(grouping) == {"1_1": -31.9, "3_1": -31.9}


def test_tiles_of_two_wrong_runs_are_both_named() -> None:
    """Neighbouring tiles with different shifts keep their own."""
    grouping = group_tiles(make_seams(6, 4, raise_tiles(t2_1=-31.9, t3_1=0.38)))
    assert name_found(grouping) == {"2_1": -31.9, "3_1": 0.38}


def test_a_chequerboard_says_that_either_may_be_wrong() -> None:
    """Where as many tiles lie high as low, all are named and none is called the wrong one."""
    grouping = group_tiles(make_seams(2, 2, raise_tiles(t0_0=0.3, t1_1=0.3)))
    assert name_found(grouping) == {"0_0": 0.3, "1_1": 0.3, "0_1": -0.3, "1_0": -0.3}
    assert all(tile.is_even for tile in grouping.standing_off)


def test_the_smaller_part_is_the_one_that_stands_off() -> None:
    """With most tiles from the wrong run, the few right ones stand off: the records decide."""
    grouping = group_tiles(make_seams(4, 3, lambda tile: 0.0 if tile == (1, 1) else -31.9))
    assert name_found(grouping) == {"1_1": 31.9}


def test_a_rough_border_does_not_excuse_a_step() -> None:
    """A seam that could not have shown the step is no way round it."""
    rough = {((1, 1), (2, 1)): 0.9}
    grouping = group_tiles(make_seams(4, 3, raise_tiles(t1_1=0.3), rough=rough))
    assert name_found(grouping) == {"1_1": 0.3}
    assert grouping.standing_off[0].judged == 4
    assert len(grouping.standing_off[0].seams) == 3


def test_a_rough_border_that_shows_nothing_is_no_way_round() -> None:
    """A seam too rough to show the step, whose median happens to be nil, excuses nobody."""
    border = ((1, 1), (2, 1))
    seams = make_seams(4, 3, raise_tiles(t1_1=0.3), {border: -0.3}, {border: 0.9})
    assert name_found(group_tiles(seams)) == {"1_1": 0.3}


def test_ground_that_closes_no_loop_accuses_nobody() -> None:
    """Walls by which one tile would lie both high and low are ground, and stay open."""
    walls = {
        ((1, 0), (2, 0)): 2.0,
        ((1, 0), (1, 1)): 2.0,
        ((0, 1), (1, 1)): 2.0,
        ((0, 0), (1, 0)): 2.0,
    }
    grouping = group_tiles(make_seams(3, 2, lambda _: 0.0, walls))
    assert not grouping.standing_off
    assert len(grouping.open) == 4


def test_a_cliff_does_not_hide_a_shifted_tile() -> None:
    """A real cliff and a stale tile in one delivery are told apart."""
    walls = {((0, 0), (1, 0)): 8.0}
    grouping = group_tiles(make_seams(5, 4, raise_tiles(t3_2=-31.9), walls))
    assert name_found(grouping) == {"3_2": -31.9}
    assert [(seam.low, seam.high) for seam in grouping.ground] == [("0_0", "1_0")]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.1, 40.0))
def test_any_few_shifted_inner_tiles_are_found_and_no_others(seed: int, rise: float) -> None:
    """Whichever inner tiles are shifted by one amount, exactly they are named, in any order."""
    draw = random.Random(seed)
    inner = [(c, r) for c in range(1, 6) for r in range(1, 6)]
    shifted = set(draw.sample(inner, draw.randint(1, 6)))
    seams = make_seams(7, 7, lambda tile: rise if tile in shifted else 0.0)
    draw.shuffle(seams)
    assert set(name_found(group_tiles(seams))) == {f"{c}_{r}" for c, r in shifted}


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_walls_at_single_borders_never_accuse(seed: int) -> None:
    """Steps at any few single borders that leave a way round accuse no tile."""
    draw = random.Random(seed)
    walls = {}
    for row in draw.sample(range(6), 3):
        column = draw.randint(0, 4)
        walls[((column, row), (column + 1, row))] = draw.uniform(-9, 9)
    assert not group_tiles(make_seams(6, 6, lambda _: 0.0, walls)).standing_off
