"""From residuals and predictions to one of a few answers, of which a name is the rarest.

A cause is named when what it predicts is inside the gate and nothing else is, and when the site
could tell it from no mistake at all. Everything else is told as what it is: several that fit, one
that the site cannot tell, or an offset that nothing on record explains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from lidar_checks.ground.causes.candidate import LeftOut, Predictions
from lidar_checks.ground.causes.comparison import Comparison, compare, observes_plan
from lidar_checks.ground.causes.fits import (
    FEWEST_FOR_PATTERNS,
    HEIGHT_SCALE,
    TILTS,
    TURN,
    Parameter,
    fit,
)
from lidar_checks.ground.causes.matching import (
    FEWEST_FOR_CAUSES,
    Pair,
    find_further,
    find_pairs,
    has_rival,
    match_all,
    split_by_gap,
)
from lidar_checks.ground.causes.observed import (
    Mask,
    Observed,
    Statistics,
    find_outliers,
    measure,
)
from lidar_checks.ground.causes.pattern_match import PatternMatch, match_patterns

OFFSET_MIN_M = 0.02
"""A smaller offset is not looked into (common practice, no source)."""


class Verdict(StrEnum):
    """What the residuals say of causes."""

    TOO_FEW = "too few points"
    NO_OFFSET = "no offset"
    NAMED = "named"
    TIED = "tied"
    NO_POWER = "no power"
    UNEXPLAINED = "unexplained"
    PARTS = "parts"


@dataclass(frozen=True)
class Rest:
    """What is left in height when the named prediction is taken off the residuals.

    Args:
        mean: metres.
        s: standard deviation.
        rmse: root mean square.
    """

    mean: float
    s: float
    rmse: float


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """What is known of the cause of a constant or a pattern.

    Args:
        verdict: the answer.
        statistics: of the heights of the points that were judged; None for no point.
        raw: residuals against no prediction; None with too few points.
        ids: names of the points that were judged.
        outliers: names of the points that stand off and were left out.
        ranked: every prediction against the residuals, the nearest first.
        named: the cause; two where two come together.
        tied: single predictions that fit, where several do.
        pairs: pairs that fit, where no single prediction does and several pairs do.
        blind: predictions that the site cannot tell from no mistake.
        patterns: predicted patterns against what the fit finds.
        parameters: fitted numbers that are more than chance.
        rest: what is left of the heights; None where nothing is named.
        further: predictions that fit what is left, where that is more than chance.
        left_out: predictions that could not be made.
        sees_plan: whether the residuals say anything of the plan.
        parts: the answers for groups of points between which there is a gap.
    """

    verdict: Verdict
    statistics: Statistics | None = None
    raw: Comparison | None = None
    ids: tuple[str, ...] = ()
    outliers: tuple[str, ...] = ()
    ranked: tuple[Comparison, ...] = ()
    named: tuple[Comparison, ...] = ()
    tied: tuple[Comparison, ...] = ()
    pairs: tuple[Pair, ...] = ()
    blind: tuple[Comparison, ...] = ()
    patterns: tuple[PatternMatch, ...] = ()
    parameters: tuple[Parameter, ...] = ()
    rest: Rest | None = None
    further: tuple[Comparison, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    sees_plan: bool = False
    parts: tuple[tuple[Observed, Diagnosis], ...] = ()

    @property
    def named_patterns(self) -> tuple[PatternMatch, ...]:
        """Return the patterns that are named: inside, with power, and alone with that parameter."""
        inside = [match for match in self.patterns if match.is_inside]
        return tuple(
            match
            for match in inside
            if match.has_power
            and not any(other is not match and match.rivals(other) for other in inside)
        )


def diagnose(
    observed: Observed, predictions: Predictions, offset_min_m: float = OFFSET_MIN_M
) -> Diagnosis:
    """Return what the residuals say of causes.

    Args:
        observed: the residuals.
        predictions: what each known mistake would leave at the same points.
        offset_min_m: an offset below is not looked into, metres.
    """
    if observed.count < FEWEST_FOR_CAUSES:
        statistics = measure(observed.dz) if observed.count else None
        return Diagnosis(Verdict.TOO_FEW, statistics, ids=observed.ids)
    off = find_outliers(observed)
    core = observed.take(~off)
    found = _diagnose_core(core, predictions.take(~off), offset_min_m)
    if found.verdict is not Verdict.NAMED or off.any():
        parts = _diagnose_parts(observed, predictions, offset_min_m)
        if parts is not None:
            return parts
    outliers = tuple(name for name, out in zip(observed.ids, off, strict=True) if out)
    return _with(found, outliers=outliers)


def _diagnose_core(core: Observed, predictions: Predictions, offset_min_m: float) -> Diagnosis:
    none = compare(core, None)
    ranked = tuple(match_all(core, predictions.candidates))
    base = Diagnosis(
        Verdict.UNEXPLAINED,
        measure(core.dz),
        raw=none,
        ids=core.ids,
        ranked=ranked,
        blind=tuple(each for each in ranked if not each.has_power),
        left_out=predictions.left_out,
        sees_plan=observes_plan(core),
    )
    if not _has_offset(none, offset_min_m):
        return _look_for_patterns(_with(base, verdict=Verdict.NO_OFFSET), core, none, predictions)
    inside = tuple(each for each in ranked if each.is_inside)
    if inside:
        return _weigh_inside(base, core, inside, predictions, offset_min_m)
    pairs = tuple(find_pairs(core, ranked))
    if len(pairs) == 1 and not has_rival(core, pairs[0], ranked):
        return _name(base, core, (pairs[0].lead, pairs[0].second), predictions)
    verdict = Verdict.TIED if pairs else Verdict.UNEXPLAINED
    return _look_for_patterns(_with(base, verdict=verdict, pairs=pairs), core, none, predictions)


def _weigh_inside(
    base: Diagnosis,
    core: Observed,
    inside: tuple[Comparison, ...],
    predictions: Predictions,
    offset_min_m: float,
) -> Diagnosis:
    """Return the answer where at least one prediction fits alone."""
    if not any(each.has_power for each in inside):
        return _with(base, verdict=Verdict.NO_POWER, tied=inside)
    if len(inside) == 1:
        named = _name(base, core, inside, predictions)
        return _with(named, further=find_further(core, inside[0], base.ranked, offset_min_m))
    return _with(base, verdict=Verdict.TIED, tied=inside)


def _has_offset(none: Comparison, least_m: float) -> bool:
    return none.distance > 1 and any(
        abs(each.observed) > max(least_m, each.gate) for each in none.components
    )


def _name(
    base: Diagnosis, core: Observed, named: tuple[Comparison, ...], predictions: Predictions
) -> Diagnosis:
    last = named[-1]
    rest = Rest(last.rest.mean, last.rest.s, last.rest.rmse)
    told = _with(base, verdict=Verdict.NAMED, named=named, rest=rest)
    return _look_for_patterns(told, core, last, predictions)


def _look_for_patterns(
    found: Diagnosis, core: Observed, last: Comparison, predictions: Predictions
) -> Diagnosis:
    """Return the answer with what changes over the site in what is left."""
    if core.count < FEWEST_FOR_PATTERNS:
        return found
    patterns = match_patterns(core, last.rest_dz, last.rest_plan, predictions.patterns)
    parameters = _list_kept(core, last)
    return _with(found, patterns=patterns, parameters=parameters)


def _list_kept(core: Observed, last: Comparison) -> tuple[Parameter, ...]:
    """Return the fitted numbers that are more than chance, the shifts apart."""
    for names in ((*TILTS, *TURN, HEIGHT_SCALE), (*TILTS, *TURN), TURN):
        found = fit(core, last.rest_dz, last.rest_plan, names)
        if found is not None:
            return tuple(
                each for each in found.parameters.values() if each.is_kept and each.name in names
            )
    return ()


def _diagnose_parts(
    observed: Observed, predictions: Predictions, offset_min_m: float
) -> Diagnosis | None:
    """Return the answers for groups of points, where at least one of them has a name."""
    parts = []
    for part in split_by_gap(observed):
        mask: Mask = np.isin(np.array(observed.ids), part.ids)
        answer = _diagnose_core(part, predictions.take(mask), offset_min_m)
        parts.append((part, answer))
    if not any(answer.verdict is Verdict.NAMED for _, answer in parts):
        return None
    whole = compare(observed, None)
    judged: Sequence[str] = [name for part, _ in parts for name in part.ids]
    return Diagnosis(
        Verdict.PARTS,
        measure(observed.dz),
        raw=whole,
        ids=observed.ids,
        outliers=tuple(name for name in observed.ids if name not in judged),
        left_out=predictions.left_out,
        parts=tuple(parts),
    )


def _with(found: Diagnosis, **parts: Any) -> Diagnosis:  # noqa: ANN401 - parts of many types
    return Diagnosis(**{**vars(found), **parts})
