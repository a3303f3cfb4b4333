"""A capture that is shorter than its flight; limits of 10 s and 60 s are common practice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from made_raw import grade, judge, make_flight, make_job

from ledger.contract.check import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from lidar_checks.lineage.capture_length import CaptureLength

TAKEOFF = datetime(2026, 5, 12, 14, tzinfo=UTC)
LANDING = TAKEOFF + timedelta(minutes=18)


def write(moment: datetime) -> str:
    """Return a moment as a card holds it."""
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


@pytest.mark.parametrize(
    ("late", "early", "expected"),
    [
        (-60, -60, Outcome.CONFORMS),
        (0, 10, Outcome.CONFORMS),
        (10, 0, Outcome.CONFORMS),
        (6, 5, Grade.OBSERVATION),
        (0, 11, Grade.OBSERVATION),
        (0, 60, Grade.OBSERVATION),
        (0, 61, Grade.MAJOR),
        (61, 0, Grade.MINOR),
        (30, 31, Grade.MINOR),
    ],
)
def test_seconds_without_raw_data(late: int, early: int, expected: Grade | Outcome) -> None:
    """What was flown and not captured counts, not the time on the ground."""
    card = make_flight(
        takeoff=write(TAKEOFF),
        landing=write(LANDING),
        capture_started=write(TAKEOFF + timedelta(seconds=late)),
        capture_ended=write(LANDING - timedelta(seconds=early)),
    )
    found = judge(CaptureLength(), make_job(flights=(card,)))["F1"]
    assert grade(found) is expected
    assert found.observed == str(max(0, late) + max(0, early))


def test_missing_times_are_named() -> None:
    """Each time that is not recorded is named, with what to type."""
    card = make_flight(takeoff=write(TAKEOFF), landing=write(LANDING))
    found = judge(CaptureLength(), make_job(flights=(card,)))["F1"]
    assert found.needs == ("flight.capture_started", "flight.capture_ended")
    assert 'swathbook record flight F1 --set capture_started="…"' in found.remedy
    (found,) = judge(CaptureLength(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))


def test_assumed_times_prove_nothing() -> None:
    """A time that was assumed leaves the check open."""
    card = make_flight(
        takeoff=write(TAKEOFF),
        landing=write(LANDING),
        capture_started=write(TAKEOFF),
    )
    guessed = KnownValue(write(LANDING), known_by=KnownBy.ASSUMED, confirmed=False)
    values = {**card.values, "flight.capture_ended": guessed}
    evidence = make_job(flights=(type(card)("F1", "", 1, "", "", values),))
    assert grade(judge(CaptureLength(), evidence)["F1"]) is Outcome.INCONCLUSIVE
