"""How epochs follow on each other: the usual step, what is absent, the longest gaps.

One pass, without knowing the step beforehand and with bounded memory: differences are counted by
the millisecond, and of the long ones the longest are kept.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import heapq
from collections import Counter

from ledger.dataclass import dataclass

# A step is missing an epoch when it is this much longer than the usual one: clocks jitter.
_LONGER = 1.5
_MOST_GAPS = 50
# More different steps than this have no usual one that would mean anything.
_MOST_STEPS = 10_000


@dataclass(frozen=True)
class SpacingFacts:
    """How the epochs of a log lie in time.

    Args:
        step_s: most frequent seconds from epoch to epoch, the shorter of two alike; None for fewer
            than two epochs.
        missing: epochs that are absent between the first and the last.
        gaps: the longest gaps of more than one step: seconds at its begin and its length, in order
            of time.
        repeated: epochs that have the time of the one before.
        backward: epochs that are earlier than the one before.
    """

    step_s: float | None
    missing: int
    gaps: tuple[tuple[float, float], ...]
    repeated: int
    backward: int

    @property
    def longest_gap_s(self) -> float:
        """Return the seconds of the longest gap; 0 for none."""
        return max((seconds for _, seconds in self.gaps), default=0.0)


class Spacing:
    """Takes in epoch after epoch."""

    def __init__(self) -> None:
        """Start without an epoch."""
        self._last: float | None = None
        self._steps: Counter[int] = Counter()
        self._longest: list[tuple[float, float]] = []
        self._repeated = self._backward = 0

    def add(self, seconds: float) -> None:
        """Take in the time of the next epoch; one that goes back in time counts and is skipped."""
        last = self._last
        if last is None:
            self._last = seconds
            return
        step = seconds - last
        if step <= 0:
            self._repeated += step == 0
            self._backward += step < 0
            return
        self._last = seconds
        self.add_step(last, step)

    def add_step(self, begin: float, step: float, times: int = 1) -> None:
        """Take in a step forward, or several of one length of which the first begins there."""
        key = round(step * 1000)
        if key in self._steps or len(self._steps) < _MOST_STEPS:
            self._steps[key] += times
        if len(self._longest) < _MOST_GAPS:
            heapq.heappush(self._longest, (step, begin))
        elif step > self._longest[0][0]:
            heapq.heapreplace(self._longest, (step, begin))

    def add_faults(self, repeated: int, backward: int) -> None:
        """Count epochs that were found not to go forward."""
        self._repeated += repeated
        self._backward += backward

    def close(self, stated_s: float | None = None) -> SpacingFacts:
        """Return what the epochs show together.

        Args:
            stated_s: seconds from epoch to epoch as the file states them; where it states fewer
                than most steps have, those are what is absent from it.
        """
        if not self._steps:
            return SpacingFacts(None, 0, (), self._repeated, self._backward)
        usual = max(self._steps, key=lambda key: (self._steps[key], -key))
        step = usual
        if stated_s is not None and stated_s > 0:
            usual = min(usual, max(1, round(stated_s * 1000)))
        missing = sum(
            count * (round(key / usual) - 1)
            for key, count in self._steps.items()
            if usual and key > _LONGER * usual
        )
        least = _LONGER * usual / 1000
        gaps = sorted((begin, length) for length, begin in self._longest if length > least)
        return SpacingFacts(step / 1000, missing, tuple(gaps), self._repeated, self._backward)
