"""Registering as tests do, and counting what was read."""

from __future__ import annotations

from typing import Any

from job_bench import JobBench

from ledger.model.ask import NoProgress
from ledger.register import (
    RegisterOptions,
    RegisterResult,
    register_paths,
)

NO_PROGRESS = NoProgress()


class Counts(NoProgress):
    """Progress that remembers what it was told."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.total = self.done = 0
        self.labels: list[str] = []

    def start(self, label: str, total: int, unit: str) -> None:
        """Take the total."""
        assert unit == "bytes"
        self.labels.append(label)
        self.total += total

    def advance(self, amount: int) -> None:
        """Add what was done."""
        self.done += amount

    def finish(self) -> None:
        """End."""


def enter(bench: JobBench, *names: str, **options: Any) -> RegisterResult:
    """Register files of the job."""
    paths = [bench.job / name for name in names]
    return register_paths(bench.job, paths, RegisterOptions(**options), NO_PROGRESS)
