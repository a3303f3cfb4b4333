"""A delivery beside the boundary of its site is told to be of another job."""

from __future__ import annotations

import pytest

from ledger.contract.needs import find_unmet
from ledger.crs import describe
from ledger.model.boundary import Boundary
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.boundary_place import BoundaryPlace, touches


def ring(west, south, east, north):
    """Return a closed square."""
    return ((west, south), (east, south), (east, north), (west, north), (west, south))


def judge(file, *rings):
    """Return the one finding about a file."""
    boundary = Boundary("site.geojson", "ab", (rings,))
    evidence = make_evidence(file, specified_crs=describe("EPSG:6346"), boundary=boundary)
    (finding,) = drive_check(BoundaryPlace(), evidence)
    return finding


def test_beside_the_site_is_major_and_at_its_edge_is_not(delivered):
    """A metre decides."""
    file = delivered()
    west, south, _ = file.header.minimum
    near = judge(file, ring(west - 100, south - 100, west + 1, south + 1))
    assert near.outcome is Outcome.CONFORMS
    far = judge(file, ring(west - 100, south - 100, west - 1, south - 1))
    assert (far.outcome, far.grade) == (Outcome.NONCONFORMING, Grade.MAJOR)
    assert "this may be the folder of another job" in far.sentence


@pytest.mark.parametrize(
    ("box", "expected"),
    [
        ((4, 4, 5, 5), True),
        ((-1, -1, 11, 11), True),
        ((2.2, 2.2, 2.8, 2.8), False),
        ((2.2, 2.2, 3.2, 2.8), True),
        ((11, 0, 12, 9), False),
        ((-5, 4, 15, 5), True),
    ],
)
def test_box_and_polygon_with_a_hole(box, expected):
    """Within, round it, in its hole, across its hole's edge, beside it, across it."""
    assert touches((ring(0, 0, 10, 10), ring(2, 2, 3, 3)), box) is expected


def test_no_boundary_is_not_assessed(delivered):
    """The key is named."""
    unmet = find_unmet(BoundaryPlace.needs, make_evidence(delivered()))
    assert unmet == ("boundary: delivery.boundary is blank",)
