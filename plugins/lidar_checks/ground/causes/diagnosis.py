"""From residuals and predictions to one of a few answers, of which a name is the rarest.

A cause is named when what it predicts is inside the gate and nothing else is, and when the site
could tell it from no mistake at all. Everything else is told as what it is: several that fit, one
that the site cannot tell, or an offset that nothing on record explains.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from enum import StrEnum
from typing import Any

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.candidate import LeftOut, Predictions
from lidar_checks.ground.causes.coincidence import MOST_BY_CHANCE, find_coincidence
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
    list_others,
    match_all,
    split_by_gap,
    subtract,
)
from lidar_checks.ground.causes.observed import (
    Mask,
    Observed,
    Statistics,
    find_outliers,
    measure,
)
from lidar_checks.ground.causes.pattern_match import PatternMatch, match_patterns
from lidar_checks.ground.causes.turning_match import TurningMatch, list_turned, match_turning

OFFSET_MIN_M = 0.02
"""A smaller offset is not looked into (common practice, no source)."""


class Verdict(StrEnum):
    """What the residuals say of causes."""

    TOO_FEW = "too few points"
    NO_OFFSET = "no offset"
    NAMED = "named"
    POSSIBLE = "possible"
    TURNED = "turned"
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
        tied: single predictions that fit, where several do, or one that may as well be chance.
        coincidence: share of like offsets that would equal some number of the job by chance.
        pairs: pairs that fit, where no single prediction does and several pairs do.
        blind: predictions that the site cannot tell from no mistake.
        patterns: predicted patterns against what the fit finds.
        parameters: fitted numbers that are more than chance.
        rest: what is left of the heights; None where nothing is named.
        further: predictions that fit what is left, where that is more than chance.
        left_out: predictions that could not be made.
        sees_plan: whether the residuals say anything of the plan.
        parts: the answers for groups of points between which there is a gap.
        turning: what turns with the aircraft, against the residuals.
    """

    verdict: Verdict
    statistics: Statistics | None = None
    raw: Comparison | None = None
    ids: tuple[str, ...] = ()
    outliers: tuple[str, ...] = ()
    ranked: tuple[Comparison, ...] = ()
    named: tuple[Comparison, ...] = ()
    tied: tuple[Comparison, ...] = ()
    coincidence: float = 0.0
    pairs: tuple[Pair, ...] = ()
    blind: tuple[Comparison, ...] = ()
    patterns: tuple[PatternMatch, ...] = ()
    parameters: tuple[Parameter, ...] = ()
    rest: Rest | None = None
    further: tuple[Comparison, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    sees_plan: bool = False
    parts: tuple[tuple[Observed, Diagnosis], ...] = ()
    turning: tuple[TurningMatch, ...] = ()

    @property
    def turned(self) -> tuple[TurningMatch, ...]:
        """Return what turns with the aircraft and fits; alone and with power it is a name."""
        return list_turned(self.turning)

    @property
    def named_turning(self) -> TurningMatch | None:
        """Return the one mistake that turns with the aircraft and is named."""
        found = self.turned
        return found[0] if len(found) == 1 and found[0].has_power else None

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
    observed: Observed,
    predictions: Predictions,
    offset_min_m: float = OFFSET_MIN_M,
    doubted: Collection[str] = (),
    blunders: Collection[str] = (),
) -> Diagnosis:
    """Return what the residuals say of causes.

    Args:
        observed: the residuals.
        predictions: what each known mistake would leave at the same points.
        offset_min_m: an offset below is not looked into, metres.
        doubted: checks of settings that found a contradiction: it speaks for a cause that they are
            about, whose number need not be rare then.
        blunders: ids of points that have a name as blunders; they carry no cause and no slope.
    """
    if observed.count < FEWEST_FOR_CAUSES:
        statistics = measure(observed.dz) if observed.count else None
        return Diagnosis(Verdict.TOO_FEW, statistics, ids=observed.ids)
    off = find_outliers(observed, np.array([name in blunders for name in observed.ids]))
    core = observed.take(~off)
    asked = _Asked(offset_min_m, frozenset(doubted))
    found = _diagnose_turning(core, predictions.take(~off), asked)
    fits = found.verdict in (Verdict.NAMED, Verdict.POSSIBLE, Verdict.TURNED)
    if not fits or off.any():
        parts = _diagnose_parts(observed, predictions, asked)
        if parts is not None:
            return parts
    outliers = tuple(name for name, out in zip(observed.ids, off, strict=True) if out)
    return _with(found, outliers=outliers)


@dataclass(frozen=True)
class _Asked:
    """What is asked of an offset; see `diagnose`."""

    offset_min_m: float
    doubted: frozenset[str]

    def is_doubted(self, match: Comparison) -> bool:
        """Say whether the settings contradict each other about a prediction."""
        readings = () if match.candidate is None else match.candidate.readings
        return any(not self.doubted.isdisjoint(each.topics) for each in readings)


def _diagnose_turning(core: Observed, predictions: Predictions, asked: _Asked) -> Diagnosis:
    """Return the answer without what turns with the aircraft, where that has a name."""
    found = _diagnose_core(core, predictions, asked)
    last = found.named[-1] if found.named else compare(core, None)
    turning = match_turning(core, last.rest_dz, last.rest_plan, predictions.turning)
    turned = list_turned(turning)
    if len(turned) != 1 or not turned[0].has_power:
        return _with(found, turning=turning)
    if turned[0].reaches_far:
        return _with(found, verdict=Verdict.TURNED, turning=turning, named=(), tied=(), pairs=())
    return _with(_diagnose_core(turned[0].subtract(core), predictions, asked), turning=turning)


def _diagnose_core(core: Observed, predictions: Predictions, asked: _Asked) -> Diagnosis:
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
    if not _has_offset(none, asked.offset_min_m):
        return _look_for_patterns(_with(base, verdict=Verdict.NO_OFFSET), core, none, predictions)
    inside = tuple(each for each in ranked if each.is_inside)
    if inside:
        return _weigh_inside(base, core, inside, predictions, asked)
    pairs = tuple(find_pairs(core, ranked))
    if len(pairs) == 1 and _is_sure(core, pairs[0], ranked, asked):
        return _name(base, core, (pairs[0].lead, pairs[0].second), predictions)
    verdict = Verdict.TIED if pairs else Verdict.UNEXPLAINED
    # What changes over the site is looked for without what the pair takes away.
    last = pairs[0].second if pairs else none
    return _look_for_patterns(_with(base, verdict=verdict, pairs=pairs), core, last, predictions)


def _weigh_inside(
    base: Diagnosis,
    core: Observed,
    inside: tuple[Comparison, ...],
    predictions: Predictions,
    asked: _Asked,
) -> Diagnosis:
    """Return the answer where at least one prediction fits alone."""
    if not any(each.has_power for each in inside):
        # A tilt widens the gates until something small lies inside: it is told by itself.
        kept = core.count >= FEWEST_FOR_PATTERNS and _list_kept(core, compare(core, None))
        return _with(base, verdict=Verdict.NO_POWER, tied=inside, parameters=kept or ())
    if len(inside) > 1:
        return _with(base, verdict=Verdict.TIED, tied=inside)
    chance = find_coincidence(inside[0], base.ranked)
    if chance > MOST_BY_CHANCE and not asked.is_doubted(inside[0]):
        return _with(base, verdict=Verdict.POSSIBLE, tied=inside, coincidence=chance)
    named = _name(base, core, inside, predictions)
    return _with(named, further=find_further(core, inside[0], base.ranked, asked.offset_min_m))


def _is_sure(core: Observed, pair: Pair, ranked: Sequence[Comparison], asked: _Asked) -> bool:
    """Say whether a pair is one, and its second part no coincidence."""
    if has_rival(core, pair, ranked):
        return False
    rest = match_all(subtract(core, pair.lead), list_others(pair.lead, ranked))
    rare = find_coincidence(pair.second, rest) <= MOST_BY_CHANCE
    return rare or asked.is_doubted(pair.second)


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
    observed: Observed, predictions: Predictions, asked: _Asked
) -> Diagnosis | None:
    """Return the answers for groups of points, where at least one of them has a name."""
    parts = []
    for part in split_by_gap(observed):
        mask: Mask = np.isin(np.array(observed.ids), part.ids)
        answer = _diagnose_core(part, predictions.take(mask), asked)
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
