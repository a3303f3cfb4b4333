"""Progress on a terminal: how much, how fast, how long still."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import (
    BarColumn,
    DownloadColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
    TransferSpeedColumn,
)
from rich.text import Text


class _RateColumn(ProgressColumn):
    """Units per second, for work that is not counted in bytes."""

    def render(self, task: Task) -> Text:
        speed = task.finished_speed or task.speed
        unit = task.fields["unit"]
        return Text("" if speed is None else f"{speed:,.0f} {unit}/s")


class TerminalProgress:
    """Shows progress on stderr, and nothing where stderr is no terminal."""

    def __init__(self) -> None:
        """Prepare; nothing is shown before work starts."""
        self._console = Console(stderr=True)
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def start(self, label: str, total: int, unit: str) -> None:
        """Begin a piece of work of `total` units."""
        self.finish()
        columns: tuple[ProgressColumn, ...] = (
            (DownloadColumn(), TransferSpeedColumn())
            if unit == "bytes"
            else (MofNCompleteColumn(), _RateColumn())
        )
        self._bar = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            *columns,
            TimeRemainingColumn(),
            console=self._console,
            disable=not sys.stderr.isatty(),
            transient=True,
        )
        self._bar.start()
        self._task = self._bar.add_task(label, total=total or None, unit=unit)

    def advance(self, amount: int) -> None:
        """Add `amount` units to what is done."""
        if self._bar is not None and self._task is not None:
            self._bar.advance(self._task, amount)

    def finish(self) -> None:
        """End the current piece of work and clear its line."""
        if self._bar is not None:
            self._bar.stop()
        self._bar = self._task = None

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
