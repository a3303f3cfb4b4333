"""What turns with the aircraft, in words and figures."""

from __future__ import annotations

from collections.abc import Sequence

from ledger.model.figure import Figure
from ledger.model.phrases import count_things, join_choices
from lidar_checks.ground.causes.comparison import POWER
from lidar_checks.ground.causes.telling import TOPIC
from lidar_checks.ground.causes.turning_match import TurningMatch


def tell_turned(matches: Sequence[TurningMatch]) -> str:
    """Return the sentence of one mistake that is named, or of several that fit alike."""
    first = matches[0]
    lead = "The residuals turn with the heading of the aircraft"
    if len(matches) == 1 and first.has_power:
        if first.turning.value is not None:
            return f"{lead} ({_tell_number(first)}): {first.turning.clause}."
        return f"{lead} as {_tell_number(first)} would make them: {first.turning.clause}."
    told = "; ".join(f"{each.turning.clause} ({_tell_number(each)})" for each in matches)
    if len(matches) == 1:
        return f"{lead}, by little more than chance. It may be that {told}."
    count = count_things(len(matches), "cause")
    return f"{lead}. {count} fit it, and the points cannot tell which: {told}."


def tell_without(match: TurningMatch | None) -> str:
    """Return that means are told without what turns with the aircraft; empty for none."""
    return "" if match is None else " What turns with the aircraft was taken off before."


def tell_separation(matches: Sequence[TurningMatch]) -> str:
    """Return the one thing to do: to mend, or to tell several apart."""
    first = matches[0].turning
    if len(matches) == 1 and matches[0].has_power:
        return first.readings[0].remedy
    separates = next((e.turning.separates for e in matches if e.turning.value is None), "")
    return f"To tell which, {separates or first.separates}."


def tell_turning_blind(matches: Sequence[TurningMatch]) -> str:
    """Return what that turns with the aircraft these points cannot tell from nothing."""
    told = "; ".join(f"{each.turning.clause} ({_tell_limit(each)})" for each in matches)
    return f"The checkpoints cannot tell here whether {told}: it would be less than two gates."


def make_turning_figure(matches: Sequence[TurningMatch], count: int) -> Figure:
    """Return how large each fitted number would have to be to be named here, and what never is."""
    fitted = [each for each in matches if each.turning.value is None]
    able = [each for each in fitted if POWER * each.gate <= each.turning.largest]
    listed = tuple(f"{each.turning.quantity} of {_tell_limit(each)}" for each in able)
    never = [each.turning.quantity for each in fitted if each not in able]
    told = f"would be told here from {', '.join(listed)} on" if listed else "would not be told here"
    rest = f", and {join_choices(never)} not at all" if listed and never else ""
    return Figure(
        name="turning-limits",
        topic=TOPIC,
        sentence=f"What turns with the aircraft {told}{rest}.",
        count=count,
        listed=listed,
    )


def _tell_number(match: TurningMatch) -> str:
    turning = match.turning
    value, gate = match.value / turning.per_unit, match.gate / turning.per_unit
    if turning.value is None:
        return f"{turning.quantity} of {value:+.3g} ± {gate:.2g} {turning.unit}"
    predicted = turning.value / turning.per_unit
    return (
        f"{turning.quantity}: {value:.3g} {turning.unit} against {predicted:.3g} predicted, gate "
        f"±{gate:.2g}"
    )


def _tell_limit(match: TurningMatch) -> str:
    """Return the least that would be told, or what is predicted and is less."""
    turning = match.turning
    least = turning.value if turning.value is not None else POWER * match.gate
    shown = least / turning.per_unit
    return f"{shown:.0f} {turning.unit}" if shown >= 10 else f"{shown:.2g} {turning.unit}"
