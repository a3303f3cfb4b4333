"""What a worker of a cluster does: one task, from bytes to bytes."""

from __future__ import annotations

import pickle
import time

from distributed import get_worker

from ledger.contract.portions import carry_out, open_kit
from ledger.crews.examining import find_unseen

# Between two signs of life; each passes through the scheduler.
_INTERVAL_S = 2.0


class UnseenFileError(Exception):
    """The worker does not see a file as it lies where the audit was begun."""


def work(kit: bytes, pieces: bytes, number: int, topic: str) -> bytes:
    """Carry out a task and return its answer.

    Args:
        kit: a `Kit`, pickled.
        pieces: the pieces of the task, pickled.
        number: of the task.
        topic: where progress is told.

    Raises:
        UnseenFileError: one of the files is not here.
    """
    listed = pickle.loads(pieces)  # noqa: S301 - of the client, who may run anything here anyway
    unseen = find_unseen([(str(each.path), each.header.file_size) for each in listed])
    if unseen:
        raise UnseenFileError(unseen)
    teller = _Teller(number, topic)
    answer = carry_out(open_kit(pickle.loads(kit)), listed, teller)  # noqa: S301 - the same
    teller.flush()
    return pickle.dumps(answer, pickle.HIGHEST_PROTOCOL)


class _Teller:
    """Tells the client of points and of calls that go on and on."""

    def __init__(self, number: int, topic: str) -> None:
        self._worker = get_worker()
        self._number = number
        self._topic = topic
        self._points = 0
        self._told = time.monotonic()

    def start(self, label: str, total: int, unit: str) -> None:
        """Ignore the start: the client knows it."""

    def finish(self) -> None:
        """Ignore the end."""

    def advance(self, amount: int) -> None:
        """Count points, and tell of them now and then; no point at all is a sign of life."""
        self._points += amount
        if time.monotonic() - self._told >= _INTERVAL_S:
            self.flush()

    def flush(self) -> None:
        """Tell of the points that were not told yet."""
        message = {"number": self._number, "points": self._points}
        self._worker.log_event(self._topic, message)
        self._points, self._told = 0, time.monotonic()

    def notice(self, sentence: str) -> None:
        """Pass on a sentence."""
        self._worker.log_event(self._topic, {"number": self._number, "said": sentence})
