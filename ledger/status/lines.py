"""What the bare command says, as plain records."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class StatusLine:
    """One thing that a person wants to know.

    Args:
        topic: one or two words: `raw data`, `runs`, `last audit`.
        sentence: how it stands.
        next: what to type about it; empty when nothing has to be done.
    """

    topic: str
    sentence: str
    next: str = ""


@dataclass(frozen=True)
class StatusResult:
    """Where the job stands.

    Args:
        job: the job folder; None outside a job.
        state: one line for each topic, in the order of the work.
    """

    job: Path | None
    state: tuple[StatusLine, ...]

    @property
    def next(self) -> str:
        """Return what to type next: the first thing that waits, in the order of the work."""
        return next((line.next for line in self.state if line.next), "")
