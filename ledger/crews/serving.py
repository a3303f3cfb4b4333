"""What a worker process does from its start to its end: open the kit, then answer task by task.

Messages are pickled tuples of a word and what belongs to it. The process that sends the tasks and
this one trust each other; the pipe between them has no name that another program could open.
"""

from __future__ import annotations

import pickle
import signal
from multiprocessing.connection import Connection

from ledger.contract.portions import carry_out, open_kit
from ledger.crews.telling import Teller

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
            teller = _make_teller(connection, number)
            answer = carry_out(tools, pieces, teller)
            teller.flush()
            _send(connection, ANSWERED, number, answer)
    except (EOFError, OSError):
        return  # whoever asked is gone


def _send(connection: Connection, *parts: object) -> None:
    connection.send_bytes(pickle.dumps(parts, pickle.HIGHEST_PROTOCOL))


def _make_teller(connection: Connection, number: int) -> Teller:
    return Teller(
        lambda points: _send(connection, ADVANCED, number, points),
        lambda sentence: _send(connection, SAID, sentence),
        _INTERVAL_S,
    )
