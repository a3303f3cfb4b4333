"""Progress on a terminal: how much, how fast, how long still, where the work takes a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import TYPE_CHECKING, Self

from ledger.loading import load_part

if TYPE_CHECKING:  # small calls never show one
    from ledger.cli.bar import Bar

# Shorter work is over before a bar could be read, and before it would be drawn (by trial).
_PATIENCE_S = 0.5


@dataclass
class _Work:
    """A piece of work under way."""

    label: str
    total: int
    unit: str
    begun: float
    done: int = 0


class TerminalProgress:
    """Shows progress on stderr, and nothing where stderr is no terminal."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Prepare; nothing is shown before work has gone on for a while.

        Args:
            clock: gives seconds.
        """
        self._clock = clock
        self._work: _Work | None = None
        self._bar: Bar | None = None

    def start(self, label: str, total: int, unit: str) -> None:
        """Begin a piece of work of `total` units."""
        self.finish()
        if sys.stderr is not None and sys.stderr.isatty():
            self._work = _Work(label, total, unit, self._clock())

    def advance(self, amount: int) -> None:
        """Add `amount` units to what is done."""
        if self._work is None:
            return
        self._work.done += amount
        if self._bar is not None:
            self._bar.advance(amount)
        elif self._clock() - self._work.begun > _PATIENCE_S:
            self._bar = load_part("ledger.cli.bar", "Bar")(
                self._work.label, self._work.total, self._work.unit, self._work.done
            )

    def finish(self) -> None:
        """End the current piece of work and clear its line."""
        if self._bar is not None:
            self._bar.stop()
        self._bar = self._work = None

    def __enter__(self) -> Self:
        """Use as a context, so that an interruption leaves the terminal whole."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Clear the line whatever happened."""
        self.finish()
