"""Has a bracket that was changed a lever arm of its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.process import Card
from ledger.model.rig import ARMS, BRACKET, MEASURED, RigState, find_stale_arms, find_state

_SOURCE = "common practice, no source"


class BracketChange(Check):
    """Judges the rig of each flight as it stood when it was flown."""

    id = "bracket-change"
    title = "A changed bracket has a lever arm of its own"
    catalogue = ("MB-04", "SC-09")
    needs = ("records",)
    fields = ("flight.rig", BRACKET, *ARMS, MEASURED)
    revision = 1

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every flight behind the delivery."""
        if not evidence.flights:
            yield self.not_assessed(
                WHOLE_DELIVERY, "No flight stands behind any of the files.", needs=("records",)
            )
        for flight in evidence.flights:
            yield self._judge(flight, evidence)

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
