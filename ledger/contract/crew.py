"""Who reads points beside this process: the one seam between the pass and where it is done.

A crew is processes of this machine or workers of a cluster. It hands out tasks and tells what
became of each; it decides nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from typing import Protocol

from ledger.contract.pieces import Piece
from ledger.contract.portions import Kit
from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Advanced:
    """A worker read so many points more of a task."""

    number: int
    points: int


@dataclass(frozen=True)
class Answered:
    """A worker sent something back for a task; whether it is an answer is not looked at here."""

    number: int
    answer: object


@dataclass(frozen=True)
class Lost:
    """A task will not be answered, and why."""

    number: int
    why: str


@dataclass(frozen=True)
class Said:
    """A sentence for the person who waits."""

    sentence: str


@dataclass(frozen=True)
class Ended:
    """Nobody is left to work, and why."""

    why: str


Event = Advanced | Answered | Lost | Said | Ended


class Crew(Protocol):
    """Workers that were given a kit."""

    @property
    def size(self) -> int:
        """Return how many work at once."""

    @property
    def idle(self) -> int:
        """Return how many tasks can be handed out now."""

    def hand_out(self, number: int, pieces: tuple[Piece, ...]) -> None:
        """Give a task to somebody who is idle."""

    def wait(self) -> Iterable[Event]:
        """Return what happened since the last call, after a moment at most."""


Hire = Callable[[Kit], AbstractContextManager[Crew]]
"""Brings a crew together; leaving the context sends it away, whatever it is doing."""
