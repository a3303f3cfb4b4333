"""The lever arm of a run against the measured one, in whatever axes each is written.

The three conventions are right-handed axis orders of the trade; one arm is worked out by hand in
each of them.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from made_records import RIG

from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownValue
from ledger.model.rig import record_again
from ledger.testing.driver import drive_check
from lidar_checks.settings.conditions import Answer, Values, arm_as_measured
from lidar_checks.settings.lever_arm_chain import LeverArmChain

# One arm, 0.1 m forward, 0.2 m to the right and 0.3 m down, in each convention.
ARM = {
    "forward-right-down": ["0.1", "0.2", "0.3"],
    "forward-left-up": ["0.1", "-0.2", "-0.3"],
    "right-forward-up": ["0.2", "0.1", "-0.3"],
}


def compare(used, measured, used_axes="", measured_axes=""):
    """Return what the condition says of two arms."""
    values = {"run.lever_arm": used, "rig.lever_arm": measured}
    if used_axes:
        values["run.lever_arm_convention"] = used_axes
    if measured_axes:
        values["rig.lever_arm_convention"] = measured_axes
    return arm_as_measured(Values(values, Decimal("0.01")))


def find(evidence, *ids, criteria=None):
    """Return the finding of the rule with these ids."""
    found = drive_check(LeverArmChain(), evidence, criteria=criteria)
    return next(f for f in found if f.catalogue == ids)


@pytest.mark.parametrize("one", ARM)
@pytest.mark.parametrize("other", ARM)
def test_one_arm_is_the_same_in_all_axes(one, other):
    """An arm agrees with itself however its axes are named."""
    assert compare(ARM[one], ARM[other], one, other) is Answer.HOLDS


@pytest.mark.parametrize("one", ARM)
@pytest.mark.parametrize("other", ARM)
def test_equal_numbers_in_other_axes_are_another_arm(one, other):
    """The same three numbers under two conventions are two arms."""
    expected = Answer.HOLDS if one == other else Answer.BROKEN
    assert compare(ARM[one], ARM[one], one, other) is expected


def test_one_step_beyond_the_tolerance_is_broken():
    """The tolerance is inclusive along each axis, and counted exactly."""
    axes = "forward-right-down"
    assert compare(["0.11", "0.2", "0.3"], ARM[axes], axes, axes) is Answer.HOLDS
    assert compare(["0.1101", "0.2", "0.3"], ARM[axes], axes, axes) is Answer.BROKEN


def test_unnamed_axes_that_would_fit_are_unclear():
    """Numbers that only agree in other axes are neither right nor wrong while axes are blank."""
    frd, flu = ARM["forward-right-down"], ARM["forward-left-up"]
    assert compare(frd, flu, "", "forward-left-up") is Answer.UNCLEAR
    assert compare(frd, flu) is Answer.UNCLEAR
    assert compare(["0.1", "0.2", "0.9"], flu) is Answer.BROKEN


def test_what_is_no_arm_is_unclear():
    """Text, two numbers or not-a-number never count as an arm."""
    for odd in ("0.1 0.2 0.3", ["0.1", "0.2"], ["a", "b", "c"], ["NaN", "0", "0"]):
        assert compare(odd, ARM["forward-left-up"]) is Answer.UNCLEAR


def test_blank_axes_leave_an_equal_arm_inconclusive(one_run):
    """Equal numbers prove little while nobody wrote down the axes; the blank is named."""
    finding = find(one_run({"run.lever_arm_convention": None}), "SC-09", "MB-04")
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert finding.needs == ("run.lever_arm_convention",)


def test_the_scanner_arm_counts_for_scanner_positions(one_run):
    """A run on the scanner's antenna is compared with the arm measured from that antenna."""
    changes = {
        "run.lever_arm_from": "scanner antenna",
        "run.lever_arm": ["0.010", "0.000", "0.080"],
    }
    assert find(one_run(changes), "SC-09", "MB-04").outcome is Outcome.CONFORMS
    blank = find(one_run(changes | {"rig.lever_arm_scanner": None}), "SC-09", "MB-04")
    assert blank.outcome is Outcome.NOT_ASSESSED
    assert blank.needs == ("rig.lever_arm_scanner",)


def test_a_rig_that_is_not_named_or_not_there_is_not_assessed(one_run):
    """Without the rig of the flight no arm can be compared."""
    unnamed = find(one_run({"flight.rig": None}), "SC-09", "MB-04")
    assert unnamed.needs == ("flight.rig",)
    unknown = find(one_run({"flight.rig": "G7"}), "SC-09", "MB-04")
    assert unknown.outcome is Outcome.NOT_ASSESSED
    assert unknown.needs == ("rig.lever_arm_aircraft",)


def test_an_assumed_rig_never_proves_an_arm(one_run, assumed):
    """Where it is only assumed which rig was flown, an equal arm is inconclusive."""
    finding = find(one_run({"flight.rig": assumed("G1")}), "SC-09", "MB-04")
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_the_tolerance_is_a_criterion(one_run):
    """The job may ask for less or more than a centimetre."""
    evidence = one_run({"run.lever_arm": ["0.120", "-0.030", "0.270"]})
    assert find(evidence, "SC-09", "MB-04").grade is Grade.MAJOR
    loose = find(evidence, "SC-09", "MB-04", criteria={"tolerance_m": 0.02})
    assert loose.outcome is Outcome.CONFORMS


def alter_rig(records, *, takeoff: str | None, since: str = "2026-05-10") -> None:
    """Add a rig whose arm was measured anew, with another bracket, and a flight."""
    old = {"rig.lever_arm_measured": "2026-01-01"}
    new = {
        "rig.bracket": "B-2",
        "rig.lever_arm_measured": since,
        "rig.lever_arm_aircraft": ["0.120", "-0.030", "0.310"],
    }
    records.rig(changes={**old, **new})
    (rig,) = records.rigs
    values = {key: KnownValue(value) for key, value in {**RIG, **old}.items()}
    states = record_again((), values, 1, "2026-01-01T08:00:00Z", "technician")
    given = {key: rig.values[key] for key in new}
    states = record_again(states, given, 5, "2026-05-20T08:00:00Z", "technician")
    records.rigs = [replace(rig, states=states)]
    records.flight(changes={"flight.takeoff": takeoff})


@pytest.mark.parametrize(
    ("takeoff", "arm", "outcome"),
    [
        ("2026-05-01T09:00:00Z", "0.250", Outcome.CONFORMS),
        ("2026-05-01T09:00:00Z", "0.310", Outcome.NONCONFORMING),
        ("2026-05-12T09:00:00Z", "0.310", Outcome.CONFORMS),
        ("2026-05-12T09:00:00Z", "0.250", Outcome.NONCONFORMING),
        # Which of the two arms hung there is not sure: no pass, and no certainty either.
        ("2026-05-10T09:00:00Z", "0.310", Outcome.INCONCLUSIVE),
        (None, "0.310", Outcome.INCONCLUSIVE),
    ],
)
def test_a_run_is_held_against_the_arm_of_the_day(records, takeoff, arm, outcome):
    """A rig that was altered has two arms on record; the flight was flown with one of them."""
    alter_rig(records, takeoff=takeoff)
    records.process("R1", changes={"run.lever_arm": ["0.120", "-0.030", arm]})
    found = drive_check(LeverArmChain(), records.deliver("tile.las", "R1").evidence())
    (finding,) = [each for each in found if each.catalogue == ("SC-09", "MB-04")]
    assert finding.outcome is outcome
    if outcome is Outcome.INCONCLUSIVE:
        assert "G1 was altered on the day of F1" in finding.sentence


def test_what_is_the_same_in_every_state_is_sure(records):
    """The axes are those of both: nobody has to know when the flight was."""
    alter_rig(records, takeoff=None)
    records.process("R1")
    found = drive_check(LeverArmChain(), records.deliver("tile.las", "R1").evidence())
    (finding,) = [each for each in found if each.catalogue[0] == "SC-10"]
    assert finding.outcome is Outcome.CONFORMS
