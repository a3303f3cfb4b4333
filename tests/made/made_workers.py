"""Checks that misbehave in a worker process, and a crew that works here and in any order.

A module of its own: a process that is started anew has to find these classes by name.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import random
import signal
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any, Self

from ledger.contract.check import Check, Plan, PointCheck
from ledger.contract.crew import Advanced, Answered, Event, Lost
from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.pieces import Piece
from ledger.contract.portions import Answer, Kit, PieceAnswer, carry_out, open_kit
from ledger.model.ask import NoProgress
from ledger.model.audit import WHOLE_DELIVERY, Plugin
from ledger.model.finding import Finding

PLUGIN = Plugin("stranger", "4.2", "ab" * 32, "made_workers")


class Count:
    """Counts points."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.count = 0

    def chunk(self, points: Any) -> None:
        """Count."""
        self.count += len(points)

    def merge(self, other: Count) -> None:
        """Add."""
        self.count += other.count

    def close(self) -> Any:
        """Return the count."""
        return self.count


class Counts(PointCheck):
    """Passes every file that it has seen whole, and the delivery, whatever it saw of it."""

    id = "counts"
    title = "Counts points"

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Return an empty count."""
        return Count()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        """Pass every file seen."""
        yield self.conforms(WHOLE_DELIVERY, "All is well.", observed=str(list(summaries.items())))


class Troubled(Counts):
    """Does something to the worker that reads one of the files.

    Attributes:
        id: of the check.
        victim: name of the file.
        mark: a file that says that it was done; None to do it again and again.
    """

    id = "troubled"

    def __init__(self, victim: str, deed: str, mark: Path | None = None) -> None:
        """Take the file, the deed, and where it is noted once it is done."""
        self.victim, self.deed, self.mark = victim, deed, mark

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Do it, in a worker."""
        is_worker = multiprocessing.parent_process() is not None
        if file.path == self.victim and is_worker and not (self.mark and self.mark.exists()):
            if self.mark:
                self.mark.touch()
            DEEDS[self.deed]()
        return Count()


def _kill() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _hang() -> None:
    time.sleep(600)


DEEDS: dict[str, Callable[[], None]] = {
    "kill": _kill,
    "hang": _hang,
    "exit": partial(os._exit, 7),
}


BABBLE = (b"\x80 no pickle", pickle.dumps("no answer"), 42)


def babble(sent: object, *_task: object) -> object:
    """Answer a task as a worker of a cluster that is out of its mind."""
    return sent


class Unsendable(Counts):
    """Makes a summary that cannot be sent, or that breaks where it is opened."""

    id = "unsendable"

    def __init__(self, *, opens: bool) -> None:
        """Say whether it breaks here or there."""
        self.opens = opens

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Return a count that closes to it."""
        return _BadCount(opens=self.opens)


class _BadCount(Count):
    def __init__(self, *, opens: bool) -> None:
        super().__init__()
        self.opens = opens

    def close(self) -> Any:
        return _Bomb() if self.opens else (lambda: None)


class _Bomb:
    def __reduce__(self) -> tuple[Any, ...]:
        return int, ("no number",)


class Raises(Counts):
    """Raises and prints at some files, with their names."""

    id = "raises"

    def __init__(self, *victims: str) -> None:
        """Take the names."""
        self.victims = victims

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        """Raise at them."""
        print(f"looking at {file.path}")  # noqa: T201 - what a plugin should not do
        if file.path in self.victims:
            raise ValueError(f"not {file.path}")
        return Count()


class Shuffled:
    """A crew that works in this process, in any order, and loses what it is told to lose."""

    def __init__(self, kit: Kit, seed: int, losses: int = 0, size: int = 3) -> None:
        """Take the kit, a seed, and how many of the first tasks come to nothing."""
        self.size = size
        self._tools = pickle.dumps(kit)
        self._random = random.Random(seed)
        self._losses = losses
        self._held: list[tuple[int, bytes]] = []

    @property
    def idle(self) -> int:
        """Return how many tasks can be handed out now."""
        return self.size - len(self._held)

    def __enter__(self) -> Self:
        """Use as a context."""
        return self

    def __exit__(self, *_error: object) -> None:
        """Forget everything."""
        self._held.clear()

    def hand_out(self, number: int, pieces: tuple[Piece, ...]) -> None:
        """Take a task."""
        self._held.append((number, pickle.dumps(pieces)))

    def wait(self) -> Iterator[Event]:
        """Do one of the tasks, or lose it."""
        number, packed = self._held.pop(self._random.randrange(len(self._held)))
        pieces = pickle.loads(packed)  # noqa: S301 - made above
        yield Advanced(number, 1)
        if self._losses:
            self._losses -= 1
            yield self._lose(number, pieces)
            return
        answer = carry_out(open_kit(pickle.loads(self._tools)), pieces, NoProgress())  # noqa: S301
        yield Answered(number, pickle.loads(pickle.dumps(answer)))  # noqa: S301
        yield Answered(number, None)  # it says more than it was asked

    def _lose(self, number: int, pieces: tuple[Piece, ...]) -> Event:
        rubbish: list[object] = [
            None,
            "rubbish",
            Answer((), {}, {}),
            Answer((PieceAnswer(),) * (len(pieces) + 1), {}, {}),
            Answer((None,) * len(pieces), {}, {}),  # type: ignore[arg-type]
            Answer(tuple(PieceAnswer() for _ in pieces), {"counts": 3}, {}),  # type: ignore[dict-item]
        ]
        chosen = self._random.randrange(len(rubbish) + 1)
        if chosen == len(rubbish):
            return Lost(number, "its worker was ended by SIGKILL")
        return Answered(number, rubbish[chosen])


def enable(check: Check) -> EnabledCheck:
    """Return a check as an audit enables it, with the defaults of its criteria."""
    return EnabledCheck(check=check, plugin=PLUGIN, criteria=check.criteria())
