"""How often an offset that no record knows would equal one of this job's numbers.

A job has some twenty numbers, each with a gate. Of all offsets of up to twice the observed size,
whatever their sign, a share lies inside one of those gates and would be taken for its cause. Where
that share is large, that a number fits says little by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from lidar_checks.ground.causes.comparison import Comparison, Component

MOST_BY_CHANCE = 0.05
"""So large a share of like offsets may be taken for a cause by chance where nothing but the number
speaks for it (common practice, no source)."""

# Offsets that might as well have come are taken up to so many times the observed one.
_REACH = 2.0
_ALIKE = 2.0


def find_coincidence(match: Comparison, ranked: Sequence[Comparison]) -> float:
    """Return the share of offsets like the observed one that some prediction would explain.

    Args:
        match: the prediction that fits.
        ranked: all predictions, that one among them.
    """
    able = [each for each in ranked if each.has_power]
    plan = match.components[:-1]
    if any(abs(axis.observed) > axis.gate for axis in plan):
        return _find_volume(match, able)
    # Nothing is seen in plan: what would be seen there is no rival, nor what scatters far more.
    alike = [
        each
        for each in able
        if all(map(_is_met, each.components[:-1])) and each.rest.s <= _ALIKE * match.rest.s
    ]
    return _find_length(match.height, [each.height for each in alike])


def _is_met(axis: Component) -> bool:
    return abs(axis.difference) <= axis.gate


def _find_length(height: Component, rivals: Iterable[Component]) -> float:
    """Return the share of a line that gates cover, however they overlap."""
    reach = _REACH * max(abs(height.observed), height.gate)
    spans = sorted((each.predicted - each.gate, each.predicted + each.gate) for each in rivals)
    covered, end = 0.0, -reach
    for low, high in spans:
        begin, stop = max(low, end), min(high, reach)
        if stop > begin:
            covered += stop - begin
            end = stop
    return covered / (2 * reach)


def _find_volume(match: Comparison, able: Iterable[Comparison]) -> float:
    """Return the share of a cube that gates cover."""
    observed = np.array([axis.observed for axis in match.components])
    reach = _REACH * float(np.abs(observed).max())
    covered = sum(
        float(np.prod([2 * axis.gate for axis in each.components]))
        for each in able
        if all(abs(axis.predicted) <= reach for axis in each.components)
    )
    return float(min(1.0, covered / (2 * reach) ** len(observed)))
