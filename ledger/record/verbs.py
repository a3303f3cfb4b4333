"""What is recorded and how that is typed: the words that runs and steps do not share."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Verb:
    """A kind of process, and the command that records one.

    Args:
        kind: `run` or `step`.
        command: what is typed before its outputs.
        prefix: letter of its ids.
    """

    kind: str
    command: str
    prefix: str


RUN = Verb("run", "swathbook record", "R")
STEP = Verb("step", "swathbook record step", "S")
