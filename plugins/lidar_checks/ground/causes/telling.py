"""A diagnosis in words: one sentence and one thing to do, and the candidates as figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ledger.model.figure import Figure
from ledger.model.phrases import agree, count_things
from lidar_checks.ground.causes.candidate import LeftOut
from lidar_checks.ground.causes.comparison import Comparison, Component
from lidar_checks.ground.causes.diagnosis import Diagnosis
from lidar_checks.ground.causes.fits import Parameter
from lidar_checks.ground.causes.pattern_match import PatternMatch
from lidar_checks.ground.causes.quantile import NORMAL_LIMIT

TOPIC = "Cause of the residuals"
TOLD = 3
"""Candidates that are told, whatever comes of them."""

_AXES = {"dE": "east", "dN": "north", "dz": "height"}
_CHANGES = {
    "tilt_east": ("in height change", 1000.0, "mm a metre to the east", 2),
    "tilt_north": ("in height change", 1000.0, "mm a metre to the north", 2),
    "height_scale": ("in height change", 1000.0, "mm a metre of height", 2),
    "rotation": ("in plan turn, counter-clockwise,", math.degrees(1.0), "degrees", 4),
    "scale": ("in plan stretch", 1e6, "ppm", 1),
}
"""By parameter: what it does, the factor into its unit, the unit, decimals."""


def tell_named(found: Diagnosis) -> str:
    """Return the sentence of a cause that is named."""
    first, *others = found.named
    told = f"The mean residual of {_tell_match(first)}{_tell_median(found)}: {_clause(first)}"
    for second in others:
        told += f"; the rest of {_tell_match(second)}: {_clause(second)}"
    return f"{told}. {tell_rest(found)}"


def tell_rest(found: Diagnosis) -> str:
    """Return what is left without the named cause."""
    rest = found.rest
    if rest is None:
        return ""
    without = "them" if len(found.named) > 1 else "it"
    told = f"Without {without} the rest is mean {rest.mean:+.3f} m, RMSE {rest.rmse:.3f} m"
    if not found.further:
        return f"{told}."
    clauses = " or that ".join(_clause(each) for each in found.further)
    return f"{told}, which may be chance, or that {clauses}."


def _clause(match: Comparison) -> str:
    return "" if match.candidate is None else match.candidate.clause


def _quantity(match: Comparison) -> str:
    return "" if match.candidate is None else match.candidate.quantity


def _tell_match(match: Comparison) -> str:
    """Return observed, predicted, difference and gate of all axes that count."""
    axes = list_axes(match)
    observed = ", ".join(f"{axis.observed:+.3f}" for axis in axes)
    predicted = ", ".join(f"{axis.predicted:+.3f}" for axis in axes)
    off = ", ".join(f"{axis.difference:+.3f}" for axis in axes)
    gates = ", ".join(f"±{axis.gate:.3f}" for axis in axes)
    where = "in height" if len(axes) == 1 else "to the east, to the north and in height"
    many = "difference" if len(axes) == 1 else "differences"
    return (
        f"{observed} m {where} equals {_quantity(match)}, {predicted} m here "
        f"({many} {off} m, gate {gates} m)"
    )


def _tell_numbers(axis: Component) -> str:
    return (
        f"{axis.observed:+.3f} against {axis.predicted:+.3f}, difference {axis.difference:+.3f}, "
        f"gate ±{axis.gate:.3f} m"
    )


def _tell_median(found: Diagnosis) -> str:
    figures = found.statistics
    if figures is None or not figures.is_skewed:
        return ""
    return f" (median {figures.median:+.3f} m in height)"


def list_axes(match: Comparison) -> tuple[Component, ...]:
    """Return the components that a candidate is about: height alone where it moves no plan.

    Their gates are those that decide where plan and height are judged together.
    """
    if match.candidate is not None and match.candidate.moves_plan:
        return match.joint
    return (match.decisive_height,)


def tell_tied(found: Diagnosis) -> str:
    """Return the sentence where several candidates fit."""
    lead = _tell_offset(found)
    if found.pairs:
        pairs = "; ".join(
            f"{_clause(each.lead)} and {_clause(each.second)}" for each in found.pairs
        )
        told = "Several pairs of causes fit" if len(found.pairs) > 1 else "Two causes together fit"
        return f"{lead} {told} it, and nothing tells whether it is so: {pairs}."
    told = "; ".join(
        f"{_clause(each)} ({_tell_short(each)})" for each in found.tied if each.candidate
    )
    return f"{lead} {count_things(len(found.tied), 'cause')} fit it: {told}."


def tell_possible(found: Diagnosis) -> str:
    """Return the sentence of a cause that fits, where that may as well be chance."""
    (match,) = found.tied
    return (
        f"The mean residual of {_tell_match(match)}{_tell_median(found)}. It may be that "
        f"{_clause(match)}. But of all offsets up to twice this one {found.coincidence:.0%} equal "
        "some number of this job by chance, and nothing else on record speaks for it: the cause "
        "may as well be one that no record knows."
    )


def tell_one_separation(found: Diagnosis) -> str:
    """Return what would tell whether the one cause that fits is it."""
    candidate = found.tied[0].candidate
    told = "" if candidate is None else candidate.separates
    return f"Before anything is changed, {told}." if told else ""


def _tell_short(match: Comparison, *, is_blind: bool = False) -> str:
    """Return prediction and gate; what is seen at all is asked of the joint gate by itself."""
    height = match.joint[-1] if is_blind else match.decisive_height
    return f"predicted {height.predicted:+.3f} m, gate ±{height.gate:.3f} m"


def tell_separation(found: Diagnosis) -> str:
    """Return the one measurement that would tell candidates apart."""
    listed = [each.candidate for each in found.tied if each.candidate is not None]
    listed += [each.second.candidate for each in found.pairs if each.second.candidate is not None]
    separates = next((each.separates for each in listed if each.separates), "")
    # A prediction that differs from another in plan alone is told by a target, whatever else.
    for each in listed:
        if "target" in each.separates:
            separates = each.separates
    return f"To tell which, {separates}." if separates else ""


def tell_unexplained(found: Diagnosis) -> str:
    """Return the sentence of an offset that no prediction explains."""
    nearest = found.ranked[0] if found.ranked else None
    told = f"{_tell_offset(found)} Nothing on record explains it"
    if nearest is not None and nearest.candidate is not None:
        height = nearest.decisive_height
        told += (
            f"; the nearest, {nearest.candidate.quantity}, would be {height.predicted:+.3f} m"
            f" (gate ±{height.gate:.3f} m)"
        )
    return f"{told}."


def tell_no_power(found: Diagnosis) -> str:
    """Return the sentence where the site cannot tell what makes a small offset."""
    clauses = "; ".join(
        f"{_clause(each)} ({_tell_short(each)})" for each in found.tied if each.candidate
    )
    return f"{_tell_offset(found)} That is too little to tell at this place whether {clauses}."


def tell_blind(matches: Sequence[Comparison]) -> str:
    """Return the sentence of mistakes that this site cannot tell from nothing."""
    told = "; ".join(
        f"{_clause(each)} ({_tell_short(each, is_blind=True)})" for each in matches[:TOLD]
    )
    more = len(matches) - TOLD
    rest = f"; nor {count_things(more, 'other mistake')}" if more > 0 else ""
    return (
        f"The residuals cannot tell here whether {told}{rest}: less than two gates is no more "
        "than chance."
    )


def _tell_offset(found: Diagnosis) -> str:
    raw = found.raw
    if raw is None or found.statistics is None:
        return ""
    axes = raw.components if any(_counts(axis) for axis in raw.components[:-1]) else (raw.height,)
    parts = ", ".join(f"{_AXES[axis.axis]} {axis.observed:+.3f} m" for axis in axes)
    count = count_things(found.statistics.count, "checkpoint")
    return f"The mean residual of {count} is {parts}{_tell_median(found)}."


def _counts(axis: Component) -> bool:
    return abs(axis.observed) > axis.gate


def _is_off(axis: Component) -> bool:
    return abs(axis.difference) > axis.gate


def tell_no_offset(found: Diagnosis) -> str:
    """Return the sentence where there is nothing to explain."""
    figures, raw = found.statistics, found.raw
    if figures is None or raw is None:
        return ""
    gate = NORMAL_LIMIT * figures.s / figures.count**0.5
    plan = "" if found.sees_plan else " In plan nothing is observed."
    able = sum(each.has_power for each in found.ranked)
    left = len(found.left_out)
    more = f"; {count_things(left, 'other')} could not be worked out" if left else ""
    return (
        f"The mean height residual of {count_things(figures.count, 'checkpoint')} is "
        f"{figures.mean:+.3f} m (three standard errors ±{gate:.3f} m), which is none of the "
        f"{count_things(able, 'known mistake')} that would show here{more}.{plan}"
    )


def tell_pattern(match: PatternMatch) -> str:
    """Return the sentence of a pattern that is named."""
    parts = "; ".join(
        f"{axis.observed:+.3f} against {axis.predicted:+.3f}, gate ±{axis.gate:.3f}"
        for axis in match.components
    )
    pattern = match.pattern
    return (
        f"The residuals change over the site as {pattern.quantity} would make them "
        f"({parts} {pattern.unit}): {pattern.clause}."
    )


def tell_few(count: int) -> str:
    """Return the sentence where there are too few points."""
    return (
        f"{count_things(count, 'checkpoint')} with a height of the cloud "
        f"{agree(count, 'says', 'say')} nothing of causes; three are needed, and five for slopes."
    )


def tell_outliers(names: Iterable[str]) -> str:
    """Return which points were left out; empty for none."""
    listed = list(names)
    if not listed:
        return ""
    return f" Left out as outliers: {', '.join(listed)}."


def make_figures(found: Diagnosis) -> list[Figure]:
    """Return the nearest candidates, fitted numbers and what was left out, as figures."""
    figures = [
        _make_candidate(number, each)
        for number, each in enumerate(found.ranked[:TOLD], start=1)
        if each.candidate is not None
    ]
    figures += make_changes(found)
    if found.left_out:
        figures.append(_make_left_out(found.left_out))
    return figures


def make_changes(found: Diagnosis) -> list[Figure]:
    """Return how the residuals change over the site, beyond chance, as figures.

    Values are metres a metre, or radians for `rotation`.
    """
    return [
        Figure(
            name=each.name.replace("_", "-"),
            topic=TOPIC,
            sentence=_tell_change(each),
            value=f"{each.value:.6e}",
            unit="rad" if each.name == "rotation" else "m/m",
            count=len(found.ids),
        )
        for each in found.parameters
    ]


def _tell_change(parameter: Parameter) -> str:
    """Return what a number of the fit does to the residuals, and what chance may do."""
    what, factor, unit, digits = _CHANGES[parameter.name]
    value, chance = parameter.value * factor, parameter.limit * parameter.sigma * factor
    return (
        f"The residuals {what} by {value:+.{digits}f} {unit}, where chance makes up to "
        f"{chance:.{digits}f}."
    )


def _make_candidate(number: int, match: Comparison) -> Figure:
    candidate = match.candidate
    height = match.height
    if candidate is None:
        raise ValueError("only a prediction has a figure")
    axes = match.joint if any(map(_is_off, match.joint[:-1])) else list_axes(match)
    told = "; ".join(f"{_AXES[axis.axis]} {_tell_numbers(axis)}" for axis in axes)
    state = "inside" if match.is_inside else "outside"
    if match.slope_contradicts:
        state += ", its slope is not there"
    if not match.has_power:
        state += ", no power here"
    inputs = f" From {', '.join(candidate.inputs)}." if candidate.inputs else ""
    return Figure(
        name=f"candidate-{number}",
        topic=TOPIC,
        sentence=f"{number}. {candidate.clause[:1].upper()}{candidate.clause[1:]}: {told}; "
        f"{state}.{inputs}",
        value=f"{height.predicted:.3f}",
        unit="m",
        of=candidate.id,
    )


def _make_left_out(left_out: Iterable[LeftOut]) -> Figure:
    listed = tuple(f"{each.what}: {each.why}" for each in left_out)
    return Figure(
        name="left-out",
        topic=TOPIC,
        sentence=f"{count_things(len(listed), 'prediction')} could not be made: "
        f"{'; '.join(listed)}.",
        listed=listed,
    )
