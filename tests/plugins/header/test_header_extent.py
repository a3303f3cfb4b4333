"""The box of the header, and what scale and offset can hold.

Range by ASPRS LAS 1.4 R15: coordinates are signed 32-bit whole numbers times scale plus offset, so
scale 0.001 reaches 2 147 483.648 to either side of the offset.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from ledger.contract.evidence import ReadFacts
from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.header_extent import HeaderExtent


def judge(file, criteria=None):
    """Return the findings about a file."""
    return drive_check(HeaderExtent(), make_evidence(file), criteria=criteria)


def test_a_box_that_fits_conforms(delivered):
    """Header and points agree within one step of the scale."""
    (finding,) = judge(delivered(reading={"maximum": (552_079.999, 4_272_080.0, 230.0)}))
    assert finding.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"minimum": (552_000.0, 4_272_000.0, 209.5)}, "ends 0.5 short of its points in Z"),
        ({"minimum": (552_000.0, 4_272_000.0, 210.82)}, "ends 0.82 beyond its points in Z"),
        ({"maximum": (552_080.002, 4_272_080.0, 230.0)}, "ends 0.002 short of its points in X"),
    ],
)
def test_a_box_that_does_not_fit_is_minor(delivered, reading, words):
    """A box that is too small or too large is told with its worst axis."""
    (finding,) = judge(delivered(reading=reading))
    assert finding.grade is Grade.MINOR
    assert finding.catalogue == ("FT-04",)
    assert words in finding.sentence


def test_a_box_that_is_no_box_is_minor(delivered):
    """A box with its ends swapped, or with no number in it, describes nothing."""
    for minimum in ((552_090.0, 4_272_000.0, 210.0), (math.nan, 4_272_000.0, 210.0)):
        reading = {"minimum": (552_000.0, 4_272_000.0, 210.0)}
        (finding,) = judge(delivered(header={"minimum": minimum}, reading=reading))
        assert finding.grade is Grade.MINOR
        assert "is no box" in finding.sentence


@pytest.mark.parametrize("scale", [0.0, -0.001, math.nan, math.inf])
def test_a_scale_that_is_no_scale_is_major(delivered, scale):
    """With such a scale no coordinate means anything, whether points were read or not."""
    readings: tuple[dict[str, Any] | None, ...] = ({}, None)
    for reading in readings:
        file = delivered(header={"scale": (0.001, scale, 0.001)}, reading=reading)
        (finding,) = judge(file)
        assert finding.grade is Grade.MAJOR
        assert "the Y scale" in finding.sentence


def test_an_offset_that_is_no_number_is_major(delivered):
    """An offset that is not finite loses every point."""
    (finding,) = judge(delivered(header={"offset": (math.inf, 0.0, 0.0)}))
    assert finding.grade is Grade.MAJOR


def test_a_northing_beyond_32_bits_is_major(delivered):
    """Offset 0 with scale 0.001 cannot hold northing 4 272 080: the header alone shows it."""
    file = delivered(header={"offset": (0.0, 0.0, 0.0)}, reading=None)
    finding = judge(file)[0]
    assert finding.grade is Grade.MAJOR
    assert finding.catalogue == ("FT-02",)
    assert "cannot hold Y = 4272080" in finding.sentence


def test_an_offset_far_away_is_not_blamed_on_the_points(delivered):
    """Where the offset is the fault both numbers stand there, and neither is said to be right."""
    file = delivered(header={"offset": (1e308, 0.0, 0.0)}, reading=None)
    finding = judge(file)[0]
    assert finding.observed == "X 552080 and offset 1e+308, 1e+308 apart"
    assert finding.required == "less than 2147483.648 apart, in the unit of the file"


def test_points_that_stop_at_the_limit_are_told(delivered):
    """A writer that cuts off at 2 147 483.647 loses the rest of the northing."""
    header = {"offset": (552_000.0, 0.0, 0.0)}
    stopped = {
        "minimum": (552_000.0, 2_147_483.647, 210.0),
        "maximum": (552_080.0, 2_147_483.647, 230.0),
    }
    found = judge(delivered(header=header, reading=stopped))
    assert [finding.grade for finding in found] == [Grade.MAJOR, Grade.MINOR]
    assert "its points stop at 2147483.647" in found[0].sentence


def test_a_box_that_no_point_reaches_is_no_overflow(delivered):
    """Where the points lie well inside the range, only the header's box is wrong."""
    header = {"offset": (552_000.0, 0.0, 0.0)}
    inside = {"minimum": (552_000.0, 1_000.0, 210.0), "maximum": (552_080.0, 1_080.0, 230.0)}
    (finding,) = judge(delivered(header=header, reading=inside))
    assert (finding.grade, finding.catalogue) == (Grade.MINOR, ("FT-04",))


def test_the_last_number_of_32_bits_is_held(delivered):
    """2 147 483.647 fits scale 0.001, a step more does not."""
    for north, fits in ((2_147_483.647, True), (2_147_483.648, False)):
        header = {
            "offset": (552_000.0, 0.0, 0.0),
            "minimum": (552_000.0, 0.0, 210.0),
            "maximum": (552_080.0, north, 230.0),
        }
        (finding, *_) = judge(delivered(header=header, reading=None))
        assert (finding.outcome is Outcome.NOT_ASSESSED) is fits


def test_points_that_wrapped_round_are_told(delivered):
    """A northing that came out 2^32 steps off shows that it wrapped round."""
    header = {"offset": (552_000.0, 0.0, 0.0)}
    wrapped = 4_272_080.0 - 2**32 * 0.001
    reading = {
        "minimum": (552_000.0, wrapped - 80, 210.0),
        "maximum": (552_080.0, wrapped, 230.0),
    }
    found = judge(delivered(header=header, reading=reading))
    assert [finding.grade for finding in found] == [Grade.MAJOR, Grade.MINOR]
    assert "its points wrapped round to -22887.296" in found[0].sentence


def test_a_coarse_scale_is_minor(delivered, utm17):
    """Steps of more than a centimetre are too coarse, in whatever unit the file counts."""
    header = {"scale": (0.1, 0.1, 0.001)}
    (finding,) = judge(delivered(header=header))
    assert (finding.grade, finding.catalogue) == (Grade.MINOR, ("FT-01",))
    assert "stores X in steps of 0.1 m; 0.01 m or finer is needed" in finding.sentence
    feet = describe("EPSG:2992")  # Oregon LCC, international feet
    assert judge(delivered(header={"scale": (0.03, 0.03, 0.03)}, crs=feet))[0].outcome is (
        Outcome.CONFORMS
    )
    assert judge(delivered(header={"scale": (0.04, 0.04, 0.04)}, crs=feet))[0].grade is Grade.MINOR


def test_steps_of_degrees_are_judged_on_the_ground(delivered):
    """1e-7 degree is 11 mm along a meridian, 1e-8 degree 1 mm."""
    degrees = describe("EPSG:4326")
    box = {
        "offset": (-80.0, 38.0, 0.0),
        "minimum": (-80.01, 38.0, 200.0),
        "maximum": (-80.0, 38.01, 210.0),
    }
    coarse = judge(delivered(header=box | {"scale": (1e-7, 1e-7, 0.001)}, crs=degrees))
    assert "0.01112 m" in coarse[0].sentence
    fine = judge(delivered(header=box | {"scale": (1e-8, 1e-8, 0.001)}, crs=degrees))
    assert fine[-1].outcome is not Outcome.NONCONFORMING


def test_the_coarsest_scale_is_a_criterion(delivered):
    """The job may allow coarser steps."""
    file = delivered(header={"scale": (0.1, 0.1, 0.1)})
    (finding,) = judge(file, {"scale_max_m": 0.1})
    assert finding.outcome is Outcome.CONFORMS


def test_without_points_the_box_is_not_assessed(delivered):
    """A quick audit says so, instead of taking the header's word."""
    (finding,) = judge(delivered(reading=None))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("points",)


def test_a_box_a_thousand_times_too_large_is_said_so(real):
    """`simple1_3.las` states X = -235434519, its points have -235434.519 (counted with laspy)."""
    low, high = (-235434.519, 5800843.145, 265.094), (-234935.841, 5800946.249, 273.811)
    reading = ReadFacts(999, minimum=low, maximum=high)
    (finding,) = judge(real("las/simple1_3.las", reading=reading))
    assert finding.grade is Grade.MINOR
    assert "is 1000 × the box of its points in X and Z" in finding.sentence


def test_a_box_looser_than_the_points_is_found(real):
    """`5points_14.las` states a least Z of 61.33 where its points have 62.15 (counted)."""
    file = real("las/5points_14.las")
    low = (*file.header.minimum[:2], 62.15)
    reading = ReadFacts(5, minimum=low, maximum=file.header.maximum)
    (finding,) = judge(real("las/5points_14.las", reading=reading))
    assert finding.grade is Grade.MINOR
    assert "beyond its points in Z" in finding.sentence


def test_an_empty_real_file_conforms(real):
    """A file without points has no box to be wrong (`no-points.las`); its scale is judged."""
    for reading in (ReadFacts(0), None):
        (finding,) = judge(real("las/no-points.las", reading=reading))
        assert (finding.outcome, finding.catalogue) == (Outcome.NONCONFORMING, ("FT-01",))


def test_points_in_a_file_that_states_none_are_no_empty_file(delivered):
    """Where a header states no point and some were read, the box is not passed over."""
    reading = {"decoded": 3, "minimum": None, "maximum": None}
    (finding,) = judge(delivered(header={"point_count": 0}, reading=reading))
    assert finding.outcome is Outcome.NOT_ASSESSED
