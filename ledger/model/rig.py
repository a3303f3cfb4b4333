"""A rig over time: what it was like when, and which of that counts for a flight.

A rig is recorded again for two reasons: something was wrong on record, or the rig was altered. A
new state begins where its bracket, a unit, its calibration or the day of measuring is another one;
anything else that is recorded later puts right what stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from decimal import Decimal
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.known import NOTHING, KnownValue

ARMS = ("rig.lever_arm_aircraft", "rig.lever_arm_scanner")
BRACKET = "rig.bracket"
MEASURED = "rig.lever_arm_measured"
CALIBRATED = "rig.calibration_date"
# Another one of these is another rig to measure by, or another measuring of it.
_ALTERING = (
    BRACKET,
    MEASURED,
    CALIBRATED,
    "rig.calibration_file",
    "rig.scanner_serial",
    "rig.aircraft_serial",
)
_DATED = (MEASURED, CALIBRATED)
_DAY = len("2026-05-14")


@dataclass(frozen=True)
class RigState:
    """A rig as it was from one day on.

    Args:
        entry: the entry that began it.
        time: when that was entered, UTC.
        by: function of the person who entered it.
        values: by field key, what was put right later included.
        changed: keys that began it: they had another value before; empty for the first state.
    """

    entry: int
    time: str
    by: str
    values: Mapping[str, KnownValue] = field(default_factory=dict)
    changed: tuple[str, ...] = ()

    @property
    def since(self) -> str:
        """Return the day from which it holds: that of measuring or calibrating, else of entry."""
        days = [str(self.values[key].value) for key in self.changed if key in _DATED]
        return max(days) if days else self.time[:_DAY]


def record_again(
    states: Sequence[RigState], given: Mapping[str, KnownValue], entry: int, time: str, by: str
) -> tuple[RigState, ...]:
    """Return the states of a rig after it was recorded again.

    Args:
        states: the states before, oldest first.
        given: the values that were recorded now.
        entry: the entry that holds them.
        time: when it was entered, UTC.
        by: function of the person.
    """
    if not states:
        return (RigState(entry, time, by, dict(given)),)
    last = states[-1]
    changed = tuple(key for key in given if is_other(last.values.get(key), given[key]))
    values = {**last.values, **given}
    if any(key in _ALTERING for key in changed):
        return (*states, RigState(entry, time, by, values, changed))
    return (*states[:-1], replace(last, values=values))


def amend_states(
    states: Sequence[RigState], right: Mapping[str, KnownValue | None]
) -> tuple[RigState, ...]:
    """Return the states after values were struck through: back to where each of them came in.

    Args:
        states: the states before, oldest first.
        right: what stands there now; None for nothing.
    """
    amended = list(states)
    for key, value in right.items():
        struck = states[-1].values.get(key) if states else None
        for place in reversed(range(len(amended))):
            if amended[place].values.get(key) != struck:
                break
            values = {each: known for each, known in amended[place].values.items() if each != key}
            values |= {} if value is None else {key: value}
            amended[place] = replace(amended[place], values=values)
    return tuple(amended)


def is_other(before: KnownValue | None, now: KnownValue | None) -> bool:
    """Say whether a value was there and is another one now; a blank is no value.

    Numbers are compared as numbers: 0.10 is 0.100.
    """
    if before is None or now is None or before.value in NOTHING or now.value in NOTHING:
        return False
    return (_read_numbers(before.value), before.unit) != (_read_numbers(now.value), now.unit)


def _read_numbers(value: Any) -> Any:  # noqa: ANN401 - a canonical value of any type
    """Return measured numbers as numbers; any other value as it is."""
    if isinstance(value, (list, tuple)):
        return tuple(map(_read_numbers, value))
    try:
        return Decimal(value) if isinstance(value, str) else value
    except ArithmeticError:
        return value


def find_state(states: Sequence[RigState], moment: str) -> tuple[RigState | None, bool]:
    """Return the state in which a rig was flown, and whether that is sure.

    It is not sure of several states where the time is not known, or where the state begins on
    the very day.

    Args:
        states: oldest first.
        moment: take-off, UTC, RFC 3339; empty where it is not known.
    """
    if not states:
        return None, False
    day = moment[:_DAY]
    if len(states) == 1 or not day:
        return states[-1], len(states) == 1
    reached = [state for state in states[1:] if state.since <= day]
    found = reached[-1] if reached else states[0]
    return found, all(state.since != day for state in states[1:])


def find_stale_arms(
    before: Mapping[str, KnownValue], now: Mapping[str, KnownValue]
) -> tuple[str, ...]:
    """Return the lever arms that stand as they were although the bracket is another one.

    None do where one of them has other numbers, or another day of measuring: then somebody
    measured, and what is the same was found the same.

    Args:
        before: values of the rig with the bracket before.
        now: values of it with the new one.
    """
    if not is_other(before.get(BRACKET), now.get(BRACKET)):
        return ()
    if any(is_other(before.get(key), now.get(key)) for key in (*ARMS, MEASURED)):
        return ()
    return tuple(key for key in ARMS if key in before and key in now)
