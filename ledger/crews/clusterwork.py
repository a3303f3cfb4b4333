"""What a worker of a cluster does: one task, from bytes to bytes."""

from __future__ import annotations

import pickle

from distributed import get_worker

from ledger.contract.portions import carry_out, open_kit
from ledger.crews.examining import find_unseen
from ledger.crews.telling import Teller

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
    unseen = find_unseen([(each.path, each.header.file_size) for each in listed])
    if unseen:
        raise UnseenFileError(unseen)
    teller = _make_teller(number, topic)
    answer = carry_out(open_kit(pickle.loads(kit)), listed, teller)  # noqa: S301 - the same
    teller.flush()
    return pickle.dumps(answer, pickle.HIGHEST_PROTOCOL)


def _make_teller(number: int, topic: str) -> Teller:
    worker = get_worker()
    return Teller(
        lambda points: worker.log_event(topic, {"number": number, "points": points}),
        lambda sentence: worker.log_event(topic, {"number": number, "said": sentence}),
        _INTERVAL_S,
    )
