"""Voids: holes in all tiles together, none at the rim, none over water, none by chance."""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_cloud import Delivery, make_crs, make_lattice_points, make_points
from scipy import ndimage

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.model.georeferencing import CrsKind
from ledger.model.specification import Specification
from ledger.testing import check_tally_laws, join, take
from ledger.units import INTERNATIONAL_FOOT
from lidar_checks.cloud import cell_set
from lidar_checks.cloud.cell_cover import Bands, PackedCells
from lidar_checks.cloud.cell_set import CellSet
from lidar_checks.cloud.void_holes import Hole, walk_holes
from lidar_checks.cloud.void_runs import RIM, close_gaps
from lidar_checks.cloud.voids import Voids

BOX = (1000.0, 2000.0, 1040.0, 2040.0)
LIMIT = {"area_min_m2": 4.0}  # cells of 0.25 m, squares of 1.5 m


def make_cloud(spacing: float = 0.125) -> PointChunk:
    """Return points in every cell of 0.25 m."""
    return make_lattice_points(BOX, spacing)


def cut_hole(chunk: PointChunk, wide: float, high: float, at: Any = (1020.0, 2020.0)) -> PointChunk:
    """Return a cloud without the points in a box whose lower left corner is `at`."""
    x, y = chunk.x / 1e4, chunk.y / 1e4
    inside = (x > at[0]) & (x < at[0] + wide) & (y > at[1]) & (y < at[1] + high)
    return take(chunk, ~inside)


def judge(*chunks: PointChunk, **parts: Any) -> Finding:
    """Return what the check finds in these tiles together."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk, **parts)
    (found,) = delivery.drive(Voids(), LIMIT)
    return found


def test_a_full_cloud_has_no_void() -> None:
    """Nor is its rim one."""
    found = judge(make_cloud())
    assert found.outcome is Outcome.CONFORMS
    assert found.sentence == "No hole of 4 m² or more without first returns."


@pytest.mark.parametrize(
    ("wide", "high", "outcome"),
    [
        (2.0, 2.0, Outcome.NONCONFORMING),  # 64 cells of 1/16 m², exactly the limit
        (2.0, 1.75, Outcome.CONFORMS),
        (1.5, 2.75, Outcome.NONCONFORMING),
        (1.5, 2.5, Outcome.CONFORMS),
        (1.25, 10.0, Outcome.CONFORMS),  # no square of three quarters of the side fits
    ],
)
def test_just_inside_and_just_outside(wide: float, high: float, outcome: Outcome) -> None:
    """The limit is met to the cell."""
    found = judge(cut_hole(make_cloud(), wide, high))
    assert found.outcome is outcome
    if outcome is Outcome.NONCONFORMING:
        assert found.grade is Grade.MINOR
        assert found.remedy.startswith("Look whether a tile or a line is missing; class water")
        assert float(found.observed) == pytest.approx(wide * high, abs=0.005)
        assert found.where.xy == pytest.approx((1020 + wide / 2, 2020 + high / 2), abs=0.26)


def test_two_holes_are_counted_and_the_largest_comes_first() -> None:
    """Each has its area and its place."""
    found = judge(cut_hole(cut_hole(make_cloud(), 3, 3), 2, 2, (1005.0, 2005.0)))
    assert found.sentence.startswith("2 holes of 4 m² or more without first returns: 9.0 m² at")
    assert found.observed == "9.00"


def test_a_bay_at_the_rim_is_no_void() -> None:
    """What reaches the outside belongs to the boundary."""
    assert judge(cut_hole(make_cloud(), 5, 5, (1035.0, 2010.0))).outcome is Outcome.CONFORMS


def test_tiles_are_judged_together() -> None:
    """A border through a hole does not halve it, and a neighbour fills what a tile lacks."""
    cloud = cut_hole(make_cloud(), 2.5, 2.0)
    west = cloud.x < 1_021_0000
    split = (take(cloud, west), take(cloud, ~west))
    assert judge(*split).observed == "5.00"
    full = make_cloud()
    assert judge(take(full, full.x < 1_021_0000), take(full, full.x > 1_021_0000)).outcome == (
        Outcome.CONFORMS
    )
    assert judge(cloud, make_lattice_points((1019.0, 2019.0, 1024.0, 2024.0), 0.125)).outcome is (
        Outcome.CONFORMS
    )


def test_a_hole_of_whole_blocks_is_measured() -> None:
    """Where there is no block at all there is no point: 40 by 44 m of a site of 100 by 100."""
    cloud = make_lattice_points((1000.0, 2000.0, 1100.0, 2100.0), 0.25)
    assert judge(cut_hole(cloud, 40, 44, (1030.0, 2030.0))).observed == "1760.00"


def test_water_round_a_hole_lets_it_pass() -> None:
    """The specification allows what water causes; class 9 on the shore shows it."""
    cloud = cut_hole(make_cloud(), 4, 4)
    x, y = cloud.x / 1e4, cloud.y / 1e4
    shore = (x > 1017) & (x < 1027) & (y > 2017) & (y < 2027)
    classes = np.where(shore, 9, 2)
    wet = make_points(x, y, 0.0, classification=classes)
    found = judge(wet)
    assert found.outcome is Outcome.CONFORMS
    assert "1 more over water" in found.sentence


def test_later_returns_do_not_fill_a_hole() -> None:
    """A void is measured with first returns."""
    under = make_lattice_points((1019.0, 2019.0, 1025.0, 2025.0), 0.125, return_number=2)
    assert judge(join([cut_hole(make_cloud(), 4, 4), under])).outcome is Outcome.NONCONFORMING


def test_feet_are_metres_and_degrees_are_not_assessed() -> None:
    """A hole of 2 m by 2 m has 6.6 ft a side."""
    feet = make_crs(INTERNATIONAL_FOOT)
    box = tuple(each / 0.3048 for each in BOX)
    cloud = make_lattice_points(box, 0.3)  # type: ignore[arg-type]
    place = (1020 / 0.3048, 2020 / 0.3048)
    wide = judge(cut_hole(cloud, 7.5, 7.5, place), crs=feet)
    narrow = judge(cut_hole(cloud, 5.5, 5.5, place), crs=feet)
    assert (wide.outcome, narrow.outcome) == (Outcome.NONCONFORMING, Outcome.CONFORMS)
    degrees = judge(make_cloud(), crs=make_crs(None, CrsKind.GEOGRAPHIC))
    assert degrees.outcome is Outcome.NOT_ASSESSED


def test_a_file_that_was_not_counted_may_fill_the_hole() -> None:
    """Then nothing is claimed."""
    delivery = Delivery()
    delivery.add("a.laz", cut_hole(make_cloud(), 4, 4))
    delivery.add("b.laz", make_cloud(), crs=make_crs(None, CrsKind.GEOGRAPHIC))
    found = {each.outcome for each in delivery.drive(Voids(), LIMIT)}
    assert found == {Outcome.INCONCLUSIVE, Outcome.NOT_ASSESSED}


def test_no_point_is_not_assessed() -> None:
    """An empty delivery has no cover and no hole."""
    assert judge(make_points([], [])).outcome is Outcome.NOT_ASSESSED


def test_chance_gaps_between_sparse_points_are_no_voids() -> None:
    """One point at random in every square of the nominal spacing: 160,000 places, and no void."""
    cell, jitter = np.indices((2, 400, 400)).reshape(3, -1)[1:], np.random.default_rng(5)
    x, y = (cell + jitter.random(cell.shape)) * 0.5  # so that the side of a void is 2 m
    assert judge(make_points(1000 + x, 2000 + y)).outcome is Outcome.CONFORMS


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same cells."""
    cloud = cut_hole(make_lattice_points((1000.0, 2000.0, 1009.0, 2007.0), 0.5), 2, 2)
    check_tally_laws(Voids(), [cloud], criteria=LIMIT)


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(5)), st.integers(0, 2**32))
def test_order_of_files_and_split_leave_no_trace(order: list[int], seed: int) -> None:
    """However points lie in tiles, the same holes are found."""
    cloud = cut_hole(make_lattice_points((1000.0, 2000.0, 1030.0, 2030.0), 0.25), 3, 2)
    place = np.random.default_rng(seed).integers(0, 5, len(cloud))
    tiles = [take(cloud, place == each) for each in order]
    whole, cut = judge(cloud), judge(*tiles)
    assert (cut.sentence, cut.where.xy) == (whole.sentence, whole.where.xy)


def pack(cells: Any, left: int = 0, low: int = 0) -> PackedCells:
    """Return marked cells, (rows, columns), as one file."""
    rows, columns = np.nonzero(cells)
    kept = CellSet()
    kept.add(columns + left, rows + low)
    return kept.close()


def find_holes(
    parts: list[PackedCells], square: int, water: Any = ()
) -> tuple[list[Hole], dict[tuple[int, int], int]]:
    """Return the holes of any size, in order, and their cells by squares of 5 cells."""
    holes, squares = list[Hole](), Counter[tuple[int, int]]()
    for band in walk_holes(Bands(parts), Bands(water), square, 1, 5):
        holes += band.holes
        for column, row, cells in band.squares.T.tolist():
            squares[column, row] += cells
    return sorted(holes, key=lambda hole: (hole.cells, hole.centre)), dict(squares)


def label_holes(cells: Any, square: int, water: Any, left: int, low: int) -> list[Hole]:
    """Return size, centre and water of each hole, as scipy.ndimage opens and labels them.

    Args:
        cells: cells with points, (rows, columns); round them there is none.
        square: side of the square that has to fit.
        water: cells with water, (rows, columns).
        left: column of the first cell.
        low: row of the first cell.
    """
    rim = max(square, RIM) + 1
    empty = np.pad(~cells, rim, constant_values=True)
    wet = np.pad(water, rim)
    opened = ndimage.binary_opening(empty, np.ones((square, square)))
    label, _ = ndimage.label(opened)
    holes = []
    for number, (up, across) in enumerate(ndimage.find_objects(label), start=1):
        if number == label[0, 0]:
            continue
        row, column = np.nonzero(label[up, across] == number)
        inside = zip((row + up.start).tolist(), (column + across.start).tolist(), strict=True)
        runs = []
        for r, c in inside:
            if not opened[r, c - 1]:
                length = int(np.argmin(opened[r, c:]))
                runs.append((abs(2 * r - up.start - up.stop + 1), -length, r, c))
        _, length, r, c = min(runs)
        beside = [
            (at, place)
            for _, less, at, first in runs
            for step in range(1, RIM + 1)
            for place in (first - step, first - less + step - 1)
        ]
        held = sum(bool(wet[each] or not empty[each]) for each in beside)
        is_water = 2 * sum(bool(wet[each]) for each in beside) >= max(1, held)
        centre = ((2 * c - length) // 2 - rim + left, r - rim + low)
        holes.append(Hole(len(row), centre, is_water))
    return sorted(holes, key=lambda hole: (hole.cells, hole.centre))


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32),
    st.floats(0.02, 0.8),
    st.integers(1, 7),
    st.tuples(st.integers(-70, 70), st.integers(-200, 9)),
    st.data(),
)
def test_holes_are_those_of_an_outside_labelling(
    seed: int, share: float, square: int, corner: tuple[int, int], data: st.DataObject
) -> None:
    """Opened and labelled by scipy.ndimage, holes have the same size, place and water."""
    random = np.random.default_rng(seed)
    cells = random.random((150, 90)) < share
    # Spots of cells, so that larger squares leave holes that wind over several bands.
    spread = data.draw(st.integers(0, 2))
    cells = ndimage.binary_dilation(cells, iterations=spread) if spread else cells
    water = cells & (random.random(cells.shape) < data.draw(st.sampled_from([0.0, 0.5])))
    found, squares = find_holes([pack(cells, *corner)], square, [pack(water, *corner)])
    assert found == label_holes(cells, square, water, *corner)
    assert sum(squares.values()) == sum(hole.cells for hole in found)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32), st.floats(0.02, 0.6), st.integers(1, 4), st.integers(1, 7), st.data())
def test_closed_gaps_leave_the_holes_as_they_are(
    seed: int, share: float, files: int, square: int, data: st.DataObject
) -> None:
    """The holes of all files together, and the cells beside them, are the same after closing."""
    random = np.random.default_rng(seed)
    shift = data.draw(st.integers(-200, 200))
    packed, water = [], []
    for number in range(files):
        cells = random.random((150, 70)) < share
        packed.append(pack(cells, 70 * number + shift, -shift))
        water.append(pack(cells & (random.random(cells.shape) < 0.5), 70 * number + shift, -shift))
    closed = [close_gaps(each, square, RIM) for each in packed]
    assert find_holes(packed, square, water) == find_holes(closed, square, water)
    sizes = [
        sum(len(band) for each in parts for band in each.bands.values())
        for parts in (packed, closed)
    ]
    assert sizes[1] <= 2 * sizes[0]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32), st.floats(0.02, 0.6), st.integers(1, 7), st.booleans())
def test_packing_on_the_way_leaves_no_trace(
    seed: int, share: float, square: int, is_merged: bool
) -> None:
    """Blocks that are packed between slices and begun anew are closed as if never packed."""
    random = np.random.default_rng(seed)
    rows, columns = np.nonzero(random.random((150, 200)) < share)
    finish = partial(close_gaps, square=square, rim=RIM)
    whole = CellSet(finish)
    whole.add(columns, rows)
    slices = random.permutation(len(rows)) if seed % 2 else np.arange(len(rows))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(cell_set, "MOST_HELD", 1)
        parts = [CellSet(finish), CellSet(finish)]
        for number, each in enumerate(np.array_split(slices, 7)):
            parts[number % 2 if is_merged else 0].add(columns[each], rows[each])
        parts[0].merge(parts[1])
        packed, expected = parts[0].close(), whole.close()
    assert np.array_equal(packed.keys, expected.keys)
    assert packed.bands == expected.bands


def test_a_bay_at_the_end_of_a_block_is_no_void() -> None:
    """North of it lies a row of blocks without any point, and then another island."""
    cells = np.ones((64, 64), dtype=np.bool_)
    cells[40:, 20:40] = False
    island = np.ones((64, 64), dtype=np.bool_)
    assert find_holes([pack(cells), pack(island, 0, 192)], 6) == ([], {})


def test_far_off_noise_costs_two_blocks() -> None:
    """One point a thousand kilometres away is no reason to run out of memory."""
    cloud = join([cut_hole(make_cloud(), 3, 3), make_points([2e6], [3e6])])
    assert judge(cloud).observed == "9.00"


@pytest.mark.parametrize(("site", "spacing"), [(60.0, 0.125), (150.0, 0.25)])
def test_a_map_shows_a_hole_as_large_as_it_is(site: float, spacing: float) -> None:
    """A hole of 18 m by 14 m is 252 m² of the map, in squares of 2 m, and none beside it."""
    whole = make_lattice_points((1000.0, 2000.0, 1000 + site, 2000 + site), spacing)
    delivery = Delivery()
    delivery.add("tile.laz", cut_hole(whole, 18.0, 14.0, (1021.0, 2019.0)))
    (drawn,) = delivery.draw(Voids(), LIMIT)
    assert drawn.cell == 2.0
    assert np.count_nonzero(drawn.values >= 0) == (site / 2) ** 2
    rows, columns = np.nonzero(drawn.values > 0)
    west, south = drawn.origin
    box = (west + 2 * columns.min(), south + 2 * rows.min(), len(set(columns)), len(set(rows)))
    assert box == (1020.0, 2018.0, 10, 8)
    shares = drawn.values[rows, columns] * (drawn.step / 100)
    assert shares.sum() * drawn.cell**2 == pytest.approx(252.0)


@pytest.mark.parametrize(("high", "outcome"), [(2.0, "nonconforming"), (1.75, "conforms")])
def test_a_limit_follows_from_the_density_that_is_asked_for(high: float, outcome: str) -> None:
    """Four points per m² have half a metre each: (4 · 0.5 m)² is 4 m², and no obstacle."""
    asked = Specification(criteria={"point-density": {"min_pts_per_m2": 4}})
    delivery = Delivery()
    delivery.add("tile.laz", cut_hole(make_cloud(), 2.0, high))
    (found,) = delivery.drive(Voids(), {}, specification=asked)
    assert (found.outcome, found.grade) == (
        Outcome(outcome),
        Grade.OBSERVATION if outcome == "nonconforming" else None,
    )
    assert "nobody said how large a hole may be" in found.criterion_source


def test_without_limit_and_density_nothing_is_said() -> None:
    """What nobody asked for is left open, and the key that would settle it is named."""
    delivery = Delivery()
    delivery.add("tile.laz", cut_hole(make_cloud(), 6.0, 6.0))
    (found,) = delivery.drive(Voids(), {})
    assert found.outcome is Outcome.NOT_ASSESSED
    assert found.needs == ("specification.criteria.voids.area_min_m2",)
