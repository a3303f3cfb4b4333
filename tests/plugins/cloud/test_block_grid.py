"""Counts per cell: any way of counting gives the same, and memory follows the flown area."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lidar_checks.cloud import block_grid
from lidar_checks.cloud.block_grid import BLOCK, BlockGrid, pack_blocks

NEAR = st.integers(-200, 200)
FAR = st.integers(-(2**40), 2**40)


def read_cells(grid: BlockGrid) -> Counter[tuple[int, int, int]]:
    """Return the counts as (column, row, layer)."""
    cells: Counter[tuple[int, int, int]] = Counter()
    for (across, up), block in grid.blocks.items():
        for layer, row, column in np.argwhere(block).tolist():
            place = (across * BLOCK + column, up * BLOCK + row, layer)
            cells[place] = int(block[layer, row, column])
    return cells


def fill(points: list[tuple[int, int, int]]) -> BlockGrid:
    """Return a grid of two layers with these points in it."""
    grid = BlockGrid(layers=2)
    table = np.array(points, dtype=np.int64).reshape(-1, 3)
    grid.add(table[:, 0], table[:, 1], table[:, 2])
    return grid


@given(st.lists(st.tuples(NEAR | FAR, NEAR | FAR, st.integers(0, 1)), max_size=60))
def test_counts_equal_a_plain_counter(points: list[tuple[int, int, int]]) -> None:
    """Every cell holds as many points as a dictionary counts, wherever they lie."""
    assert read_cells(fill(points)) == Counter(points)


@given(
    st.lists(st.tuples(NEAR, NEAR, st.integers(0, 1)), max_size=40),
    st.lists(st.tuples(NEAR | FAR, NEAR, st.integers(0, 1)), max_size=40),
)
def test_merge_adds(a: list[tuple[int, int, int]], b: list[tuple[int, int, int]]) -> None:
    """Merging two grids counts what both have seen and leaves the second as it was."""
    first, second = fill(a), fill(b)
    before = read_cells(second)
    first.merge(second)
    first.merge(BlockGrid(layers=2))
    assert read_cells(first) == Counter(a) + Counter(b)
    assert read_cells(second) == before


@given(st.integers(-200, 200), st.integers(-200, 200), st.integers(1, 150), st.integers(1, 150))
def test_a_window_and_its_points_agree(left: int, bottom: int, wide: int, high: int) -> None:
    """The counts of a window, laid on the blocks, are those of its points one by one."""
    random = np.random.default_rng(wide * 1000 + high)
    counts = random.integers(0, 3, (2, high, wide)) * (random.random((2, high, wide)) < 0.2)
    grid = BlockGrid(layers=2)
    grid.add_planes((left, bottom), tuple(counts))
    grid.add_planes((left, bottom), (None, counts[1]))
    wanted: Counter[tuple[int, int, int]] = Counter()
    for layer, row, column in np.argwhere(counts).tolist():
        times = layer + 1  # the second layer was laid twice
        wanted[left + column, bottom + row, layer] = times * int(counts[layer, row, column])
    assert read_cells(grid) == wanted


@given(st.lists(st.sampled_from([1, 100, 255, 256, 40_000, 65_535, 70_000]), max_size=12))
def test_counts_grow_beyond_any_narrow_type(amounts: list[int]) -> None:
    """A cell counts on where a byte or two would be full, however its points come."""
    grid, other = BlockGrid(layers=2), BlockGrid(layers=2)
    for number, amount in enumerate(amounts):
        plane = np.full((1, 1), amount, dtype=np.int64)
        (grid if number % 2 else other).add_planes((3, 4), (plane, None))
    once = np.zeros(300, dtype=np.int64)
    grid.add(once + 3, once + 4, once)
    grid.merge(other)
    assert read_cells(grid) == Counter({(3, 4, 0): sum(amounts) + 300})


def test_a_far_off_point_costs_a_block() -> None:
    """One noise point far away adds one block and no raster between."""
    near = [(column, row, 0) for column in range(64) for row in range(64)]
    assert len(fill([*near, (10**12, -(10**12), 1)]).blocks) == len(fill(near).blocks) + 1


def test_scattered_nonsense_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """More blocks than the limit leave no block, however the points are cut."""
    monkeypatch.setattr(block_grid, "MAX_BLOCKS", 10)
    spread = [(i * BLOCK, 0, 0) for i in range(11)]
    whole, first = fill(spread), fill(spread[:6])
    first.merge(fill(spread[6:]))
    for grid in (whole, first):
        grid.add(*np.zeros((3, 5), dtype=np.int64))
        assert grid.overflown
        assert not grid.blocks
    assert not fill(spread[:10]).overflown


def test_packing_keeps_counts_and_cover() -> None:
    """A packed block says the same of both layers in the smallest type."""
    grid = fill([(0, 0, 1)] * 300 + [(5, 2, 0)])
    (block,) = pack_blocks(grid).values()
    assert block.counts.dtype == np.uint16
    assert int(block.counts[0, 0]) == 300
    assert np.argwhere(block.unpack_occupied()).tolist() == [[0, 0], [2, 5]]


def test_an_overflown_part_overflows_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Merging a part that was given up, or two parts that are too much together, gives it up."""
    monkeypatch.setattr(block_grid, "MAX_BLOCKS", 10)
    small, large = fill([(0, 0, 0)]), fill([(i * BLOCK, 0, 0) for i in range(11)])
    small.merge(large)
    assert small.overflown
    left, right = (fill([(i * BLOCK, j, 0) for i in range(6)]) for j in (0, 10**6))
    left.merge(right)
    assert left.overflown
    dense = fill([(0, 0, 0)])
    monkeypatch.setattr(block_grid, "MAX_BLOCKS", 1)
    dense.add(*np.array([[64, 70], [0, 0], [0, 0]], dtype=np.int64))
    assert dense.overflown


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.lists(st.tuples(NEAR | FAR, NEAR, st.integers(0, 1)), max_size=12), max_size=8),
    st.integers(0, 8),
)
def test_packing_on_the_way_leaves_no_trace(
    slices: list[list[tuple[int, int, int]]], parted: int
) -> None:
    """Blocks that are packed between slices, begun anew and merged come out as if never packed."""
    whole = fill([point for each in slices for point in each])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(block_grid, "MOST_HELD", 1)
        parts = [BlockGrid(layers=2), BlockGrid(layers=2)]
        for number, each in enumerate(slices):
            table = np.array(each, dtype=np.int64).reshape(-1, 3)
            parts[number < parted].add(table[:, 0], table[:, 1], table[:, 2])
        parts[0].merge(parts[1])
        assert pack_blocks(parts[0]) == pack_blocks(whole)


def test_a_file_of_any_size_holds_few_blocks_open() -> None:
    """Lines of points that go on over many blocks leave but the last ones unpacked."""
    grid = BlockGrid(layers=2)
    along = np.arange(0, 64 * BLOCK, 8)
    for line in range(0, 64 * BLOCK, 32):
        grid.add(along, np.full_like(along, line), np.zeros_like(along))
    assert len(grid.blocks) <= block_grid.MOST_HELD
    assert len(pack_blocks(grid)) == 64 * 64
