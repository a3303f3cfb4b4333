"""Which predictions fit, alone or two together, and which the site cannot tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.candidate import Candidate
from lidar_checks.ground.causes.comparison import Comparison, compare
from lidar_checks.ground.causes.observed import Observed
from lidar_checks.ground.causes.surface import weigh_surfaces

SHARE_EXPLAINED = 0.9
"""A leading cause takes away at least this share of the root mean square (common practice, no
source)."""


@dataclass(frozen=True, eq=False)
class Pair:
    """Two causes that come together.

    Args:
        lead: against the residuals as they are.
        second: against what the lead leaves.
    """

    lead: Comparison
    second: Comparison


def match_all(observed: Observed, candidates: Sequence[Candidate]) -> list[Comparison]:
    """Return every prediction against the residuals, the nearest first."""
    none = compare(observed, None)
    found = [compare(observed, candidate) for candidate in candidates]
    return sorted(
        weigh_surfaces(observed, none, found),
        key=lambda each: (each.slope_contradicts or each.spreads, each.distance),
    )


def subtract(observed: Observed, comparison: Comparison) -> Observed:
    """Return the residuals that a prediction leaves; nothing of the cloud is changed."""
    return replace(
        observed,
        dz=comparison.rest_dz,
        dx=comparison.rest_plan[:, 0],
        dy=comparison.rest_plan[:, 1],
    )


def find_pairs(observed: Observed, found: Sequence[Comparison]) -> list[Pair]:
    """Return the pairs of predictions that fit together where none fits alone.

    The first takes away nearly all of the heights, or what it leaves lies in plan alone.
    """
    pairs: list[Pair] = []
    before = compare(observed, None).rest.rmse
    for lead in found:
        if not lead.has_power or lead.candidate is None:
            continue
        if not _explains(lead, before) and abs(lead.height.difference) > lead.height.gate:
            continue
        others = list_others(lead, found)
        rest = subtract(observed, lead)
        pairs += [
            Pair(lead, second)
            for second in match_all(rest, others)
            if second.is_inside and second.has_power and not _is_listed(pairs, lead, second)
        ]
    return pairs


def has_rival(observed: Observed, pair: Pair, found: Sequence[Comparison]) -> bool:
    """Say whether another prediction takes away as much as the lead of a pair does.

    What that leaves may be a mistake that nobody predicted, so that the pair has no name.
    """
    before = compare(observed, None).rest.rmse
    return any(
        each is not pair.lead
        and each.candidate is not None
        and pair.second.candidate is not None
        and each.candidate.id != pair.second.candidate.id
        and _explains(each, before)
        for each in found
    )


def _explains(lead: Comparison, before: float) -> bool:
    return lead.rest.rmse <= (1 - SHARE_EXPLAINED) * before


def list_others(lead: Comparison, found: Sequence[Comparison]) -> list[Candidate]:
    """Return what may come on top of a prediction, no better known than both together are."""
    first = lead.candidate
    if first is None:
        return []
    return [
        replace(
            second,
            sigma_plan_m=math.hypot(first.sigma_plan_m, second.sigma_plan_m),
            sigma_height_m=math.hypot(first.sigma_height_m, second.sigma_height_m),
        )
        for each in found
        if (second := each.candidate) is not None and second.group != first.group
    ]


def find_further(
    observed: Observed, lead: Comparison, found: Sequence[Comparison], least_m: float
) -> tuple[Comparison, ...]:
    """Return what may come on top of a named cause, by what it leaves.

    Nothing where that is chance, or too little to be looked into. What the cause itself is not
    known to may be all of it, so that nothing of this is a name.

    Args:
        observed: the residuals.
        lead: the named cause.
        found: all predictions.
        least_m: an offset below is not looked into.
    """
    rest = subtract(observed, lead)
    left = compare(rest, None)
    if left.distance <= 1 or abs(left.height.difference) <= max(least_m, left.height.gate):
        return ()
    group = "" if lead.candidate is None else lead.candidate.group
    others = [c for each in found if (c := each.candidate) is not None and c.group != group]
    matches = match_all(rest, others)
    return tuple(each for each in matches if each.is_inside and each.has_power)


def _is_listed(pairs: Sequence[Pair], lead: Comparison, second: Comparison) -> bool:
    """Say whether the same two stand there already, the other way round."""
    return any(
        pair.lead.candidate is not None
        and second.candidate is not None
        and pair.lead.candidate.id == second.candidate.id
        and pair.second.candidate is not None
        and lead.candidate is not None
        and pair.second.candidate.id == lead.candidate.id
        for pair in pairs
    )


def split_by_gap(observed: Observed) -> list[Observed]:
    """Return groups of points between whose height residuals there is a wide gap.

    A group is a set of at least three; the points of smaller ones are left out of all.
    """
    order = np.argsort(observed.dz)
    values = observed.dz[order]
    steps = np.diff(values)
    usual = max(float(np.median(steps)), _LEAST_STEP_M) if len(steps) else 0.0
    cuts = np.flatnonzero(steps > _GAP_IN_STEPS * usual) + 1
    if not cuts.size:
        return []
    groups = []
    for part in np.split(order, cuts):
        if len(part) >= FEWEST_FOR_CAUSES:
            mask = np.zeros(observed.count, dtype=np.bool_)
            mask[part] = True
            groups.append(observed.take(mask))
    return groups if len(groups) > 1 else []


FEWEST_FOR_CAUSES = 3
_GAP_IN_STEPS = 10.0
_LEAST_STEP_M = 0.01
