"""Frames at a place: signs, refusals by name, and nothing that is only about right.

What the shifts are is held in `tests/published/test_frames.py`.
"""

from __future__ import annotations

from datetime import date

import pytest

from ledger.expected import Place, Vector, find_drift, find_frame_shift

DENVER = Place(-104.9903, 39.7392, date(2025, 1, 1))


def test_the_way_back_is_the_opposite() -> None:
    """Source less target is target less source with the other sign, to a tenth of a millimetre."""
    there = find_frame_shift(DENVER, "ITRF2014", "NAD83(2011)").parts
    back = find_frame_shift(DENVER, "NAD83(2011)", "ITRF2014").parts
    assert there is not None
    assert back == pytest.approx([-part for part in there], abs=1e-4)


@pytest.mark.parametrize("frame", ["WGS 84", "EPSG:4979", "EPSG:32613"])
def test_plain_wgs_84_is_refused(frame: str) -> None:
    """The registry's way from plain WGS 84 to a plate's frame moves nothing and is silent on it."""
    found = find_frame_shift(DENVER, frame, "NAD83(2011)")
    assert found.parts is None
    assert "not one frame but several" in found.reason


def test_a_map_system_stands_for_its_frame() -> None:
    """A projected system gives the frame behind it."""
    by_map = find_frame_shift(DENVER, "ITRF2020", "EPSG:6342").parts
    assert by_map == find_frame_shift(DENVER, "ITRF2020", "NAD83(2011)").parts


def test_a_missing_grid_is_named() -> None:
    """An operation that needs a grid that is not here gives no number and the grid's name."""
    found = find_frame_shift(DENVER, "NAD83(HARN)", "ITRF2020")
    assert found.parts is None
    assert "us_noaa_nadcon5_nad83_2007_nad83_2011_conus.tif" in found.reason


def test_the_best_operation_is_that_of_the_place() -> None:
    """In Norway ETRS89 needs a grid of the ground's own movement, in Germany it does not."""
    day = date(2026, 1, 1)
    assert "nkg" in find_frame_shift(Place(10.7, 59.9, day), "ITRF2020", "ETRS89").reason.lower()
    assert find_frame_shift(Place(13.4, 52.5, day), "ITRF2020", "ETRS89").parts is not None


def test_frames_without_an_operation_are_told() -> None:
    """Two frames between which nothing is registered give no number."""
    found = find_frame_shift(Place(139.7, 35.7, date(2026, 1, 1)), "ITRF2020", "JGD2011")
    assert found.parts is None
    assert "no exact operation" in found.reason


@pytest.mark.parametrize("frame", ["NAD83(201)", "", "EPSG:5703", "EPSG:999999"])
def test_what_is_no_frame_is_told(frame: str) -> None:
    """A name that is no frame's, and a system of heights alone, give a reason and no error."""
    assert find_frame_shift(DENVER, frame, "ITRF2020").reason
    assert find_drift(DENVER, frame, "ITRF2020", 2010.0).reason


def test_without_a_day_there_is_no_drift() -> None:
    """What changes with the years is not told of a place without a day."""
    timeless = Place(DENVER.lon, DENVER.lat)
    assert "needs a day" in find_frame_shift(timeless, "ITRF2020", "NAD83(2011)").reason
    assert find_frame_shift(timeless, "ITRF2020", "NAD83(2011)", 2025.0).parts is not None


def test_a_vector_turns_onto_the_grid() -> None:
    """Where grid north lies 90 degrees east of true north, true east is grid north."""
    turned = Vector(1.0, 0.0, 0.5).on_grid(90.0)
    assert turned.parts == pytest.approx((0.0, 1.0, 0.5))
    assert Vector(None, None, reason="why").on_grid(90.0).reason == "why"
