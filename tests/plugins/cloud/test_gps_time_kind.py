"""Kind of GPS time: flag against values, and values that carry no time."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_cloud import Delivery, make_header, make_points, read_open_file
from open_data import OpenFile

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.header import LasHeader
from ledger.testing import check_tally_laws, make_chunk
from lidar_checks.cloud.gps_time_kind import GpsTimeKind
from lidar_checks.cloud.time_kinds import ADJUSTMENT, GPS_ORIGIN, TimeKind, find_kind
from lidar_checks.cloud.time_tally import DISTINCT_CAP, TimeTally

ADJUSTED, WEEK = 17, 16
STEP = 0.012_345_678_9


def judge(
    times: Any, encoding: int = ADJUSTED, header: LasHeader | None = None, **criteria: Any
) -> Finding:
    """Return what the check finds in one tile with these times."""
    times = np.asarray(times, dtype=np.float64)
    place = np.arange(len(times), dtype=np.float64)
    points = make_chunk({"x": place, "y": place, "z": place, "gps_time": times})
    delivery = Delivery()
    delivery.add("tile.laz", points, header=header or make_header(encoding=encoding))
    (finding,) = delivery.drive(GpsTimeKind(), criteria)
    return finding


def count_up(first: float, count: int = 500, step: float = STEP) -> np.ndarray[Any, Any]:
    """Return times that go on evenly."""
    return first + np.arange(count) * step


@pytest.mark.parametrize(
    ("first", "encoding"),
    [(402_497_018.1, ADJUSTED), (570_618.1, WEEK), (-52.3e6, ADJUSTED), (32.1, WEEK)],
)
def test_times_that_fit_the_flag_conform(first: float, encoding: int) -> None:
    """Adjusted time, week seconds, adjusted time before 2011, and a scanner's own clock."""
    finding = judge(count_up(first), encoding)
    assert finding.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("first", "encoding", "words"),
    [
        (402_497_018.1, WEEK, "says seconds of the week, but the values can only be adjusted"),
        (570_618.1, ADJUSTED, "says adjusted standard time, but the values can only be seconds"),
        (1_402_497_018.1, ADJUSTED, "10^9 was not taken off"),
        (1_402_497_018.1, WEEK, "10^9 was not taken off"),
        (5e12, ADJUSTED, "no time of any kind"),
        (-2e9, WEEK, "no time of any kind"),
    ],
)
def test_times_that_contradict_the_flag_are_observed(
    first: float, encoding: int, words: str
) -> None:
    """Each kind of number under the wrong flag is an observation that names both."""
    finding = judge(count_up(first), encoding)
    assert (finding.outcome, finding.grade) == (Outcome.NONCONFORMING, Grade.OBSERVATION)
    assert words in finding.sentence
    assert finding.catalogue == ("FT-06",)


@pytest.mark.parametrize(
    ("offset", "first", "words"),
    [
        (1000, 460_000_000.0, ""),  # LAS 1.5 R00: 1000 is adjusted standard time
        (1450, 10_000_000.0, ""),
        (1400, 5e12, "no time of any kind"),
    ],
)
def test_times_against_an_offset_are_read(offset: int, first: float, words: str) -> None:
    """LAS 1.5 R00, global encoding bit 6: GPS seconds less 10^6 times the offset."""
    times = count_up(first)
    header = replace(
        make_header(encoding=17 | 64),
        version="1.5",
        time_offset=offset,
        time_range=(float(times.min()), float(times.max())),
    )
    finding = judge(times, header=header)
    assert (finding.outcome is Outcome.CONFORMS) == (not words)
    assert words in finding.sentence
    assert ("GPS day 2026-04-12" in finding.sentence) == (not words)


def test_an_offset_without_adjusted_times_tells_nothing() -> None:
    """Bit 6 needs bit 0; before LAS 1.5 bit 6 is reserved, and means nothing."""
    header = replace(make_header(encoding=16 | 64), version="1.5", time_offset=1000)
    assert judge(count_up(1e6), header=header).outcome is Outcome.INCONCLUSIVE
    assert judge([0.0] * 9, header=header).outcome is Outcome.NONCONFORMING
    old = replace(make_header(encoding=17 | 64), version="1.4")
    assert judge(count_up(402_497_018.1), header=old).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(("off", "is_told"), [(0.0, False), (5e-7, False), (0.01, True)])
def test_a_time_box_that_is_not_that_of_the_points_is_told(off: float, *, is_told: bool) -> None:
    """LAS 1.5 R00 adds the least and greatest GPS time to the header."""
    times = count_up(460_000_000.0)
    stated = (float(times.min()) - off, float(times.max()))
    header = replace(make_header(encoding=17), version="1.5", time_range=stated)
    finding = judge(times, header=header)
    assert (finding.outcome is Outcome.NONCONFORMING) == is_told
    if is_told:
        assert "states GPS times of 459999999.990000 to" in finding.sentence
        assert finding.criterion_source.startswith("ASPRS LAS 1.5 R00")


@pytest.mark.parametrize(
    ("last", "outcome"), [(604_800.0, "conforms"), (604_801.0, "nonconforming")]
)
def test_a_week_ends_at_604800_seconds(last: float, outcome: str) -> None:
    """The last second of the week is in it, and the next is not."""
    assert judge([604_700.25, last, 604_700.75], WEEK).outcome == outcome


def test_one_zero_among_times_is_a_mixture() -> None:
    """A point whose time was lost shows as a mixture of kinds."""
    finding = judge([*count_up(402_497_018.1), 0.0])
    assert "mixes seconds of the week with adjusted standard time" in finding.sentence


@pytest.mark.parametrize("value", [0.0, 402_497_018.123])
def test_one_time_for_all_points_says_nothing(value: float) -> None:
    """All times zero, or all equal, cannot be joined with a trajectory."""
    assert f"every GPS time is {value:g}" in judge([value] * 50).sentence


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_times_that_are_no_numbers_are_counted(value: float) -> None:
    """Not-a-number and infinite times are counted, and no warning is raised."""
    finding = judge([*count_up(402_497_018.1), value, value])
    assert "2 of 502 GPS times are not numbers" in finding.sentence
    finding = judge([value] * 3)
    assert "3 of 3 GPS times are not numbers" in finding.sentence


def test_single_precision_is_named_with_its_step() -> None:
    """Adjusted times sent through 32-bit floats are told, with the step that is left."""
    times = count_up(402_497_018.1, 5000, 0.1)
    finding = judge(times.astype(np.float32))
    assert "near 402497504 has steps of 32 s" in finding.sentence
    assert judge(times).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("value", "step"),
    [(402_497_018.0, 32.0), (175_050_096.0, 16.0), (570_618.0, 0.0625), (4.0, 2**-21)],
)
def test_the_step_is_that_of_a_float32(value: float, step: float) -> None:
    """The step named is the distance to the next 32-bit float."""
    tally = TimeTally()
    tally.chunk(make_points([0.0], [0.0], gps_time=value))
    assert tally.close().single_step == step == float(np.spacing(np.float32(value)))


@pytest.mark.parametrize(("more", "outcome"), [(0, "conforms"), (1, "nonconforming")])
def test_too_many_points_at_one_time_are_observed(more: int, outcome: str) -> None:
    """Up to 128 points may share a time (beams and returns); one more is observed."""
    times = np.repeat(count_up(402_497_018.123, 10), 128)
    times = np.concatenate([times, times[:more]])
    assert judge(times).outcome == outcome
    assert judge(times, max_points_per_time=129).outcome is Outcome.CONFORMS


def test_the_sign_of_zero_leaves_no_trace() -> None:
    """Minus zero and zero are one time, whichever came first."""
    for zeros in ([-0.0, 0.0], [0.0, -0.0]):
        tally = TimeTally()
        tally.chunk(make_points([0.0, 1.0], [0.0, 1.0], gps_time=np.array(zeros)))
        summary = tally.close()
        assert (str(summary.first), str(summary.last)) == ("0.0", "0.0")


def test_two_faults_of_one_file_are_one_finding() -> None:
    """A wrong flag and single precision are told in one sentence."""
    finding = judge(count_up(402_497_018.1, 5000, 0.1).astype(np.float32), WEEK)
    assert "time flag says" in finding.sentence
    assert "steps of 32 s" in finding.sentence


def test_a_format_without_time_says_so() -> None:
    """Point formats without GPS time are observed, since nothing can be joined."""
    delivery = Delivery()
    place = np.arange(5.0)
    points = make_chunk({"x": place, "y": place, "z": place})
    delivery.add("tile.laz", points, header=make_header(point_format=2))
    (finding,) = delivery.drive(GpsTimeKind())
    assert "carries no GPS time" in finding.sentence


def test_without_a_header_the_flag_is_not_guessed() -> None:
    """Times of one kind conform when no header says what they ought to be."""
    delivery = Delivery()
    place = np.arange(50.0)
    delivery.add("tile.laz", make_points(place, place), header=None)
    (finding,) = delivery.drive(GpsTimeKind())
    assert finding.outcome is Outcome.CONFORMS


def test_no_points_are_no_pass() -> None:
    """Without any point the check says that none was read."""
    assert judge([]).outcome is Outcome.NOT_ASSESSED


@given(st.lists(st.floats(allow_nan=True, allow_infinity=True, width=64), min_size=4, max_size=50))
def test_the_tally_keeps_the_laws_with_any_floats(times: list[float]) -> None:
    """Cutting, order and merging leave the summary as it is, whatever bits the times have."""
    place = np.arange(float(len(times)))
    check_tally_laws(GpsTimeKind(), [make_points(place, place, gps_time=np.array(times))])


@pytest.mark.parametrize(("count", "known"), [(DISTINCT_CAP, True), (DISTINCT_CAP + 1, False)])
def test_distinct_times_are_counted_up_to_a_cap(count: int, *, known: bool) -> None:
    """At the cap the number is known, above it only that there are more, in one piece or two."""
    times = np.repeat(count_up(3e8, count), 3)
    place = np.arange(float(len(times)))
    points = make_points(place, place, gps_time=times)
    whole, left, right = TimeTally(), TimeTally(), TimeTally()
    whole.chunk(points)
    left.chunk(points.slice(0, 7000))
    right.chunk(points.slice(7000, len(points)))
    left.merge(right)
    assert whole.close().distinct == left.close().distinct == (count if known else None)
    fresh = TimeTally()
    fresh.merge(whole)
    assert fresh.close() == whole.close()


@pytest.mark.parametrize(
    ("utc", "leap", "seconds", "week_seconds"),
    [
        ("1999-08-22T00:00:00", 13, 619_315_213, 13),
        ("2011-09-14T01:46:25", 15, 1_000_000_000, 265_600),
        ("2017-01-01T00:00:00", 18, 1_167_264_018, 18),
        ("2019-04-07T00:00:00", 18, 1_238_630_418, 18),
        ("2020-02-29T12:34:56", 18, 1_267_014_914, 563_714),
        ("2024-06-15T14:30:00", 18, 1_402_497_018, 570_618),
        ("2026-01-01T00:00:00", 18, 1_451_260_818, 345_618),
    ],
)
def test_published_origin_and_kinds(utc: str, leap: int, seconds: int, week_seconds: int) -> None:
    """The kinds of ASPRS LAS 1.4 R15 (global encoding) at known moments.

    Seconds since 1980-01-06T00:00:00Z (origin read in the standard) with leap seconds counted in
    (their list from memory: it enters these rows and no finding); a week has 604,800 of them.
    """
    moment = datetime.fromisoformat(utc + "+00:00")
    assert (moment - GPS_ORIGIN).total_seconds() + leap == seconds
    assert seconds % 604_800 == week_seconds
    assert find_kind(week_seconds) is TimeKind.WEEK
    adjusted = seconds - ADJUSTMENT
    assert find_kind(adjusted) is (TimeKind.ADJUSTED if adjusted else TimeKind.WEEK)
    # From 2011-09-14 on GPS seconds cannot be mistaken for adjusted ones.
    assert (find_kind(seconds) is TimeKind.UNADJUSTED) is (seconds >= ADJUSTMENT)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("file_with_both_wkt_and_geotiff_vlrs.las", "has steps of 32 s"),
        ("file_with_both_wkt_and_geotiff_vlrs.las", "says seconds of the week, but"),
        ("1815.las", "has steps of 16 s"),
        ("hexbin-crop.las", "every GPS time is 0"),
        ("autzen-bmx-2023.las", "says seconds of the week, but"),
        ("4_6_crop.las", "says seconds of the week, but"),
        ("crop.las", "says seconds of the week, but"),
        ("epsg_4326.las", "carries no GPS time"),
        ("fullwave.laz", "GPS time 417218.091 to 417219.079 s"),
        ("wontcompress3.las", "GPS day 2016-03-19"),
    ],
)
def test_real_files(open_file: OpenFile, name: str, words: str) -> None:
    """Flags and times of open files, as stated of them."""
    (finding,) = read_open_file(open_file(f"las/{name}")).drive(GpsTimeKind())
    assert words in finding.sentence
