"""Photos of the set-up and a measured arm; three photos are common practice, no source."""

from __future__ import annotations

import pytest
from made_raw import grade, judge, make_flight, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from lidar_checks.lineage.setup_record import SetupRecord

DAY = KnownValue("2026-04-02")
RIG = Card("G1", "", 2, "", "", {"rig.lever_arm_measured": DAY})


@pytest.mark.parametrize(
    ("photos", "expected"), [(0, Grade.OBSERVATION), (2, Grade.OBSERVATION), (3, Outcome.CONFORMS)]
)
def test_photos_of_the_flight_count(photos: int, expected: Grade | Outcome) -> None:
    """Registered with the flight; those of another flight do not count."""
    raw = [make_raw(f"raw/{number}.png", "photo") for number in range(photos)]
    strange = make_raw("raw/x.png", "photo", flight="F2")
    evidence = make_job(*raw, strange, flights=(make_flight(rig="G1"),), rigs=(RIG,))
    found = judge(SetupRecord(), evidence)["F1"]
    assert (grade(found), found.catalogue) == (expected, ("RC-12",))


def test_photos_on_the_card_count_once() -> None:
    """A photo that is registered and named on the card is one photo."""
    raw = [make_raw("raw/a.png", "photo", sha256="a" * 64)]
    card = make_flight(rig="G1", photo_mount="a" * 64, photo_base="b" * 64, photo_mark="c" * 64)
    evidence = make_job(*raw, flights=(card,), rigs=(RIG,))
    assert "has 3 photos" in judge(SetupRecord(), evidence)["F1"].sentence


def test_an_arm_has_a_day() -> None:
    """Without rig or day it is told; a carried day that nobody confirmed leaves it open."""
    raw = [make_raw(f"raw/{number}.png", "photo") for number in range(3)]
    card = make_flight(rig="G1")
    carried = KnownValue("2026-04-02", known_by=KnownBy.CARRIED, confirmed=False)
    unsure = Card("G1", "", 2, "", "", {"rig.lever_arm_measured": carried})
    for rigs, expected in (
        ((), Grade.OBSERVATION),
        ((Card("G1", "", 2, "", ""),), Grade.OBSERVATION),
        ((unsure,), Outcome.INCONCLUSIVE),
    ):
        found = judge(SetupRecord(), make_job(*raw, flights=(card,), rigs=rigs))["F1"]
        assert grade(found) is expected


def test_without_a_flight_nothing_is_said() -> None:
    """No flight behind the files, no answer."""
    (found,) = judge(SetupRecord(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))
