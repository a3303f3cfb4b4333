"""What a worker process does from its start to its end: open the kit, then answer task by task.

Messages are pickled tuples of a word and what belongs to it. The process that sends the tasks and
this one trust each other; the pipe between them has no name that another program could open.
"""

from __future__ import annotations

import pickle
import signal
import time
from multiprocessing.connection import Connection

from ledger.contract.portions import carry_out, open_kit

READY, ADVANCED, SAID, ANSWERED = "ready", "advanced", "said", "answered"

# Between two signs of life; more often, the reader of them would have no time for anything else.
_INTERVAL_S = 0.25


def serve(connection: Connection, kit: bytes) -> None:
    """Work until the other side hangs up.

    Args:
        connection: to the process that hands out tasks.
        kit: a `Kit`, pickled.
    """
    # Ctrl-C is meant for the process that started this one, which ends it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        tools = open_kit(pickle.loads(kit))  # noqa: S301 - from the process that started this one
        _send(connection, READY)
        while True:
            number, pieces = pickle.loads(connection.recv_bytes())  # noqa: S301 - the same
            teller = _Teller(connection, number)
            answer = carry_out(tools, pieces, teller)
            teller.flush()
            _send(connection, ANSWERED, number, answer)
    except (EOFError, OSError):
        return  # whoever asked is gone


def _send(connection: Connection, *parts: object) -> None:
    connection.send_bytes(pickle.dumps(parts, pickle.HIGHEST_PROTOCOL))


class _Teller:
    """Tells the other side of points and of calls that go on and on."""

    def __init__(self, connection: Connection, number: int) -> None:
        self._connection = connection
        self._number = number
        self._points = 0
        self._told = time.monotonic()

    def start(self, label: str, total: int, unit: str) -> None:
        """Ignore the start: the other side knows it."""

    def finish(self) -> None:
        """Ignore the end."""

    def advance(self, amount: int) -> None:
        """Count points, and tell of them now and then; no point at all is a sign of life."""
        self._points += amount
        if time.monotonic() - self._told >= _INTERVAL_S:
            self.flush()

    def flush(self) -> None:
        """Tell of the points that were not told yet."""
        _send(self._connection, ADVANCED, self._number, self._points)
        self._points, self._told = 0, time.monotonic()

    def notice(self, sentence: str) -> None:
        """Pass on a sentence."""
        _send(self._connection, SAID, sentence)
