"""What belongs to one occasion only, and what two flights of one outing share.

Pure rules. Offering the answer of another occasion would invite a wrong Enter. The height of the
base antenna is measured anew at every set-up; within one outing the antenna may stand as it stood,
so there it is offered, in its own question, for a person to look at.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping

from ledger.model.known import KnownValue

ONCE_ONLY = frozenset(
    {
        "flight.base_height",
        "flight.base_height_again",
        "flight.takeoff",
        "flight.landing",
        "flight.capture_started",
        "flight.capture_ended",
        "flight.capture_parts",
        "flight.lines",
        "flight.cross_lines",
        "flight.wind",
        "flight.photo_mount",
        "flight.photo_base",
        "flight.photo_mark",
        "flight.note",
        "run.started",
        "run.purpose",
        "run.decision",
        "run.reason",
        "step.started",
        "step.purpose",
        "step.decision",
        "step.reason",
        "statement.value",
        "statement.count",
        "statement.note",
        "points.file",
        "points.header",
        "points.surveyed",
        "points.note",
    }
)
SAME_OUTING = frozenset({"flight.base_height"})

_TAKEOFF, _LANDING = "flight.takeoff", "flight.landing"
# A working day in any time zone, never the next one; common practice, no source.
_OUTING = dt.timedelta(hours=12)
_DAY = dt.timedelta(days=1)
_CLOCK = re.compile(r"(?P<time>\d{1,2}:\d{2}(:\d{2})?) ?(?P<zone>[Zz]|[+\-]\d{2}:?\d{2})", re.ASCII)

Values = Mapping[str, KnownValue]


def is_same_outing(last: Values, now: Values) -> bool:
    """Say whether two flights took off within twelve hours; false where one does not say.

    Args:
        last: values of the flight before, by field key.
        now: values of this one.
    """
    before, after = _read_moment(last.get(_TAKEOFF)), _read_moment(now.get(_TAKEOFF))
    return before is not None and after is not None and abs(after - before) <= _OUTING


def complete_time(key: str, text: str, answers: Values) -> str:
    """Return the time of a landing with the day of its take-off, where only the clock was typed.

    Args:
        key: key of the field that is answered.
        text: as typed: `14:18Z` or `16:18+02:00`. Anything else is returned as it is.
        answers: what was answered before.

    Returns:
        ISO 8601 with date and offset: the first such time at or after the take-off.
    """
    match = _CLOCK.fullmatch(text.strip())
    takeoff = _read_moment(answers.get(_TAKEOFF))
    if key != _LANDING or match is None or takeoff is None:
        return text
    zone = match["zone"].upper().replace("Z", "+00:00")
    try:
        clock = dt.time.fromisoformat(f"{match['time'].zfill(5)}{zone}")
    except ValueError:  # no time of the day: the reader of answers says so
        return text
    local = takeoff.astimezone(clock.tzinfo)
    landing = dt.datetime.combine(local.date(), clock)
    landing += _DAY if landing < local.replace(second=0, microsecond=0) else dt.timedelta()
    return landing.isoformat()


def tell_occasion(key: str, answers: Values, *, has_default: bool) -> str:
    """Return what a question needs to say of its occasion, in one clause; empty for nothing.

    Args:
        key: key of the field that is asked.
        answers: what was answered before.
        has_default: an answer stands there already.
    """
    if key in SAME_OUTING and has_default:
        return "shown is the height at the flight before: right only if nobody touched the base"
    if key == _LANDING and _TAKEOFF in answers:
        return "the time alone will do, with its offset: 14:18Z"
    return ""


def _read_moment(known: KnownValue | None) -> dt.datetime | None:
    try:
        return None if known is None else dt.datetime.fromisoformat(str(known.value))
    except ValueError:  # finer than this clock: nothing follows from it
        return None
