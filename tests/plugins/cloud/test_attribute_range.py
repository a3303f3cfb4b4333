"""Intensity and colour: lost, 8 bits wide, as they should be.

ASPRS LAS 1.4 R15: colour is 16 bits wide; 8-bit values are multiplied by 256, so that 255 becomes
65,280 and whatever is not black is at least 256.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import check_tally_laws, make_chunk
from lidar_checks.cloud.attribute_range import AttributeRange

COUNT = 50
PLACE = np.arange(COUNT, dtype=np.float64)
RAMP = np.arange(COUNT, dtype=np.uint16)
FLAT = np.zeros(COUNT, dtype=np.uint16)


def make(**fields: Any) -> Any:
    """Return points with these fields."""
    return make_chunk({"x": PLACE, "y": PLACE, "z": PLACE, **fields})


def judge(**fields: Any) -> Finding:
    """Return what the check finds in one tile."""
    delivery = Delivery()
    delivery.add("tile.laz", make(**fields))
    (finding,) = delivery.drive(AttributeRange(), {})
    return finding


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"intensity": FLAT + np.uint16(7)}, "every intensity of 50 points is 7"),
        ({"intensity": RAMP, "red": FLAT, "green": FLAT, "blue": FLAT}, "every colour is black"),
        (
            {"red": RAMP + np.uint16(206), "green": FLAT, "blue": FLAT},
            "no colour is above 255: 8-bit colour",
        ),
    ],
)
def test_what_was_lost_or_not_scaled_is_told(fields: dict[str, Any], words: str) -> None:
    """One intensity for all, black everywhere, nothing above 255."""
    finding = judge(**fields)
    assert finding.grade is Grade.OBSERVATION
    assert words in finding.sentence


@pytest.mark.parametrize(
    "fields",
    [
        {"intensity": RAMP},
        {"red": RAMP + np.uint16(207), "green": FLAT, "blue": FLAT},
        {"red": FLAT, "green": FLAT, "blue": FLAT, "nir": RAMP * np.uint16(256)},
        {},
    ],
)
def test_what_is_there_conforms(fields: dict[str, Any]) -> None:
    """One value above 255 is enough; fields that the format lacks are not missed."""
    assert judge(**fields).outcome is Outcome.CONFORMS


def test_no_point_is_no_pass() -> None:
    """An empty file is not assessed."""
    delivery = Delivery()
    delivery.add("tile.laz", make_chunk({"x": PLACE[:0], "y": PLACE[:0], "z": PLACE[:0]}))
    (finding,) = delivery.drive(AttributeRange(), {})
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_the_tally_keeps_its_laws() -> None:
    """Any cut, order and merge gives the same."""
    check_tally_laws(AttributeRange(), [make(intensity=RAMP, red=RAMP, green=FLAT, blue=FLAT)])
