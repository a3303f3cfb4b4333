"""The share of the ground that two swaths see."""

from __future__ import annotations

import numpy as np
import pytest
from judged_flights import judge_flight, list_grades
from made_flight import Flight

from ledger.contract.check import Grade, Outcome
from lidar_checks.swath.swath_overlap import SwathOverlap


def test_times_rounded_to_32_bits_part_no_passes() -> None:
    """One pass whose times come in steps of 32 s is one pass, and the check says it is blind."""
    flight = Flight(passes=1, ids={1: 0})
    points = flight.make_points()
    points["gps_time"] = points["gps_time"].astype(np.float32).astype(np.float64)
    (finding,) = flight.deliver(points).drive(SwathOverlap(), {"min_share": 0.5})
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_a_pass_cut_by_a_tile_edge_is_no_second_pass() -> None:
    """The halves of one pass in two tiles are neither a pair nor an overlap."""
    flight = Flight(width=82.0, height=82.0, tile=41.0, passes=1)
    (overlap,) = judge_flight(SwathOverlap(), flight, min_share=0.01)
    assert overlap.observed == "0.00"


def test_an_overlap_that_nobody_asks_for_is_told_and_not_judged() -> None:
    """The share stands in the sentence, and what would judge it is named."""
    (finding,) = judge_flight(SwathOverlap(), Flight())
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.criteria.swath-overlap.min_share",)
    assert "100.0 % of" in finding.sentence


@pytest.mark.parametrize(("share", "found"), [(0.24, 0), (0.36, 1)])
def test_the_overlap_is_a_share_of_cells(share: float, found: int) -> None:
    """Four swaths of 26 m, 20 m apart, see three strips of 6 m twice: some 30 % of the cells."""
    flight = Flight(passes=4, swath=26.0, tile=40)
    findings = judge_flight(SwathOverlap(), flight, min_share=share)
    assert list_grades(findings) == [Grade.MINOR] * found
    assert findings[0].catalogue == ("DN-06",)
