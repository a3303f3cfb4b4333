"""What lies between GPS time and UTC.

Source: IERS Bulletin C, as the list of leap seconds in the IANA time zone database gives it (file
leap-seconds.list: seconds of NTP time, since 1900-01-01, and TAI less UTC from then on).
Known: read in a copy.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from ledger.model.timescale import (
    TAI_AHEAD_S,
    TimeScale,
    count_leap_seconds,
    find_ahead_s,
    from_gps_s,
    to_gps_s,
)

NTP_ORIGIN = datetime(1900, 1, 1, tzinfo=UTC)
TAI_LESS_UTC = (
    (2524521600, 19),
    (2571782400, 20),
    (2603318400, 21),
    (2634854400, 22),
    (2698012800, 23),
    (2776982400, 24),
    (2840140800, 25),
    (2871676800, 26),
    (2918937600, 27),
    (2950473600, 28),
    (2982009600, 29),
    (3029443200, 30),
    (3076704000, 31),
    (3124137600, 32),
    (3345062400, 33),
    (3439756800, 34),
    (3550089600, 35),
    (3644697600, 36),
    (3692217600, 37),
)


@pytest.mark.parametrize(("ntp", "ahead"), TAI_LESS_UTC)
def test_every_step(ntp: int, ahead: int) -> None:
    """From each listed moment on the difference is the listed one, and a second less before it."""
    moment = NTP_ORIGIN + timedelta(seconds=ntp)
    assert count_leap_seconds(moment) + TAI_AHEAD_S == ahead
    if ahead > TAI_AHEAD_S:
        assert count_leap_seconds(moment - timedelta(seconds=1)) + TAI_AHEAD_S == ahead - 1


# ASPRS LAS 1.4 R15 states the origin of adjusted time, GPS seconds less 10^9; the moment of
# 10^9 GPS seconds, and the others, follow by the list above.
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1980-01-06T00:00:00+00:00", 0),
        ("2011-09-14T01:46:25+00:00", 1_000_000_000),
        ("2017-01-01T00:00:00+00:00", 1_167_264_018),
        ("2026-01-01T00:00:00+00:00", 1_451_260_818),
    ],
)
def test_there_and_back(text: str, seconds: int) -> None:
    """A moment has its GPS seconds, and they give the moment back."""
    moment = datetime.fromisoformat(text)
    assert to_gps_s(moment) == seconds
    assert from_gps_s(seconds) == moment


def test_scales() -> None:
    """BeiDou time is 14 s behind GPS time, TAI 19 s ahead, UTC 18 s behind, local time unknown."""
    shown = 1_451_260_800.0
    ahead = {scale: find_ahead_s(scale, shown) for scale in TimeScale}
    assert ahead == {"UTC": 18, "GPS": 0, "BeiDou": 14, "TAI": -19, "local": None}
