"""From frame to frame by registered operations: values of the registry, and refusals by name.

Denver: what the 14 parameters of EPSG operation 8970 give (ITRF2014 to NAD83(2011), coordinate
frame, epoch 2010.0), worked out apart from this program.
"""

from __future__ import annotations

from datetime import date

import pytest

from ledger.expected import Place, find_drift, find_frame_shift

DENVER = Place(-104.9903, 39.7392, date(2025, 1, 1))
MILLIMETRE = 0.001


@pytest.mark.parametrize(
    ("epoch", "shift"),
    [
        (2010.0, (1.076, -0.627, 0.877)),
        (2020.0, (1.238, -0.560, 0.866)),
        (2025.0, (1.319, -0.527, 0.861)),
    ],
)
def test_nad83_less_itrf2014(epoch: float, shift: tuple[float, float, float]) -> None:
    """The shift and its growth by the year are those of the registered operation."""
    found = find_frame_shift(DENVER, "ITRF2014", "NAD83(2011)", epoch)
    assert found.parts == pytest.approx(shift, abs=MILLIMETRE)


def test_the_way_back_is_the_opposite() -> None:
    """Source less target is target less source with the other sign, to a tenth of a millimetre."""
    there = find_frame_shift(DENVER, "ITRF2014", "NAD83(2011)").parts
    back = find_frame_shift(DENVER, "NAD83(2011)", "ITRF2014").parts
    assert there is not None
    assert back == pytest.approx([-part for part in there], abs=1e-4)


def test_a_mark_drifts_by_what_the_shift_grows() -> None:
    """What moves in the world and rests on the plate moves against the growth of the shift."""
    drift = find_drift(DENVER, "NAD83(2011)", "ITRF2014", 2010.0, 2025.0)
    assert drift.parts == pytest.approx((1.076 - 1.319, -0.627 + 0.527, 0.877 - 0.861), abs=0.002)


@pytest.mark.parametrize("frame", ["WGS 84", "EPSG:4979", "EPSG:32613"])
def test_plain_wgs_84_is_refused(frame: str) -> None:
    """The registry's way from plain WGS 84 to a plate's frame moves nothing and is silent on it."""
    found = find_frame_shift(DENVER, frame, "NAD83(2011)")
    assert found.parts is None
    assert "not one frame but several" in found.reason


def test_a_missing_grid_is_named() -> None:
    """An operation that needs a grid that is not here gives no number and the grid's name."""
    found = find_frame_shift(DENVER, "NAD83(HARN)", "ITRF2020")
    assert found.parts is None
    assert "us_noaa_nadcon5_nad83_2007_nad83_2011_conus.tif" in found.reason


def test_frames_without_an_operation_are_told() -> None:
    """Two frames between which nothing is registered give no number."""
    found = find_frame_shift(Place(139.7, 35.7, date(2026, 1, 1)), "ITRF2020", "JGD2011")
    assert found.parts is None
    assert "no exact operation" in found.reason


def test_an_unknown_frame_is_told() -> None:
    """A name that is no frame's gives a reason, not an error."""
    assert find_frame_shift(DENVER, "NAD83(201)", "ITRF2020").reason
