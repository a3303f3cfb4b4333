"""A bracket that was changed while the numbers of its lever arm were not.

The failure is common practice of the trade, no source: new legs or a new plate, old numbers.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from made_records import RIG, Records

from ledger.model.finding import Grade, Outcome
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.rig import RigState, record_again
from ledger.testing.driver import drive_check
from lidar_checks.settings.bracket_change import BracketChange

OTHER_ARM = ["0.120", "-0.030", "0.310"]


def judge(records: Records, *again: dict[str, Any], takeoff: str | None = "2026-06-15T09:00:00Z"):
    """Return the finding about a rig that was recorded again on the 1st of each next month."""
    first = {**RIG, "rig.lever_arm_measured": "2026-01-01"}
    states: tuple[RigState, ...] = ()
    for month, given in enumerate((first, *again), 1):
        known = {key: KnownValue(value) for key, value in given.items()}
        states = record_again(states, known, month, f"2026-{month:02d}-01T08:00:00Z", "technician")
    records.rig().flight(changes={"flight.takeoff": takeoff})
    records.rigs = [replace(records.rigs[0], values=states[-1].values, states=states)]
    records.process("R1").deliver("tile.las", "R1")
    (finding,) = drive_check(BracketChange(), records.evidence())
    return finding


def test_a_new_bracket_with_the_old_arm_is_told(records):
    """An observation: the arm may be the same, and nobody measured whether it is."""
    finding = judge(records, {"rig.bracket": "B-2"})
    assert (finding.outcome, finding.grade) == (Outcome.NONCONFORMING, Grade.OBSERVATION)
    assert finding.subject == "F1"
    assert "bracket B-2 of G1" in finding.sentence
    assert "the one of bracket B-1, measured 2026-01-01" in finding.sentence
    assert "swathbook record rig G1" in finding.remedy


@pytest.mark.parametrize(
    "again",
    [
        (),
        ({"rig.scanner_serial": "SU-08"},),
        ({"rig.bracket": "B-2", "rig.lever_arm_aircraft": OTHER_ARM},),
        ({"rig.bracket": "B-2", "rig.lever_arm_measured": "2026-02-01"},),
        # Measured afterwards: what was typed first was only late.
        ({"rig.bracket": "B-2"}, {"rig.lever_arm_measured": "2026-03-01"}),
        ({"rig.bracket": "B-2"}, {"rig.lever_arm_aircraft": OTHER_ARM}),
    ],
)
def test_an_arm_of_its_own_conforms(records, again):
    """Another arm, or one that was measured anew and found the same."""
    assert judge(records, *again).outcome is Outcome.CONFORMS


def test_a_bracket_that_came_after_the_flight_is_none_of_its(records):
    """The flight was flown with the bracket that the arm belongs to."""
    finding = judge(records, {"rig.bracket": "B-2"}, takeoff="2026-01-15T09:00:00Z")
    assert finding.outcome is Outcome.CONFORMS


def test_a_later_alteration_does_not_make_the_arm_right(records):
    """Another scanner under the new bracket: the arm is still that of the old one."""
    finding = judge(records, {"rig.bracket": "B-2"}, {"rig.scanner_serial": "SU-08"})
    assert finding.outcome is Outcome.NONCONFORMING
    assert "bracket B-2 since 2026-02-01" in finding.observed


def test_a_blank_bracket_or_rig_is_not_assessed(records):
    """Nobody can say whether something was changed that was never told."""
    records.rig(changes={"rig.bracket": None}).flight().process("R1").deliver("tile.las", "R1")
    (finding,) = drive_check(BracketChange(), records.evidence())
    assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("rig.bracket",))
    records.rigs = []
    (finding,) = drive_check(BracketChange(), records.evidence())
    assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("flight.rig",))
    records.flights = []
    (finding,) = drive_check(BracketChange(), records.evidence())
    assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("records",))


def test_a_change_that_may_have_been_before_the_flight_is_told_as_open(records):
    """Altered on the day of the flight, and altered back: which one flew is not known."""
    finding = judge(
        records,
        {"rig.bracket": "B-2"},
        {"rig.bracket": "B-1", "rig.lever_arm_measured": "2026-03-01"},
        takeoff=None,
    )
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert finding.needs == ("flight.takeoff",)


@pytest.mark.parametrize(
    ("older", "newer", "told"),
    [
        ({}, {"rig.bracket": "B-2"}, True),
        ({}, {}, False),
        ({}, {"rig.bracket": "B-2", "rig.lever_arm_aircraft": OTHER_ARM}, False),
        (
            {"rig.lever_arm_measured": "2026-01-01"},
            {"rig.bracket": "B-2", "rig.lever_arm_measured": "2026-02-01"},
            False,
        ),
        ({"rig.scanner_serial": "SU-08"}, {"rig.bracket": "B-2"}, False),
        ({"rig.aircraft_serial": "AC-1"}, {"rig.bracket": "B-2"}, True),
        (
            {"rig.aircraft_serial": "AC-1"},
            {"rig.bracket": "B-2", "rig.aircraft_serial": "AC-2"},
            False,
        ),
    ],
)
def test_a_new_bracket_under_a_new_name_is_told_too(records, older, newer, told):
    """The same scanner and aircraft entered as a rig of its own, with the arm of the old one."""
    records.rig("G1", changes=older).rig("G2", changes=newer)
    records.flight(changes={"flight.rig": "G2"}).process("R1").deliver("tile.las", "R1")
    records.job = JobRecords(rigs=tuple(records.rigs))
    (finding,) = drive_check(BracketChange(), records.evidence())
    assert (finding.grade is Grade.OBSERVATION) is told
    if told:
        assert "bracket B-2 of G2, and the lever arm on record is the one of bracket B-1" in (
            finding.sentence
        )
