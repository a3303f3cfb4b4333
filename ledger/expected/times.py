"""GPS time and UTC on a day, and what mixing them up does to a moving aircraft."""

from __future__ import annotations

from datetime import UTC, date, datetime

from ledger.expected.records import Expected
from ledger.model.timescale import GPS_ORIGIN, TABLE_END, TABLE_SOURCE, count_leap_seconds


def find_leap_seconds(day: date) -> Expected:
    """Return by how many seconds GPS time is ahead of UTC on a day.

    Args:
        day: a day of UTC.
    """
    if day < GPS_ORIGIN.date():
        reason = f"GPS time began on {GPS_ORIGIN.date().isoformat()}"
        return Expected(None, "s", reason=reason)
    if day < TABLE_END:
        midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
        return Expected(count_leap_seconds(midnight), "s", TABLE_SOURCE)
    return Expected(
        None,
        "s",
        reason=f"leap seconds are known until {TABLE_END.isoformat()} here, not on "
        f"{day.isoformat()}",
    )


def find_time_shift(day: date, speed_m_per_s: float) -> Expected:
    """Return how far along its track a cloud lies off whose two clocks were mixed up, metres.

    Args:
        day: a day of UTC.
        speed_m_per_s: speed over ground.
    """
    ahead = find_leap_seconds(day)
    if ahead.value is None:
        return Expected(None, "m", reason=ahead.reason)
    return Expected(
        ahead.value * speed_m_per_s, "m", f"{ahead.value:g} s x {speed_m_per_s:g} m/s; {ahead.how}"
    )
