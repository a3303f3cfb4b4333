"""Point source ids that are one for all, missing, or contradict the file."""

from __future__ import annotations

import dataclasses

from judged_flights import judge_flight
from made_flight import Flight

from ledger.contract.check import Grade, Outcome
from lidar_checks.swath.point_source_ids import PointSourceIds


def test_ids_that_are_one_while_passes_are_two() -> None:
    """One id for everything hides that ground was flown over twice."""
    (finding,) = judge_flight(PointSourceIds(), Flight(ids={1: 7, 2: 7}))
    assert finding.grade is Grade.OBSERVATION
    assert "is 7, though the GPS times show" in finding.sentence
    (finding,) = judge_flight(PointSourceIds(), Flight(passes=1, ids={1: 7}))
    assert finding.outcome is Outcome.CONFORMS


def test_a_file_that_says_it_is_another_line() -> None:
    """A file source id of a flight line and points of other lines contradict each other."""
    delivery = Flight(ids={1: 3, 2: 4}).deliver()
    file = delivery.files["tile_0_0.laz"]
    assert file.header is not None
    header = dataclasses.replace(file.header, file_source_id=3)
    delivery.files["tile_0_0.laz"] = dataclasses.replace(file, header=header)
    (finding,) = delivery.drive(PointSourceIds())
    assert finding.sentence == "tile_0_0.laz says that it is flight line 3, and holds points of 4."


def test_a_file_of_another_line_hides_no_points_without_an_id() -> None:
    """Both are told, each of its own file."""
    delivery = Flight(ids={1: 0, 2: 4}).deliver()
    file = delivery.files["tile_0_0.laz"]
    assert file.header is not None
    header = dataclasses.replace(file.header, file_source_id=3)
    delivery.files["tile_0_0.laz"] = dataclasses.replace(file, header=header)
    told = [finding.sentence for finding in delivery.drive(PointSourceIds())]
    assert [("says that it is flight line" in each, "id 0" in each) for each in told] == [
        (True, False),
        (False, True),
    ]


def test_some_points_without_an_id() -> None:
    """Points of id 0 among others are told by file."""
    (finding,) = judge_flight(PointSourceIds(), Flight(ids={1: 0, 2: 4}))
    assert "have point source id 0, while others" in finding.sentence
