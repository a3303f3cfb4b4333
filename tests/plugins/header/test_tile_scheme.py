"""Boxes of tiles: beside each other, overlapping, too large, left out."""

from __future__ import annotations

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.specification import Delivery, Specification
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.tile_buffer import BUFFER_KEY
from lidar_checks.header.tile_scheme import TileScheme

ASKED = Specification(delivery=Delivery(tile_size_m=100.0))


def make(delivered, column, row, west=0.0, east=100.0, unit=1.0, **parts):
    """Return a tile of 100 m; its west and east edges may be moved, metres."""
    x, y = 552_000.0 + 100 * column, 4_272_000.0 + 100 * row
    low, high = (x + west, y, 210.0), (x + east, y + 100.0, 230.0)
    box = {
        "minimum": (low[0] / unit, low[1] / unit, low[2]),
        "maximum": (high[0] / unit, high[1] / unit, high[2]),
    }
    return delivered(f"t{column}_{row}.las", header=box, reading=None, **parts)


def judge(*files, criteria=None, specification=None):
    """Return the findings about some tiles."""
    evidence = make_evidence(*files, specification=specification or Specification())
    return drive_check(TileScheme(), evidence, criteria=criteria)


def test_tiles_that_touch_conform(delivered):
    """Points on the edge itself are no overlap."""
    files = [make(delivered, c, r) for c in range(3) for r in range(3)]
    for specification in (None, ASKED):
        (finding,) = judge(*files, specification=specification)
        assert finding.outcome is Outcome.CONFORMS
    assert "one file" in judge(files[0])[0].sentence


@pytest.mark.parametrize(("east", "is_told"), [(100.4, False), (100.6, True), (110.0, True)])
def test_tiles_that_overlap_are_told(delivered, east, is_told):
    """Half a metre is taken for points on the edge; more is minor where tiles were asked for."""
    files = (make(delivered, 0, 0, east=east), make(delivered, 1, 0))
    (plain,) = judge(*files)
    assert (plain.grade is Grade.OBSERVATION) is is_told
    found = judge(*files, specification=ASKED)
    assert (Grade.MINOR in {each.grade for each in found}) is is_told
    if is_told:
        assert f"by up to {east - 100:.2f} m: t0_0.las and t1_0.las" in plain.sentence


def test_a_buffer_that_was_agreed_is_no_overlap(delivered):
    """Tiles of 100 m with 5 m around them overlap by 10 m; 11 m are too many."""
    agreed = Delivery(tile_size_m=100.0, tile_buffer_m=5.0)
    asked, carried = (Specification(delivery=agreed, carried=keys) for keys in ((), (BUFFER_KEY,)))
    files = (make(delivered, 0, 0, -5, 105), make(delivered, 1, 0, -5, 105))
    assert judge(*files, specification=asked)[0].outcome is Outcome.CONFORMS
    (finding,) = judge(*files, specification=carried)
    assert finding.outcome is Outcome.INCONCLUSIVE
    wide = (make(delivered, 0, 0, -5.5, 105.5), make(delivered, 1, 0, -5.5, 105.5))
    found = judge(*wide, specification=asked)
    assert {each.grade for each in found} == {Grade.MINOR}
    assert len(found) == 3  # both tiles too large, and one pair


def test_strips_are_no_tiles(delivered):
    """Files that cover each other by more than half may be strips; nobody asked for tiles."""
    files = (make(delivered, 0, 0), make(delivered, 0, 0, 10))
    (finding,) = judge(files[0], files[1])
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_a_tile_in_feet_is_measured_in_metres(delivered):
    """A tile of 100 m is 328 feet wide and no larger than asked."""
    feet = describe("EPSG:2264")  # US survey feet
    unit = 1200 / 3937
    files = (make(delivered, 0, 0, crs=feet, unit=unit), make(delivered, 1, 0, crs=feet, unit=unit))
    assert judge(*files, specification=ASKED)[0].outcome is Outcome.CONFORMS


def test_a_tile_that_was_left_out_is_told(delivered):
    """A cell without a tile between four that have one; a ragged edge is none."""
    cells = [(c, r) for c in range(3) for r in range(3) if (c, r) != (1, 1)]
    (finding,) = judge(*(make(delivered, *cell) for cell in cells), specification=ASKED)
    assert finding.grade is Grade.OBSERVATION
    assert "no tile at 552150, 4272150 m" in finding.sentence
    ragged = [cell for cell in cells if cell != (1, 0)]
    (open_side,) = judge(*(make(delivered, *cell) for cell in ragged), specification=ASKED)
    assert open_side.outcome is Outcome.CONFORMS


def test_files_without_a_place_are_not_assessed(delivered):
    """Degrees and files without a coordinate system have no metres to compare."""
    (finding,) = judge(make(delivered, 0, 0, crs=None), make(delivered, 1, 0, crs=None))
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_500_tiles_are_compared_at_once(delivered):
    """A block of 500 tiles has no overlap."""
    files = [make(delivered, c, r) for c in range(25) for r in range(20)]
    assert judge(*files, specification=ASKED)[0].outcome is Outcome.CONFORMS
