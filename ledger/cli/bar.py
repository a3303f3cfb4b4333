"""The bar of a piece of work; loaded when some work takes a while."""

from __future__ import annotations

from typing import TextIO

from rich.console import Console
from rich.progress import (
    BarColumn,
    DownloadColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TextColumn,
    TimeRemainingColumn,
    TransferSpeedColumn,
)
from rich.text import Text

from ledger.model.filename import escape_for_screen


class _RateColumn(ProgressColumn):
    """Units per second, for work that is not counted in bytes."""

    def render(self, task: Task) -> Text:
        speed = task.finished_speed or task.speed
        unit = task.fields["unit"]
        return Text("" if speed is None else f"{speed:,.0f} {unit}/s")


class Bar:
    """One line on stderr that says how much, how fast, and how long still."""

    def __init__(self, stream: TextIO, label: str, total: int, unit: str, done: int) -> None:
        """Show it.

        Args:
            stream: where.
            label: what is done.
            total: units in all; 0 where nobody knows.
            unit: `bytes`, `points` or `files`.
            done: units that are done already.
        """
        columns: tuple[ProgressColumn, ...] = (
            (DownloadColumn(), TransferSpeedColumn())
            if unit == "bytes"
            else (MofNCompleteColumn(), _RateColumn())
        )
        self._progress = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            *columns,
            TimeRemainingColumn(),
            console=Console(file=stream),
            transient=True,
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._task = self._progress.add_task(label, total=total or None, completed=done, unit=unit)
        self._progress.start()

    def advance(self, amount: int) -> None:
        """Add `amount` units to what is done."""
        self._progress.advance(self._task, amount)

    def notice(self, sentence: str) -> None:
        """Say something above the line."""
        self._progress.console.print(Text(f"swathbook: {escape_for_screen(sentence)}"))

    def stop(self) -> None:
        """Clear the line."""
        self._progress.stop()
