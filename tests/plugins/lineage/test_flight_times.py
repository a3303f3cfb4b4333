"""Times of capture and logs against the flight; overlap limits are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from made_raw import grade, judge, make_flight, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from ledger.model.jobrecords import RawFile
from lidar_checks.lineage.flight_times import FlightTimes

# 1,000 s, so that one per mille is a second.
FLIGHT = {"takeoff": "2026-05-12T14:00:00Z", "landing": "2026-05-12T14:16:40Z"}


def make_base(first: str, last: str, flight: str = "F1", system: str = "GPS") -> RawFile:
    """Return an observation file of a base with these epochs."""
    facts = {"first_epoch": first, "last_epoch": last, "time_system": system}
    return make_raw(f"raw/{first[:13]}.obs", "base-log", flight, facts=facts)


def make_sentences(first: str, last: str, date: str = "2026-05-12", nights: int = 0) -> RawFile:
    """Return a flight log with these times of day."""
    facts: dict[str, Any] = {"first_time": first, "last_time": last, "midnights": nights}
    return make_raw("raw/log.txt", "flight-log", facts=facts | ({"date": date} if date else {}))


@pytest.mark.parametrize(
    ("end", "expected"),
    [
        ("2026-05-12T14:16:40Z", Outcome.CONFORMS),
        ("2026-05-12T14:15:50Z", Outcome.CONFORMS),  # 950 of 1,000 s
        ("2026-05-12T14:15:49Z", Grade.MINOR),
    ],
)
def test_a_capture_covers_95_percent(end: str, expected: Grade | Outcome) -> None:
    """Just inside and just outside of the share."""
    card = make_flight(**FLIGHT, capture_started="2026-05-12T13:59:00Z", capture_ended=end)
    found = judge(FlightTimes(), make_job(flights=(card,)))["F1 capture"]
    assert grade(found) is expected
    if expected is Grade.MINOR:
        assert "94.9%" in found.observed
        assert found.catalogue == ("RC-10", "GN-07")


def test_gps_time_is_ahead_of_utc_by_18_seconds() -> None:
    """IERS Bulletin C 52: GPS less UTC is 18 s since 2017. 32 s too early in UTC is 50 s in GPS."""
    for system, last, expected in (
        ("GPS", "2026-05-12T14:16:08", Outcome.CONFORMS),
        ("GPS", "2026-05-12T14:16:07", Grade.MINOR),
        ("GLO", "2026-05-12T14:15:50", Outcome.CONFORMS),
        ("GLO", "2026-05-12T14:15:49", Grade.MINOR),
    ):
        base = make_base("2026-05-12T13:00:00", last, system=system)
        evidence = make_job(base, flights=(make_flight(**FLIGHT),))
        assert grade(judge(FlightTimes(), evidence)["F1 base log"]) is expected


def test_a_log_of_another_day_is_major_and_names_its_flight() -> None:
    """No second in common: the log belongs to another flight, which is told where it fits."""
    other = make_flight("F2", takeoff="2026-05-13T10:00:00Z", landing="2026-05-13T10:10:00Z")
    base = make_base("2026-05-13T09:50:00", "2026-05-13T10:20:00")
    evidence = make_job(base, flights=(make_flight(**FLIGHT), other))
    found = judge(FlightTimes(), evidence)["F1 base log"]
    assert (grade(found), found.catalogue) == (Grade.MAJOR, ("RC-10", "GN-08"))
    assert found.sentence.endswith("0% of the flight is covered (limit 95%); it covers F2.")


def test_a_base_log_of_no_flight_is_minor() -> None:
    """A log that nobody gave to a flight may be of another one: nobody said that it was used."""
    base = make_base("2026-05-13T09:50:00", "2026-05-13T10:20:00", flight="")
    evidence = make_job(base, flights=(make_flight(**FLIGHT),))
    assert grade(judge(FlightTimes(), evidence)["F1 base log"]) is Grade.MINOR


def test_parts_of_a_log_count_together() -> None:
    """Two files that abut cover as one; what they have in common counts once."""
    first = make_base("2026-05-12T13:00:00", "2026-05-12T14:10:00")
    second = make_base("2026-05-12T14:09:00", "2026-05-12T15:00:00")
    evidence = make_job(first, second, flights=(make_flight(**FLIGHT),))
    assert judge(FlightTimes(), evidence)["F1 base log"].observed == "100.0%"


def test_a_clock_in_local_time_is_told() -> None:
    """A log that fits after whole hours was written in local time."""
    log = make_sentences("10:00:00.00", "10:16:40.00")
    found = judge(FlightTimes(), make_job(log, flights=(make_flight(**FLIGHT),)))["F1 flight log"]
    assert grade(found) is Grade.MAJOR
    assert "moved by +4 h it would cover the flight, as a clock in local time" in found.sentence


def test_a_log_without_a_day_proves_none() -> None:
    """Sentences with times of day alone fit every day: inconclusive, and a fault all the same."""
    card = make_flight(**FLIGHT)
    fits = make_sentences("13:59:00.00", "14:20:00.00", date="")
    found = judge(FlightTimes(), make_job(fits, flights=(card,)))["F1 flight log"]
    assert (grade(found), "GN-13" in found.catalogue) == (Outcome.INCONCLUSIVE, True)
    off = make_sentences("02:00:00.00", "02:20:30.00", date="")
    assert grade(judge(FlightTimes(), make_job(off, flights=(card,)))["F1 flight log"]) is (
        Grade.MAJOR
    )


def test_of_several_logs_the_one_without_a_day_is_named() -> None:
    """A log whose sentences tell the day is not said to tell none because another one does not."""
    told = make_sentences("13:59:00.00", "14:10:00.00")
    silent = make_sentences("14:09:00.00", "14:20:00.00", date="")
    silent = replace(silent, file=replace(silent.file, path="raw/silent.txt"))
    evidence = make_job(told, silent, flights=(make_flight(**FLIGHT),))
    found = judge(FlightTimes(), evidence)["F1 flight log"]
    assert grade(found) is Outcome.INCONCLUSIVE
    clause = found.sentence.partition("; ")[2]
    assert "silent.txt" in clause
    assert "log.txt" not in clause


def test_a_log_over_midnight() -> None:
    """A night flight of which the log states the day of its begin."""
    card = make_flight(takeoff="2026-05-12T23:55:00Z", landing="2026-05-13T00:05:00Z")
    log = make_sentences("23:50:00.00", "00:10:00.00", nights=1)
    found = judge(FlightTimes(), make_job(log, flights=(card,)))["F1 flight log"]
    assert grade(found) is Outcome.CONFORMS


def test_missing_times_are_named() -> None:
    """Without take-off, or without any time to hold against it, the check is not assessed."""
    (found,) = judge(FlightTimes(), make_job(flights=(make_flight(),))).values()
    assert (found.outcome, found.needs[0]) == (Outcome.NOT_ASSESSED, "flight.takeoff")
    (found,) = judge(FlightTimes(), make_job(flights=(make_flight(**FLIGHT),))).values()
    assert (found.outcome, found.needs[0]) == (Outcome.NOT_ASSESSED, "flight.capture_started")
    (found,) = judge(FlightTimes(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))
