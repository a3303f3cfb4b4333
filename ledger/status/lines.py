"""What the bare command says, as plain records."""

from __future__ import annotations

from pathlib import Path

from ledger.copies import Copies
from ledger.dataclass import dataclass
from ledger.model.nextstep import NOTHING, NextStep


@dataclass(frozen=True)
class StatusLine:
    """One thing that a person wants to know.

    Args:
        topic: one or two words: `raw data`, `runs`, `last audit`.
        sentence: how it stands.
        step: what to type about it; empty when nothing has to be done.
        can_wait: the step is worth doing, and nothing later in the work depends on it.
        is_alarm: something was found wrong; said first, before all else.
    """

    topic: str
    sentence: str
    step: NextStep = NOTHING
    can_wait: bool = False
    is_alarm: bool = False


@dataclass(frozen=True)
class StatusResult:
    """Where the job stands.

    Args:
        job: the job folder; None outside a job.
        state: alarms, then one line for each topic, in the order of the work.
        unexplained: every file that no run or step explains, as the book writes paths.
        copies: where the raw files lie; None outside a job.
    """

    job: Path | None
    state: tuple[StatusLine, ...]
    unexplained: tuple[str, ...] = ()
    copies: Copies | None = None

    @property
    def step(self) -> NextStep:
        """Return what to type next: the first thing that waits, in the order of the work.

        What can wait comes after what cannot.
        """
        waiting = [line for line in self.state if line.step.command]
        waiting.sort(key=lambda line: line.can_wait)
        return waiting[0].step if waiting else NOTHING
