"""Flags of points: asked for, forbidden, and contradicting the class."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, make_header, make_points

from ledger.contract.check import Finding, Grade, Outcome
from lidar_checks.cloud.point_flags import PointFlags

TEN = 10


def judge(
    *tiles: dict[str, Any], point_format: int = 6, **criteria: Any
) -> list[tuple[str, Grade | None, str]]:
    """Return subject, grade and what was observed, of what does not conform."""
    findings = find(*tiles, point_format=point_format, **criteria)
    return [(f.subject, f.grade, f.observed) for f in findings if f.outcome is not Outcome.CONFORMS]


def find(*tiles: dict[str, Any], point_format: int = 6, **criteria: Any) -> list[Finding]:
    """Return what the check finds in tiles of ten points with these fields."""
    delivery = Delivery()
    for number, fields in enumerate(tiles):
        place = np.arange(float(TEN))
        header = make_header(point_format=point_format)
        given = {"overlap": False, **fields} if point_format > 5 else fields
        delivery.add(f"tile_{number}.laz", make_points(place, place, **given), header=header)
    return list(delivery.drive(PointFlags(), criteria))


def mark(count: int) -> list[bool]:
    """Return ten flags, of which the first are set."""
    return [index < count for index in range(TEN)]


def test_no_flag_is_an_honest_cloud() -> None:
    """Without flags and without wishes the counts are told and nothing is wrong."""
    (finding,) = find({})
    assert finding.outcome is Outcome.CONFORMS
    assert "0 overlap, 0 withheld, 0 synthetic, of 10 points" in finding.sentence
    assert finding.catalogue == ("CL-05",)


def test_noise_that_is_withheld_is_honest() -> None:
    """Withheld points in a noise class, or never given one, are what the flag is for."""
    assert not judge(*({"classification": code, "withheld": True} for code in (0, 1, 7, 18)))


@pytest.mark.parametrize("code", [2, 5, 9, 64])
def test_withheld_points_in_a_used_class_are_observed(code: int) -> None:
    """One withheld point of ground is an observation with its count and class."""
    fields = {"classification": code, "withheld": mark(1)}
    told = f"1 point withheld but in class {code}"
    assert judge(fields) == [("tile_0.laz", Grade.OBSERVATION, told)]


def test_synthetic_points_in_a_raw_class_are_observed() -> None:
    """Points that were made up and never classified pass for measured ones."""
    told = "2 points synthetic but in class 1 as if measured"
    assert judge({"classification": 1, "synthetic": mark(2)}) == [
        ("tile_0.laz", Grade.OBSERVATION, told)
    ]
    assert not judge({"classification": 9, "synthetic": mark(2)})


@pytest.mark.parametrize("flag", ["overlap", "withheld", "synthetic"])
def test_a_forbidden_flag_is_a_minor_of_its_file(flag: str) -> None:
    """One point with the flag is enough, none is none."""
    criterion: dict[str, Any] = {"overlap_flag" if flag == "overlap" else flag: "forbidden"}
    found = judge({}, {"classification": 7, flag: mark(1)}, **criterion)
    assert found == [("tile_1.laz", Grade.MINOR, f"1 point with the {flag} flag")]
    assert not judge({}, **criterion)


@pytest.mark.parametrize("flag", ["overlap", "withheld", "synthetic"])
def test_a_required_flag_may_be_in_any_tile(flag: str) -> None:
    """A flag that no point has is one minor of the delivery; one point in one tile is enough."""
    criterion: dict[str, Any] = {"overlap_flag" if flag == "overlap" else flag: "required"}
    assert judge({}, {}, **criterion) == [
        ("delivery", Grade.MINOR, f"no point with the {flag} flag")
    ]
    assert not judge({}, {"classification": 7, flag: mark(1)}, **criterion)


def test_class_12_stands_for_overlap_in_old_formats() -> None:
    """Formats 0 to 5 have no such flag; in formats 6 to 10 class 12 is none."""
    overlapping = {"classification": 12}
    assert judge(overlapping, point_format=3, overlap_flag="forbidden")
    assert not judge(overlapping, point_format=3, overlap_flag="required")
    assert judge(overlapping, point_format=6, overlap_flag="required")


def test_no_points_are_no_pass() -> None:
    """Without any point the check says that none was read."""
    delivery = Delivery()
    delivery.add("tile.laz", make_points([], []))
    (finding,) = delivery.drive(PointFlags())
    assert finding.outcome is Outcome.NOT_ASSESSED
