"""Whether a record was made long after what it is about: then it was remembered, not observed.

Pure rules. That a record is late is a fact beside it and no fault by itself: an old job may be
written down afterwards. Times of files are those of their last writing, which a copy may renew; the
day in the headers of point files stands in for it, with more patience, because some programs write
the day of the capture there. (How long is long: common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from ledger.model.artefact import FileRecord
from ledger.model.known import KnownValue
from ledger.model.moments import from_file_time, read_moment
from ledger.model.process import Process

LATE_AFTER = timedelta(hours=24)
LATE_AFTER_HEADER_DAY = timedelta(days=7)

_DAYS_TOLD = timedelta(days=2)


def measure_delay(time: str, files: Iterable[FileRecord]) -> timedelta | None:
    """Return how long after the newest of some files something was entered.

    Args:
        time: when it was entered, UTC, RFC 3339.
        files: the files; those without a time are left out.

    Returns:
        The time between; below zero for a file that is newer. None where no file has a time.
    """
    newest = find_newest(files)
    return None if newest is None else read_moment(time) - newest


def find_newest(files: Iterable[FileRecord]) -> datetime | None:
    """Return when the newest of some files was written; None where none has a time."""
    times = [from_file_time(file.mtime_ns) for file in files if file.mtime_ns]
    return max((time for time in times if time is not None), default=None)


def describe_late_process(process: Process) -> str:
    """Return how late a run or step was recorded, in one clause; empty where it was not."""
    files = [output.file for output in process.outputs]
    delay = measure_delay(process.time, files)
    if delay is not None and delay > LATE_AFTER:
        return f"{_write(delay)} after its newest file was written"
    day = _find_header_day(files) if process.kind == "run" else None
    if day is None:
        return ""
    delay = read_moment(process.time) - (day + timedelta(days=1))  # from its end
    if delay <= LATE_AFTER_HEADER_DAY:
        return ""
    return f"{_write(delay)} after the day in the headers of its files, {day:%Y-%m-%d}"


def describe_late_flight(
    time: str, values: Mapping[str, KnownValue], files: Iterable[FileRecord]
) -> str:
    """Return how late a field card was filled in, in one clause; empty where it was not.

    Args:
        time: when it was filled in first, UTC; empty while it is not.
        values: what it says.
        files: the raw files of the flight.
    """
    if not time:
        return ""
    landing = values.get("flight.landing", values.get("flight.takeoff"))
    if landing is not None:
        delay = read_moment(time) - datetime.fromisoformat(str(landing.value))
        told = "landing" if "flight.landing" in values else "take-off"
        return f"{_write(delay)} after {told}" if delay > LATE_AFTER else ""
    measured = measure_delay(time, files)
    if measured is None or measured <= LATE_AFTER:
        return ""
    return f"{_write(measured)} after its newest raw file was written"


def _find_header_day(files: Iterable[FileRecord]) -> datetime | None:
    """Return the latest day that headers name; None where none does."""
    days = []
    for file in files:
        try:
            text = str(file.facts.get("created", ""))
            day = datetime.strptime(f"{text} +0000", "%Y-%j %z")
        except ValueError:  # not set, or beyond the calendar
            continue
        if text.startswith(f"{day.year}-"):  # day 366 of a year that has none is no day
            days.append(day)
    return max(days) if days else None


def _write(delay: timedelta) -> str:
    if delay < _DAYS_TOLD:
        return f"{delay / timedelta(hours=1):.0f} hours"
    return f"{delay / timedelta(days=1):.1f} days"
