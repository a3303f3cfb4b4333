"""What a lag between two clocks comes from.

Sources: IERS Bulletin C for the seconds between TAI, GPS time and UTC on a day; BDS-SIS-ICD for the
14 s of BeiDou time; time zones are whole or half hours, common practice.
"""

from __future__ import annotations

from datetime import datetime

from ledger.dataclass import dataclass
from ledger.model.timescale import BEIDOU_BEHIND_S, TAI_AHEAD_S, count_leap_seconds

_NEAR_S = 0.5
_HALF_HOUR_S = 1800
_MOST_ZONE_S = 14 * 3600


@dataclass(frozen=True)
class LagName:
    """Two scales, and the seconds between them.

    Args:
        seconds: what they differ by on that day.
        words: a clause that names them.
    """

    seconds: float
    words: str


def name_lag(lag_s: float, day: datetime) -> LagName | None:
    """Return the time scales that differ by a lag, on a day; None where none does.

    Args:
        lag_s: seconds, of either sign.
        day: when it was, with a zone.
    """
    leap = count_leap_seconds(day)
    pairs = (
        (leap, "one is UTC, the other GPS time"),
        (BEIDOU_BEHIND_S, "one is GPS time, the other BeiDou time"),
        (leap - BEIDOU_BEHIND_S, "one is UTC, the other BeiDou time"),
        (TAI_AHEAD_S, "one is GPS time, the other TAI"),
        (leap + TAI_AHEAD_S, "one is UTC, the other TAI"),
    )
    size = abs(lag_s)
    near = [(abs(size - seconds), seconds, words) for seconds, words in pairs]
    best = min(near)
    if best[0] <= _NEAR_S:
        return LagName(best[1], best[2])
    return _name_zone(lag_s, leap)


def _name_zone(lag_s: float, leap: int) -> LagName | None:
    """Return the time zone, with or without the seconds between GPS time and UTC."""
    for seconds, besides in ((0, ""), (leap, " and by the seconds between GPS time and UTC")):
        for sign in (1, -1):
            rest = lag_s - sign * seconds
            halves = round(rest / _HALF_HOUR_S)
            size = abs(halves) * _HALF_HOUR_S
            if halves and size <= _MOST_ZONE_S and abs(rest - halves * _HALF_HOUR_S) <= _NEAR_S:
                hours = f"{abs(halves) / 2:g} h"
                return LagName(abs(lag_s), f"one clock ran in local time, {hours} off{besides}")
    return None
