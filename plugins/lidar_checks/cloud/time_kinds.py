"""What kind of GPS time a number can be.

Source: ASPRS LAS 1.4 R15, global encoding: seconds of the GPS week, or GPS seconds since
1980-01-06T00:00:00Z minus 10^9 (adjusted standard). A GPS week has 604 800 seconds.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from enum import StrEnum

GPS_ORIGIN = datetime(1980, 1, 6, tzinfo=UTC)
WEEK_SECONDS = 604_800.0
ADJUSTMENT = 1_000_000_000.0


class TimeKind(StrEnum):
    """The kinds, by the numbers they can have."""

    WEEK = "seconds of the week"
    ADJUSTED = "adjusted standard time"
    UNADJUSTED = "GPS seconds"
    ABSURD = "no time"


def find_kind(seconds: float) -> TimeKind:
    """Return the only kind that a value can be, for surveys between 1980 and 2043.

    Adjusted times of the week from 2011-09-14 look like seconds of the week, and are taken so.
    """
    if not math.isfinite(seconds) or not -ADJUSTMENT <= seconds < 2 * ADJUSTMENT:
        return TimeKind.ABSURD
    if 0 <= seconds <= WEEK_SECONDS:
        return TimeKind.WEEK
    return TimeKind.ADJUSTED if seconds < ADJUSTMENT else TimeKind.UNADJUSTED


def describe_span(first: float, last: float) -> str:
    """Return a span of times as text: numbers, and days where the kind gives them."""
    kind = find_kind(first)
    shown = f"{first:.3f} to {last:.3f} s"
    if kind is not find_kind(last) or kind not in {TimeKind.ADJUSTED, TimeKind.UNADJUSTED}:
        return shown
    days = sorted({_compute_day(first, kind), _compute_day(last, kind)})
    return f"{shown}, GPS day {' to '.join(days)}"


def _compute_day(seconds: float, kind: TimeKind) -> str:
    since = seconds + (ADJUSTMENT if kind is TimeKind.ADJUSTED else 0.0)
    return (GPS_ORIGIN + timedelta(seconds=since)).date().isoformat()
