"""Has a bracket that was changed a lever arm of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ledger.contract.check import Evidence, Finding, Grade, Plan
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.rig import ARMS, BRACKET, MEASURED, RigState, find_stale_arms, find_state
from lidar_checks.flight.flight_check import FlightCheck

_SOURCE = "common practice, no source"


class BracketChange(FlightCheck):
    """Judges the rig of each flight as it stood when it was flown."""

    id = "bracket-change"
    title = "A changed bracket has a lever arm of its own"
    catalogue = ("MB-04", "SC-09")
    needs = ("records",)
    fields = ("flight.rig", BRACKET, *ARMS, MEASURED, "rig.scanner_serial", "rig.aircraft_serial")
    revision = 2

    def judge(
        self,
        card: Card,
        plan: Plan,  # noqa: ARG002 - as the base has it
        evidence: Evidence,
    ) -> Iterator[Finding]:
        """Look for an arm that was measured with another bracket."""
        yield self._judge(card, evidence)

    def _judge(self, flight: Card, evidence: Evidence) -> Finding:
        rig = _find_rig(flight, evidence)
        if rig is None:
            return self.not_assessed(
                flight.id, f"{flight.id} names no rig that is recorded.", needs=("flight.rig",)
            )
        if BRACKET not in rig.values:
            return self.not_assessed(
                flight.id,
                f"Which bracket {rig.id} has is not recorded, so nobody can say whether it "
                "was changed.",
                needs=(BRACKET,),
            )
        takeoff = flight.values.get("flight.takeoff")
        state, is_sure = find_state(rig.states, "" if takeoff is None else str(takeoff.value))
        stale = _find_stale(rig.states, state)
        if stale is None:
            stale = _find_stale_by_name(rig, state, evidence)
        if stale is not None:
            return self._tell_stale(flight, rig, *stale)
        if not is_sure and any(_find_stale(rig.states, each) for each in rig.states):
            return self.inconclusive(
                flight.id,
                f"{rig.id} was altered on the day of {flight.id}, or when {flight.id} took off "
                "is not recorded; once its bracket changed and its lever arm did not.",
                needs=("flight.takeoff",),
                remedy=f"Record the take-off (swathbook record flight {flight.id}).",
            )
        return self.conforms(
            flight.id, f"No bracket of {rig.id} came with the lever arm of another one."
        )

    def _tell_stale(self, flight: Card, rig: Card, before: RigState, now: RigState) -> Finding:
        """Return the finding of a new bracket with the old arm."""
        old, new = before.values[BRACKET].value, now.values[BRACKET].value
        measured = now.values.get(MEASURED)
        when = f", measured {measured.value}" if measured is not None else ""
        return self.nonconforming(
            Grade.OBSERVATION,
            flight.id,
            f"{flight.id} was flown with bracket {new} of {rig.id}, and the lever arm on record "
            f"is the one of bracket {old}{when}.",
            observed=f"bracket {new} since {now.since}, lever arm as before",
            required="a lever arm that was measured with that bracket, if only to find it the same",
            criterion_source=_SOURCE,
            remedy=f"Measure the arm and enter it with its date (swathbook record rig {rig.id}).",
        )


def _find_rig(flight: Card, evidence: Evidence) -> Card | None:
    named = flight.values.get("flight.rig")
    wanted = "" if named is None else str(named.value)
    return next((rig for rig in evidence.rigs if wanted in (rig.id, rig.name)), None)


def _find_stale(
    states: tuple[RigState, ...], flown: RigState | None
) -> tuple[RigState, RigState] | None:
    """Return the state that brought the bracket in and the one before, where its arm is stale.

    A later state of the same bracket counts as measured once it has another arm or date.
    """
    if flown is None:
        return None
    place = states.index(flown)
    while place and states[place - 1].values.get(BRACKET) == flown.values.get(BRACKET):
        place -= 1
    before = states[place - 1] if place else None
    if before is None or not find_stale_arms(before.values, flown.values):
        return None
    return before, states[place]


def _find_stale_by_name(
    rig: Card, flown: RigState | None, evidence: Evidence
) -> tuple[RigState, RigState] | None:
    """Return the same of a bracket that came in under a new name of the rig.

    Whoever enters scanner and aircraft as a new rig when the bracket changes has changed the
    bracket all the same.
    """
    now = flown or RigState(rig.entry, rig.time, rig.by, rig.values)
    earlier = [
        other
        for other in evidence.job.rigs
        if other.entry < rig.entry and other.id != rig.id and _is_same_unit(other, now)
    ]
    if not earlier:
        return None
    last = max(earlier, key=lambda other: other.entry)
    before = RigState(last.entry, last.time, last.by, last.values)
    return (before, now) if find_stale_arms(before.values, now.values) else None


def _is_same_unit(other: Card, now: RigState) -> bool:
    """Say whether two rigs have one scanner, and no other aircraft."""
    scanner = [_read(values, "rig.scanner_serial") for values in (other.values, now.values)]
    aircraft = {_read(values, "rig.aircraft_serial") for values in (other.values, now.values)}
    return bool(scanner[0]) and scanner[0] == scanner[1] and len(aircraft - {""}) <= 1


def _read(values: Mapping[str, KnownValue], key: str) -> str:
    known = values.get(key)
    return "" if known is None else str(known.value).strip().casefold()
