"""Times as entries and file systems give them, turned into moments.

Light: no library beyond the standard one.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LEAP_SECOND = ":60Z"


def read_moment(text: str) -> datetime:
    """Return the moment of a time in UTC as entries have it.

    A leap second (RFC 3339, section 5.7) is taken for the one after it, as the system's clock does.

    Raises:
        ValueError: it is none.
    """
    late = text.endswith(_LEAP_SECOND)
    moment = datetime.fromisoformat(text.replace(_LEAP_SECOND, ":59Z") if late else text)
    if moment.tzinfo is None:
        raise ValueError("a time without its zone")
    return moment + timedelta(seconds=1) if late else moment


def from_file_time(mtime_ns: int) -> datetime | None:
    """Return when a file was written, UTC; None for a time beyond the calendar.

    A damaged file system may say any year.

    Args:
        mtime_ns: modification time, nanoseconds since 1970.
    """
    try:
        return _EPOCH + timedelta(microseconds=mtime_ns // 1000)
    except OverflowError:
        return None
