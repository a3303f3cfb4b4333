"""When flights, captures and logs were, read from cards and from what files say of themselves.

All spans are in UTC. GPS time is ahead of UTC by 18 s since 1 January 2017 (IERS Bulletin C 52, and
no leap second since); a log in GPS time is set back by that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord, Role
from ledger.model.known import KnownValue
from ledger.model.process import Card

GPS_AHEAD = timedelta(seconds=18)
_DAY = timedelta(days=1)
_ZONES = range(-12, 15)


@dataclass(frozen=True)
class Span:
    """A time from begin to end, UTC.

    Args:
        begin: first moment.
        end: last moment, not before it.
        has_date: the day was stated, and not taken from the flight.
    """

    begin: datetime
    end: datetime
    has_date: bool = True

    @property
    def seconds(self) -> float:
        """Return its length in seconds."""
        return (self.end - self.begin).total_seconds()

    def describe(self) -> str:
        """Return it as `2026-05-12 14:00:00 to 14:18:00 UTC`."""
        last = f"{self.end:%H:%M:%S}"
        if self.end.date() != self.begin.date():
            last = f"{self.end:%Y-%m-%d %H:%M:%S}"
        return f"{self.begin:%Y-%m-%d %H:%M:%S} to {last} UTC"

    def shift(self, by: timedelta) -> Span:
        """Return the same at another time."""
        return Span(self.begin + by, self.end + by, self.has_date)


def measure_share(whole: Span, parts: Iterable[Span]) -> float:
    """Return which share of a span others cover together, 0 to 1; each moment counts once."""
    covered, reached = 0.0, whole.begin
    for part in sorted(parts, key=lambda part: part.begin):
        begin, end = max(part.begin, reached), min(part.end, whole.end)
        if end > begin:
            covered += (end - begin).total_seconds()
            reached = end
    return covered / whole.seconds if whole.seconds else 0.0


def find_zone(flight: Span, log: Span, least: float) -> int:
    """Return by how many whole hours a log has to be moved to cover a flight; 0 for none."""
    for hours in sorted(_ZONES, key=abs):
        if hours and measure_share(flight, [log.shift(timedelta(hours=hours))]) >= least:
            return hours
    return 0


def read_flight(card: Card) -> Span | None:
    """Return take-off to landing; None where one of them is not recorded, or not in order."""
    return _read_values(card.values, "flight.takeoff", "flight.landing")


def read_capture(card: Card) -> Span | None:
    """Return begin to end of the capture; None where one is not recorded, or not in order."""
    return _read_values(card.values, "flight.capture_started", "flight.capture_ended")


def _read_values(values: Mapping[str, KnownValue], first: str, last: str) -> Span | None:
    known = [values.get(first), values.get(last)]
    times = [_read_time(str(each.value)) for each in known if each is not None]
    return _make(times, has_date=True)


def read_log(file: FileRecord, flight: Span) -> Span | None:
    """Return when a log begins and ends, by its own facts; None where it does not say.

    Args:
        file: a base log or a flight log.
        flight: gives the day of a log that states times of day alone.
    """
    if file.role == Role.BASE_LOG:
        return _read_base_log(file.facts)
    return _read_sentences(file.facts, flight)


def _read_base_log(facts: Mapping[str, object]) -> Span | None:
    names = ("first_epoch", "last_epoch") if "last_epoch" in facts else ("header_first",)
    if names == ("header_first",):
        names = ("header_first", "header_last")
    span = _make([_read_time(str(facts.get(name, ""))) for name in names], has_date=True)
    is_gps = str(facts.get("time_system", "GPS") or "GPS") in ("GPS", "GAL", "QZS")
    return span.shift(-GPS_AHEAD) if span is not None and is_gps else span


def _read_sentences(facts: Mapping[str, object], flight: Span) -> Span | None:
    first, last = (str(facts.get(name, "")) for name in ("first_time", "last_time"))
    if not (first and last):
        return None
    date = str(facts.get("date", ""))
    day = date or f"{flight.begin:%Y-%m-%d}"
    begin, end = _read_time(f"{day}T{first}"), _read_time(f"{day}T{last}")
    if begin is None or end is None:
        return None
    nights = facts.get("midnights", 0)
    end += _DAY * (nights if isinstance(nights, int) else 0)
    return _make([begin, end], has_date=bool(date))


def _make(times: list[datetime | None], *, has_date: bool) -> Span | None:
    if len(times) != 2 or times[0] is None or times[1] is None or times[1] < times[0]:
        return None
    return Span(times[0], times[1], has_date)


def _read_time(text: str) -> datetime | None:
    """Return a moment; one without a zone is taken as UTC. None for what is no time."""
    try:
        read = datetime.fromisoformat(text)
    except ValueError:
        return None
    return read if read.tzinfo is not None else read.replace(tzinfo=UTC)
