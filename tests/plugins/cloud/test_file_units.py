"""Units of files: what the file says first, then the order, then nothing."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from typing import Any

import pytest
from made_cloud import make_crs, make_specification

from ledger.model.georeferencing import Crs, CrsKind, CrsReading, CrsRecord, VerticalCrs
from ledger.testing import make_evidence, make_file
from ledger.units import METRE, US_SURVEY_FOOT
from lidar_checks.cloud.file_units import (
    NoScale,
    Scale,
    find_common_scale,
    find_horizontal_scale,
    find_vertical_scale,
)

FOOT = Scale(Fraction(1200, 3937))
ONE = Scale(Fraction(1))


def find(crs: CrsReading | None, **parts: Any) -> Scale | NoScale:
    """Return the unit of X and Y of a file."""
    file = make_file(crs=crs)
    return find_horizontal_scale(file, make_evidence(file, **parts))


def state(**parts: Any) -> CrsReading:
    """Return the records of a file whose CRS has these parts."""
    record = CrsRecord(True, Crs("plan", CrsKind.PROJECTED, **parts))
    return CrsReading(record, CrsRecord(False), record)


def test_the_file_s_own_unit_comes_first() -> None:
    """A file in feet is in feet, whatever was ordered."""
    assert find(make_crs(US_SURVEY_FOOT), specification=make_specification("metre")) == FOOT


def test_an_unnamed_unit_counts_by_its_size() -> None:
    """A unit that has a size and no known name is as good; a size that is none is not."""
    assert find(state(metres_per_unit=0.5)) == Scale(Fraction(1, 2))
    for size in (0.0, -1.0, float("inf"), float("nan"), None):
        assert isinstance(find(state(metres_per_unit=size)), NoScale)


def test_the_order_fills_in_for_a_silent_file() -> None:
    """The ordered unit, else the unit of the ordered CRS, else nothing."""
    ordered = Crs("ordered", CrsKind.PROJECTED, unit=US_SURVEY_FOOT)
    globe = Crs("globe", CrsKind.GEOGRAPHIC)
    assert find(None, specification=make_specification("metre"), specified_crs=ordered) == ONE
    assert find(None, specified_crs=ordered) == FOOT
    assert find(state(), specified_crs=ordered) == FOOT
    for crs in (globe, None):
        assert isinstance(find(None, specified_crs=crs), NoScale)


@pytest.mark.parametrize("kind", [CrsKind.GEOGRAPHIC, CrsKind.GEOCENTRIC])
def test_systems_without_a_plan_have_no_length(kind: CrsKind) -> None:
    """Degrees and geocentric coordinates are no plan, even with a unit."""
    assert isinstance(find(make_crs(METRE, kind)), NoScale)


def test_heights_take_the_file_then_the_order_then_the_plan() -> None:
    """The vertical part of the file, else the order's unit, else its CRS, else the plan's unit."""
    feet = VerticalCrs("heights", unit=US_SURVEY_FOOT)
    own, silent = make_file(crs=make_crs(heights=US_SURVEY_FOOT)), make_file(crs=make_crs())
    ordered = make_specification(vertical="us-survey-foot")
    vertical = Crs("heights", CrsKind.NONE, vertical=feet)
    for file, parts, wanted in (
        (own, {"specification": make_specification(vertical="metre")}, FOOT),
        (silent, {"specification": ordered}, FOOT),
        (silent, {"specified_vertical": vertical}, FOOT),
        (silent, {}, ONE),
        (dataclasses.replace(silent, crs=None), {}, ONE),
    ):
        assert find_vertical_scale(file, make_evidence(file, **parts), ONE) == wanted


def test_the_common_unit_is_that_of_most_files() -> None:
    """The most frequent unit, of a tie the shorter, and none where no file has one."""
    none = NoScale("is in degrees", ("projected coordinates",))
    assert find_common_scale([ONE, ONE, FOOT, none]) == ONE
    assert find_common_scale([ONE, FOOT]) == find_common_scale([FOOT, ONE]) == FOOT
    assert find_common_scale([none]) is None
