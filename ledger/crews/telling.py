"""How whoever reads points for somebody else tells of it: now and then, and in few words."""

from __future__ import annotations

import time
from collections.abc import Callable


class Teller:
    """Progress that is passed on to where the task came from, by whatever leads there."""

    def __init__(
        self,
        tell_points: Callable[[int], None],
        tell_sentence: Callable[[str], None],
        interval_s: float,
    ) -> None:
        """Begin to count.

        Args:
            tell_points: passes on how many points were read since it was called last.
            tell_sentence: passes on a sentence.
            interval_s: between two signs of life.
        """
        self._tell_points = tell_points
        self._tell_sentence = tell_sentence
        self._interval_s = interval_s
        self._points = 0
        self._told = time.monotonic()

    def start(self, label: str, total: int, unit: str) -> None:
        """Ignore the start: the other side knows it."""

    def finish(self) -> None:
        """Ignore the end."""

    def advance(self, amount: int) -> None:
        """Count points, and tell of them now and then; no point at all is a sign of life."""
        self._points += amount
        if time.monotonic() - self._told >= self._interval_s:
            self.flush()

    def flush(self) -> None:
        """Tell of the points that were not told yet."""
        self._tell_points(self._points)
        self._points, self._told = 0, time.monotonic()

    def notice(self, sentence: str) -> None:
        """Pass on a sentence."""
        self._tell_sentence(sentence)
