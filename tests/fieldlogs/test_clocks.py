"""What the numbers of a clock mean."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from ledger.fieldlogs.clocks import name_rinex_scale, name_scale, read_clock
from ledger.model.known import KnownValue
from ledger.model.timescale import to_gps_s

TAKEOFF = to_gps_s(datetime(2026, 5, 12, 14, 0, 0, tzinfo=UTC))
GPS, UTC_SCALE = KnownValue("GPS"), KnownValue("UTC")
# 2026-05-12 14:00:00 UTC as each clock shows it: Tuesday, day 2 of the GPS week.
UNIX = 1_778_594_400.0
SECONDS_OF_WEEK = 2 * 86_400 + 14 * 3600 + 18.0


@pytest.mark.parametrize(
    ("shown", "scale", "kind", "has_date"),
    [
        (TAKEOFF, GPS, "GPS seconds", True),
        (TAKEOFF - 1e9, GPS, "adjusted GPS seconds", True),
        (UNIX, UTC_SCALE, "Unix seconds", True),
        (SECONDS_OF_WEEK, GPS, "GPS seconds of the week", False),
    ],
)
def test_one_moment_in_every_form(
    shown: float, scale: KnownValue, kind: str, *, has_date: bool
) -> None:
    """Each form of one moment comes to the same GPS seconds."""
    clock = read_clock(shown, "number", scale, TAKEOFF + 600)
    assert clock is not None
    assert (shown + clock.add_s, clock.kind, clock.has_date) == (TAKEOFF, kind, has_date)


def test_times_of_day_take_the_day_of_the_flight() -> None:
    """A time of day is that of the day nearest to the flight, also shortly after midnight."""
    clock = read_clock(14 * 3600.0, "time of day", UTC_SCALE, TAKEOFF)
    assert clock is not None
    assert (14 * 3600.0 + clock.add_s, clock.has_date) == (TAKEOFF, False)
    late = read_clock(23 * 3600.0, "time of day", UTC_SCALE, TAKEOFF + 11 * 3600)
    assert late is not None
    assert 23 * 3600.0 + late.add_s == TAKEOFF + 9 * 3600


def test_a_told_day_needs_no_flight() -> None:
    """Where the log tells its day, no flight is asked."""
    clock = read_clock(14 * 3600.0, "time of day", UTC_SCALE, None, date(2026, 5, 12))
    assert clock is not None
    assert (14 * 3600.0 + clock.add_s, clock.has_date) == (TAKEOFF, True)


def test_without_a_scale_nothing_is_added() -> None:
    """A clock of which nobody tells the scale is taken as it stands."""
    clock = read_clock(TAKEOFF - 18, "number", None, TAKEOFF)
    assert clock is not None
    assert (clock.add_s, clock.scale) == (0.0, None)


def test_local_time_is_no_scale() -> None:
    """How far local time is from any other is not known."""
    clock = read_clock(TAKEOFF, "number", KnownValue("local"), TAKEOFF)
    assert clock is not None
    assert clock.scale is None


def test_a_week_without_a_flight_is_not_placed() -> None:
    """Seconds of a week need a flight that tells which week."""
    assert read_clock(SECONDS_OF_WEEK, "number", GPS, None) is None


def test_names_that_tell_a_scale() -> None:
    """The name of a column may tell the scale."""
    names = ("gps_time", "UTC", "unix_timestamp", "time")
    told = [name_scale(name) for name in names]
    assert [None if each is None else each.value for each in told] == ["GPS", "UTC", "UTC", None]


@pytest.mark.parametrize("name", ["gps_utc_time", "UTC time (GPS)", "gps_unix_s"])
def test_a_name_with_two_scales_tells_none(name: str) -> None:
    """The two lie whole seconds apart, so neither is taken for read."""
    assert name_scale(name) is None


@pytest.mark.parametrize(
    ("system", "version", "scale"),
    [
        ("GPS", "3.04", "GPS"),
        ("GAL", "3.04", "GPS"),
        ("GLO", "2.11", "UTC"),
        ("BDT", "3.04", "BeiDou"),
        ("", "2.11", "GPS"),
        ("", "3.04", None),
    ],
)
def test_systems_of_observation_files(system: str, version: str, scale: str | None) -> None:
    """Time systems of RINEX (RINEX 3.04, table A2); RINEX 2.11 takes GPS time where none stands."""
    known = name_rinex_scale(system, version)
    assert (None if known is None else known.value) == scale
