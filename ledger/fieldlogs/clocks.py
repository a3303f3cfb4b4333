"""What the numbers of a clock mean: seconds since when, in which time scale, on which day.

A number near 1.4e9 may be GPS seconds or Unix seconds, one below 604,800 seconds of a week or of a
day. Where a name does not tell, the reading that lies nearest to the flight is taken, and that says
nothing about the scale: this stays open, and is for whoever compares two clocks.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime

from ledger.dataclass import dataclass
from ledger.model.known import KnownBy, KnownValue
from ledger.model.timescale import (
    ADJUSTMENT_S,
    GPS_ORIGIN,
    WEEK_S,
    TimeScale,
    find_ahead_s,
)

_DAY_S = 86_400
_UNIX_BEFORE_S = (GPS_ORIGIN - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
# Surveys between 2000 and 2060; a clock that shows another year was not set.
_EARLIEST_S = (datetime(2000, 1, 1, tzinfo=UTC) - GPS_ORIGIN).total_seconds()
_LATEST_S = (datetime(2060, 1, 1, tzinfo=UTC) - GPS_ORIGIN).total_seconds()

_WORDS = (
    ("gps", TimeScale.GPS),
    ("utc", TimeScale.UTC),
    ("unix", TimeScale.UTC),
    ("bds", TimeScale.BEIDOU),
    ("beidou", TimeScale.BEIDOU),
)
# Systems of RINEX (3.04, table A2 and section 8.1). GLONASS time is UTC without its three hours.
_RINEX = {
    "GPS": TimeScale.GPS,
    "GAL": TimeScale.GPS,
    "QZS": TimeScale.GPS,
    "IRN": TimeScale.GPS,
    "GLO": TimeScale.UTC,
    "BDT": TimeScale.BEIDOU,
    "BDS": TimeScale.BEIDOU,
}


@dataclass(frozen=True)
class Clock:
    """How the times of a log become GPS seconds.

    Args:
        add_s: what is added to a time as written, seconds.
        scale: time scale and how it is known; None where nothing says: then nothing was added for
            it.
        has_date: the day stands in the log; else it was taken from the flight.
        kind: what the numbers are, in words.
    """

    add_s: float
    scale: KnownValue | None
    has_date: bool
    kind: str


def name_scale(name: str) -> KnownValue | None:
    """Return the time scale that the name of a column tells; None for none, or for two."""
    words = name.lower()
    scales = {scale for word, scale in _WORDS if word in words}
    if len(scales) != 1:
        return None
    return KnownValue(str(scales.pop()), known_by=KnownBy.READ, where=f"column {name}")


def name_rinex_scale(system: str, version: str) -> KnownValue | None:
    """Return the time scale of an observation file.

    Args:
        system: as its header states it, empty for nothing; RINEX 2.11 takes GPS time then.
        version: its version.
    """
    scale = _RINEX.get(system.upper())
    if scale is None and not system and version[:1] == "2":
        scale = TimeScale.GPS
    if scale is None:
        return None
    return KnownValue(str(scale), known_by=KnownBy.READ, where="its header")


def read_clock(
    first: float,
    kind: str,
    scale: KnownValue | None,
    around_s: float | None,
    day: date | None = None,
) -> Clock | None:
    """Return how the times of a log are to be read.

    Args:
        first: its first time as written.
        kind: `number`, `moment` (seconds counted from the origin of GPS time) or `time of day`
            (seconds since a midnight).
        scale: its time scale, as somebody or something tells it; None for nothing.
        around_s: when the flight was, GPS seconds; None where that is not known.
        day: the day of that midnight, where the log tells it.

    Returns:
        None where the day cannot be told.
    """
    if kind == "time of day":
        if day is not None:
            return _scale(first, _count_days(day) * _DAY_S, scale, "time of day", has_date=True)
        return _place(first, _DAY_S, scale, around_s, "time of day")
    if kind == "moment":
        return _scale(first, 0.0, scale, "date and time of day", has_date=True)
    return _read_number(first, scale, around_s)


def _read_number(first: float, scale: KnownValue | None, around_s: float | None) -> Clock | None:
    candidates = [
        (0.0, "GPS seconds"),
        (float(ADJUSTMENT_S), "adjusted GPS seconds"),
        (-_UNIX_BEFORE_S, "Unix seconds"),
    ]
    possible = [(add, name) for add, name in candidates if _EARLIEST_S <= first + add < _LATEST_S]
    whole = [each for each in possible if not (each[0] == ADJUSTMENT_S and first < WEEK_S)]
    if 0 <= first < 2 * WEEK_S and not (
        around_s is not None and _is_near(possible, first, around_s)
    ):
        return _place(first, WEEK_S, scale, around_s, "GPS seconds of the week")
    if not whole:
        return None
    if around_s is not None:
        add, name = min(whole, key=lambda each: abs(first + each[0] - around_s))
    else:
        add, name = _choose(whole, scale)
    return _scale(first, add, scale, name, has_date=True)


def _is_near(possible: list[tuple[float, str]], first: float, around_s: float) -> bool:
    return any(abs(first + add - around_s) < _DAY_S for add, _ in possible)


def _choose(possible: list[tuple[float, str]], scale: KnownValue | None) -> tuple[float, str]:
    """Return the reading that a stated scale speaks for, else the first."""
    wanted = "Unix seconds" if scale is not None and scale.value == TimeScale.UTC else "GPS seconds"
    return next((each for each in possible if each[1] == wanted), possible[0])


def _place(
    first: float, period: int, scale: KnownValue | None, around_s: float | None, kind: str
) -> Clock | None:
    """Return the clock of times that begin anew each day or week: the one nearest to the flight."""
    if around_s is None:
        return None
    turns = math.floor((around_s - first) / period + 0.5)
    return _scale(first, float(turns * period), scale, kind, has_date=False)


def _scale(
    first: float, add: float, scale: KnownValue | None, kind: str, *, has_date: bool
) -> Clock:
    ahead = None if scale is None else find_ahead_s(TimeScale(scale.value), first + add)
    return Clock(add + (ahead or 0.0), scale if ahead is not None else None, has_date, kind)


def _count_days(day: date) -> int:
    return (day - GPS_ORIGIN.date()).days
