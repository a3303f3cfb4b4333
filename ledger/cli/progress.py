"""Progress on a terminal: how much, how fast, how long still, where the work takes a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import TYPE_CHECKING, Self

from ledger.loading import load_part
from ledger.model.filename import escape_for_screen

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
        # While plugins are at work, sys.stderr is theirs.
        self._stream = sys.stderr
        self._work: _Work | None = None
        self._bar: Bar | None = None

    def start(self, label: str, total: int, unit: str) -> None:
        """Begin a piece of work of `total` units."""
        self.finish()
        if self._stream is not None and self._stream.isatty():
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
                self._stream, self._work.label, self._work.total, self._work.unit, self._work.done
            )

    def notice(self, sentence: str) -> None:
        """Say something at once, above the bar where one is shown; also where no terminal is."""
        if self._bar is not None:
            self._bar.notice(sentence)
        elif self._stream is not None:
            print(f"swathbook: {escape_for_screen(sentence)}", file=self._stream, flush=True)

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
