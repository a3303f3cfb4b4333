"""A rig over time: what begins a new state, what puts right the last, and which one was flown.

The rules are the project's own; that an old arm stays on record beside a new bracket is the
failure that they are for (common practice, no source).
"""

from __future__ import annotations

import pytest

from ledger.model.known import KnownValue
from ledger.model.rig import (
    RigState,
    amend_states,
    find_stale_arms,
    find_state,
    record_again,
)

ARM = ["0.10", "0.00", "0.25"]


def values(**given: object) -> dict[str, KnownValue]:
    """Return values of a rig."""
    return {
        f"rig.{key}": KnownValue(value, "m" if isinstance(value, list) else "")
        for key, value in given.items()
    }


def build(*entries: dict[str, KnownValue]) -> tuple[RigState, ...]:
    """Return the states of a rig that was recorded again and again, on the 1st of each month."""
    states: tuple[RigState, ...] = ()
    for number, given in enumerate(entries, 1):
        time = f"2026-{number:02d}-01T08:00:00Z"
        states = record_again(states, given, number, time, "technician")
    return states


FIRST = values(bracket="B-1", lever_arm_aircraft=ARM, lever_arm_measured="2026-01-01")


@pytest.mark.parametrize(
    "given",
    [
        values(bracket="B-2"),
        values(lever_arm_measured="2026-02-01"),
        values(scanner_serial="SU-08"),
        values(calibration_date="2026-02-01"),
    ],
)
def test_what_alters_a_rig_begins_a_state(given):
    """Another bracket, unit, calibration, or day of measuring."""
    first = {**FIRST, **values(scanner_serial="SU-07", calibration_date="2025-01-01")}
    states = build(first, given)
    assert [state.entry for state in states] == [1, 2]
    assert states[1].changed == tuple(given)
    assert states[1].values["rig.lever_arm_aircraft"].value == ARM


@pytest.mark.parametrize(
    "given",
    [
        values(lever_arm_aircraft=["0.10", "0.00", "-0.25"]),
        values(base_serial="BR-2"),
        values(bracket="B-1"),
        values(scanner_serial="SU-07"),
    ],
)
def test_anything_else_puts_right_what_stands(given):
    """A corrected number, a blank that is filled, the same once more."""
    (state,) = build(FIRST, given)
    assert state.entry == 1
    assert {key: state.values[key] for key in given} == given


def test_an_amendment_reaches_back_to_where_the_value_came_in():
    """A struck value was wrong in every state that had it, and in none before."""
    states = build(
        values(bracket="B-1", lever_arm_aircraft=["9", "9", "9"]),
        values(bracket="B-2", lever_arm_aircraft=ARM),
        values(bracket="B-3"),
    )
    right = values(lever_arm_aircraft=["0.11", "0.00", "0.25"])
    amended = amend_states(states, right)
    arms = [state.values["rig.lever_arm_aircraft"].value for state in amended]
    assert arms == [["9", "9", "9"], ["0.11", "0.00", "0.25"], ["0.11", "0.00", "0.25"]]


@pytest.mark.parametrize(
    ("takeoff", "entry", "is_sure"),
    [
        ("2026-01-20T09:00:00Z", 1, True),
        ("2026-03-05T09:00:00Z", 2, False),  # on the day of measuring: before it, or after?
        ("2026-03-06T09:00:00Z", 2, True),
        ("2025-12-01T09:00:00Z", 1, True),  # recorded afterwards
        ("", 2, False),
    ],
)
def test_the_state_of_the_day_of_a_flight_counts(takeoff, entry, is_sure):
    """The day that an arm was measured tells more than the day somebody typed it."""
    states = build(FIRST, values(bracket="B-2", lever_arm_measured="2026-03-05"))
    state, sure = find_state(states, takeoff)
    assert state is not None
    assert (state.entry, sure) == (entry, is_sure)


def test_one_state_was_flown_whenever_that_was():
    """Nothing was altered: no time is needed."""
    state, sure = find_state(build(FIRST), "")
    assert state is not None
    assert sure
    assert find_state((), "2026-01-01T00:00:00Z") == (None, False)


def test_a_new_bracket_with_the_old_numbers_is_seen():
    """Unless the arm was measured anew, or its numbers are others."""
    stale = ("rig.lever_arm_aircraft",)
    new = values(bracket="B-2")
    assert find_stale_arms(FIRST, {**FIRST, **new}) == stale
    typed_again = values(bracket="B-2", lever_arm_aircraft=["0.100", "0", "0.250"])
    assert find_stale_arms(FIRST, {**FIRST, **typed_again}) == stale
    measured = values(bracket="B-2", lever_arm_measured="2026-02-02")
    assert find_stale_arms(FIRST, {**FIRST, **measured}) == ()
    other = values(bracket="B-2", lever_arm_aircraft=["0.10", "0.00", "0.31"])
    assert find_stale_arms(FIRST, {**FIRST, **other}) == ()
    assert find_stale_arms(FIRST, FIRST) == ()
    assert find_stale_arms(values(lever_arm_aircraft=ARM), {**FIRST, **new}) == ()
