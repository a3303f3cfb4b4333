"""What a search found, as plain records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Hit:
    """One record that holds all the words.

    Args:
        kind: `run`, `step`, `flight`, `rig`, `statement`, `file`, `audit`, `acceptance` or `job`.
        id: what to call it: an id, or the path of a file.
        entry: number of the entry that holds it.
        time: when that was entered, UTC.
        by: function of the person who entered it.
        matched: label and text of every part that holds one of the words.
        next: what to type to see more of it.
    """

    kind: str
    id: str
    entry: int
    time: str
    by: str
    matched: tuple[tuple[str, str], ...]
    next: str


@dataclass(frozen=True)
class FindResult:
    """What a search found.

    Args:
        words: what was searched for.
        hits: in the order of the job: rigs, flights, files, runs, steps, statements, audits,
            acceptances.
    """

    words: tuple[str, ...]
    hits: tuple[Hit, ...]
