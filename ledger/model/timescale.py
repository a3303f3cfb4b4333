"""Time scales of receivers and scanners, and what lies between them.

Everything is turned into GPS seconds: seconds since 1980-01-06 00:00:00 UTC as a GPS clock counts
them, without leap seconds. Sources: IS-GPS-200 for the origin; IERS Bulletin C for the leap
seconds, of which none was announced after 2017-01-01; BDS-SIS-ICD for BeiDou time, which runs 14 s
behind GPS time.

Light: no library beyond the standard one.
"""

from __future__ import annotations

from bisect import bisect_right
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

GPS_ORIGIN = datetime(1980, 1, 6, tzinfo=UTC)
WEEK_S = 604_800
# ASPRS LAS 1.4 R15, global encoding: adjusted standard GPS time is GPS seconds less this.
ADJUSTMENT_S = 1_000_000_000
# The list of leap seconds of the IERS, as the IANA time zone database of October 2026 carries it,
# announces none and expires then. Beyond that day nobody knows.
TABLE_END = date(2027, 6, 28)
TABLE_SOURCE = f"IERS list of leap seconds, in force until {TABLE_END.isoformat()}"
# TAI was 19 s ahead of UTC on 1980-01-06 (IERS Bulletin C), where GPS time was at one with UTC.
TAI_AHEAD_S = 19
BEIDOU_BEHIND_S = 14

# First days that began after an inserted second, since 1980 (IERS Bulletin C).
_INSERTED = (
    (1981, 7),
    (1982, 7),
    (1983, 7),
    (1985, 7),
    (1988, 1),
    (1990, 1),
    (1991, 1),
    (1992, 7),
    (1993, 7),
    (1994, 7),
    (1996, 1),
    (1997, 7),
    (1999, 1),
    (2006, 1),
    (2009, 1),
    (2012, 7),
    (2015, 7),
    (2017, 1),
)
_STEPS = tuple(datetime(year, month, 1, tzinfo=UTC) for year, month in _INSERTED)


class TimeScale(StrEnum):
    """The scale that a clock runs in, as records name it.

    Galileo time keeps to GPS time within nanoseconds and GLONASS time to UTC, so they have no names
    of their own here.
    """

    UTC = "UTC"
    GPS = "GPS"
    BEIDOU = "BeiDou"
    TAI = "TAI"
    LOCAL = "local"


def count_leap_seconds(moment: datetime) -> int:
    """Return by how many seconds GPS time is ahead of UTC at a moment, which has a zone."""
    return bisect_right(_STEPS, moment)


def to_gps_s(moment: datetime) -> float:
    """Return the GPS seconds of a moment in UTC, which has a zone."""
    return (moment - GPS_ORIGIN).total_seconds() + count_leap_seconds(moment)


def from_gps_s(seconds: float) -> datetime:
    """Return the moment in UTC of GPS seconds."""
    moment = GPS_ORIGIN + timedelta(seconds=seconds)
    leap = count_leap_seconds(moment)
    leap = count_leap_seconds(moment - timedelta(seconds=leap))
    return moment - timedelta(seconds=leap)


def write_utc(seconds: float) -> str:
    """Return the moment of GPS seconds in UTC and ISO form, to the second before it."""
    return f"{from_gps_s(seconds):%Y-%m-%dT%H:%M:%SZ}"


def find_ahead_s(scale: TimeScale, seconds: float) -> float | None:
    """Return by how much a clock that shows a time is behind GPS time: what has to be added to it.

    Args:
        scale: what the clock runs in.
        seconds: what it shows, counted from the origin of GPS time as if each day had 86 400 s.

    Returns:
        Seconds; None for local time, of which nobody knows.
    """
    if scale is TimeScale.LOCAL:
        return None
    if scale is TimeScale.UTC:
        return float(count_leap_seconds(GPS_ORIGIN + timedelta(seconds=seconds)))
    return {
        TimeScale.GPS: 0.0,
        TimeScale.BEIDOU: float(BEIDOU_BEHIND_S),
        TimeScale.TAI: -float(TAI_AHEAD_S),
    }[scale]
