"""Dates of headers: not stated, impossible, before the version or the flight.

Day of year and year by ASPRS LAS 1.4 R15, file creation; 2024 was a leap year, 2026 is none.
"""

from __future__ import annotations

import pytest

from ledger.model.finding import Grade, Outcome
from ledger.model.process import Card
from ledger.testing.books import known
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.header_date import HeaderDate


def judge(file, *takeoffs):
    """Return the findings about a file, with flights that took off then."""
    flights = tuple(
        Card(f"F{n}", "", 0, "", "", {"flight.takeoff": known(each)})
        for n, each in enumerate(takeoffs, 1)
    )
    return drive_check(HeaderDate(), make_evidence(file, flights=flights))


def make(delivered, day, year, **header):
    """Return a file created on that day."""
    return delivered(header={"creation_day": day, "creation_year": year, **header})


@pytest.mark.parametrize(
    ("day", "year", "words"),
    [
        (0, 0, "does not say when"),
        (366, 2026, "on day 366 of 2026"),
        (366, 2024, ""),
        (365, 2026, ""),
        (0, 2026, "on day 0 of 2026"),
        (6, 1980, "before there was LAS 1.4"),
        (304, 2011, "before there was LAS 1.4"),
        (305, 2011, ""),
    ],
)
def test_a_date_that_cannot_be_is_a_remark(delivered, day, year, words):
    """Blank, beyond the year, or before the version was there; just beside each it conforms."""
    (finding,) = judge(make(delivered, day, year))
    assert finding.grade is (Grade.OBSERVATION if words else None)
    assert words in finding.sentence


@pytest.mark.parametrize(("day", "is_odd"), [(130, True), (131, False), (132, False), (300, False)])
def test_a_date_before_the_flight_is_a_remark(delivered, day, is_odd):
    """Flown on 12 May 2026, day 132: a day early may be the clock of the place; later is fine."""
    (finding,) = judge(make(delivered, day, 2026), "2026-05-12T14:00:00Z", "2026-05-20T14:00:00Z")
    assert (finding.grade is Grade.OBSERVATION) is is_odd
    assert ("before the first flight on 2026-05-12" in finding.sentence) is is_odd


def test_week_seconds_need_a_week(delivered):
    """Bit 0 clear, and no flight says when: the times belong to any week."""
    file = make(delivered, 134, 2026, global_encoding=16)
    (finding,) = judge(file)
    assert "seconds of the week" in finding.sentence
    assert finding.grade is Grade.OBSERVATION
    assert judge(file, "2026-05-12T14:00:00Z")[0].outcome is Outcome.CONFORMS
    untimed = make(delivered, 134, 2026, global_encoding=0, point_format=2, record_length=26)
    assert judge(untimed)[0].outcome is Outcome.CONFORMS


def test_a_take_off_that_is_no_time_says_nothing(delivered):
    """What cannot be read as a time is passed over."""
    assert judge(make(delivered, 134, 2026), "in May")[0].outcome is Outcome.CONFORMS
