"""Return numbers: what cannot be right is observed, what a scanner may do is not."""

from __future__ import annotations

import numpy as np
import pytest
from made_cloud import Delivery, make_header, make_points, read_open_file
from open_data import OpenFile

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import check_tally_laws
from lidar_checks.cloud.return_numbers import ReturnNumbers

Pairs = list[tuple[int, int]]


def judge(pairs: Pairs, point_format: int = 6) -> Finding:
    """Return what the check finds in one tile of (return number, number of returns)."""
    place = np.arange(len(pairs), dtype=np.float64)
    numbers, totals = np.array(pairs).T
    points = make_points(place, place, return_number=numbers, number_of_returns=totals)
    delivery = Delivery()
    delivery.add("tile.laz", points, header=make_header(point_format=point_format))
    (finding,) = delivery.drive(ReturnNumbers())
    return finding


@pytest.mark.parametrize(
    "pairs", [[(1, 1)], [(1, 2), (2, 2), (1, 1)], [(15, 15), (1, 15)], [(1, 3), (3, 3)]]
)
def test_numbers_that_can_be_right_conform(pairs: Pairs) -> None:
    """Single returns, complete pulses, the last of 15, and a pulse with one return removed."""
    assert judge(pairs).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("pairs", "words", "found", "required"),
    [
        (
            [(0, 0), (0, 0)],
            "every return number is 0",
            "return number 0 in every point",
            "return numbers from 1 up",
        ),
        (
            [(0, 1), (1, 1)],
            "1 of 2 points has return number 0",
            "return number 0 in 1 point",
            "return numbers from 1 up",
        ),
        (
            [(2, 1), (2, 1), (1, 1)],
            "2 of 3 points have a return number above",
            "a return number above the number of returns in 2 points",
            "at most the number of returns",
        ),
        (
            [(2, 0)],
            "1 of 1 point has a number of returns of 0",
            "a number of returns of 0 in 1 point",
            "at least 1 return a pulse",
        ),
        (
            [(4, 4), (4, 4)],
            "none of 2 points is a first return",
            "no first return",
            "at least 1 first return",
        ),
        (
            [(1, 2), (1, 1)],
            "1 pulse had more returns, but only first returns are here",
            "first returns only",
            "the later returns of 1 pulse as well",
        ),
    ],
)
def test_numbers_that_cannot_be_right_are_observed(
    pairs: Pairs, words: str, found: str, required: str
) -> None:
    """Each contradiction is one observation that says what it is and how often, in words."""
    finding = judge(pairs)
    assert (finding.observed, finding.required, finding.unit) == (found, required, "")
    assert (finding.outcome, finding.grade) == (Outcome.NONCONFORMING, Grade.OBSERVATION)
    assert words in finding.sentence
    assert finding.catalogue == ("FT-09",)


@pytest.mark.parametrize(("point_format", "conforms"), [(3, False), (6, True)])
def test_the_limit_is_that_of_the_point_format(point_format: int, *, conforms: bool) -> None:
    """Six returns are too many in formats 0 to 5 and allowed in 6 to 10."""
    finding = judge([(1, 6), (6, 6)], point_format)
    assert (finding.outcome is Outcome.CONFORMS) is conforms
    if not conforms:
        assert finding.required == "at most 5 returns a pulse in this point format"


def test_no_points_are_no_pass() -> None:
    """Without any point the check says that none was read."""
    delivery = Delivery()
    delivery.add("tile.laz", make_points([], []))
    (finding,) = delivery.drive(ReturnNumbers())
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_the_tally_keeps_the_laws() -> None:
    """Cutting, order, merging and pickling leave the table as it is."""
    random = np.random.default_rng(4)
    place = np.arange(400.0)
    points = make_points(
        place,
        place,
        return_number=random.integers(0, 16, 400),
        number_of_returns=random.integers(0, 16, 400),
    )
    check_tally_laws(ReturnNumbers(), [points])


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("epsg_4326.las", "every return number is 0"),
        ("hexbin-crop.las", "none of 38,367 points is a first return"),
        ("1.2_2.las", "1 of 1 point has a number of returns of 0"),
        ("4_6_crop.las", "23,875 points in up to 4 returns a pulse, 10,780 of them first"),
        ("plane.laz", "28,185 single returns"),
    ],
)
def test_real_files(open_file: OpenFile, name: str, words: str) -> None:
    """Open files with lost, odd and sound return numbers are told apart."""
    (finding,) = read_open_file(open_file(f"las/{name}")).drive(ReturnNumbers())
    assert words in finding.sentence
