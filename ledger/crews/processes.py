"""A crew of processes of this machine, each started anew and never copied from this one.

Invariants:

- Leaving the context ends every process, whatever it is doing.
- A process that ended, or was silent for too long, is replaced.
- What a process sends is opened with care: whatever it is, it costs its own task at most.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import pickle
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Self

from ledger.contract.crew import Advanced, Answered, Ended, Event, Lost, Said
from ledger.contract.guard import describe_exception
from ledger.contract.pieces import Piece
from ledger.contract.portions import Kit
from ledger.crews.serving import ADVANCED, ANSWERED, READY, SAID, serve
from ledger.model.phrases import count_things

SILENCE_S = 600.0
"""After so long without a sign of life a worker is given up. Common practice, no source."""

_MOMENT_S = 0.2
_FAREWELL_S = 2.0
# Processes in a row that end before they are ready: no other will do better.
_MOST_FALSE_STARTS = 3


@dataclass
class _Worker:
    process: SpawnProcess
    connection: Connection
    is_ready: bool = False
    number: int | None = None
    heard: float = field(default_factory=time.monotonic)

    def is_silent(self, seconds: float) -> bool:
        """Say whether nothing was heard of it for so long, although something should have been."""
        silence = time.monotonic() - self.heard
        if not self.is_ready:  # it loads what it needs, from a slow drive perhaps
            return silence > SILENCE_S
        return self.number is not None and silence > seconds


class ProcessCrew:
    """Processes that read points; use as a context."""

    def __init__(self, kit: Kit, size: int, silence_s: float = SILENCE_S) -> None:
        """Prepare; processes are started when work is handed out.

        Args:
            kit: what each is given.
            size: how many.
            silence_s: after so many seconds without a sign of life one is given up.
        """
        self._kit = pickle.dumps(kit, pickle.HIGHEST_PROTOCOL)
        self._size = size
        self._silence_s = silence_s
        self._workers: list[_Worker] = []
        self._false_starts = 0

    @property
    def size(self) -> int:
        """Return how many work at once."""
        return self._size

    @property
    def idle(self) -> int:
        """Return how many tasks can be handed out now."""
        return sum(each.is_ready and each.number is None for each in self._workers)

    @property
    def processes(self) -> tuple[SpawnProcess, ...]:
        """Return the processes that run now."""
        return tuple(each.process for each in self._workers)

    def __enter__(self) -> Self:
        """Start the processes; the first task waits until one of them is ready."""
        for _ in range(self._size):
            self._start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End every process: at once where something went wrong or it is busy."""
        for worker in self._workers:
            worker.connection.close()
            if kind is not None or worker.number is not None or not worker.is_ready:
                worker.process.terminate()
        for worker in self._workers:
            worker.process.join(_FAREWELL_S)
            _end(worker.process)
        self._workers.clear()

    def hand_out(self, number: int, pieces: tuple[Piece, ...]) -> None:
        """Give a task to a process that is idle; what becomes of it is told by `wait`."""
        worker = next(each for each in self._workers if each.is_ready and each.number is None)
        worker.number, worker.heard = number, time.monotonic()
        with contextlib.suppress(OSError):  # it has ended, as `wait` will see
            worker.connection.send_bytes(pickle.dumps((number, pieces), pickle.HIGHEST_PROTOCOL))

    def wait(self) -> Iterator[Event]:
        """Yield what happened, after a moment at most."""
        ready = wait([each.connection for each in self._workers], _MOMENT_S)
        # By identity: what a pipe is has another type on Windows.
        for worker in [each for each in self._workers if each.connection in ready]:
            yield from self._hear(worker)
        for worker in tuple(self._workers):
            if worker.is_silent(self._silence_s):
                seconds = f"{self._silence_s:.0f} s"
                yield from self._replace(worker, f"its worker gave no sign of life for {seconds}")
        if not self._workers:
            yield Ended("no worker process could be started")

    def _hear(self, worker: _Worker) -> Iterator[Event]:
        try:
            raw = worker.connection.recv_bytes()
        except (EOFError, OSError):
            yield from self._replace(worker, _tell_end(worker.process))
            return
        worker.heard = time.monotonic()
        try:
            event = _read_message(raw)
        except Exception as error:  # noqa: BLE001 - whatever a broken process sends
            told = f"its worker sent what cannot be read ({describe_exception(error)})"
            yield from self._replace(worker, told)
            return
        if event is None:
            worker.is_ready, self._false_starts = True, 0
            return
        if isinstance(event, Answered) and event.number == worker.number:
            worker.number = None
        yield event

    def _replace(self, worker: _Worker, why: str) -> Iterator[Event]:
        self._workers.remove(worker)
        _end(worker.process)
        worker.connection.close()
        if not worker.is_ready:
            self._false_starts += 1
        if self._false_starts < _MOST_FALSE_STARTS:
            self._start()
        if worker.number is not None:
            yield Lost(worker.number, why)

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=serve, args=(theirs, self._kit), daemon=True)
        with _holding_back_interruption():
            process.start()
        theirs.close()
        self._workers.append(_Worker(process, ours))


@contextlib.contextmanager
def _holding_back_interruption() -> Iterator[None]:
    """Start a process so that Ctrl-C does not reach it before it can leave that to this one."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end(process: SpawnProcess) -> None:
    if process.is_alive():
        process.terminate()
        process.join(_FAREWELL_S)
    if process.is_alive():
        process.kill()
        process.join()


def _tell_end(process: SpawnProcess) -> str:
    process.join(_FAREWELL_S)
    code = process.exitcode
    if code is None:
        return "its worker hung up"
    if code < 0:
        with contextlib.suppress(ValueError):
            return f"its worker was ended by {signal.Signals(-code).name}"
    return f"its worker ended with status {code}"


def _read_message(raw: bytes) -> Event | None:
    """Return what a process says; None when it says that it is ready.

    Raises:
        Exception: of any kind, where it is no message.
    """
    word, *parts = pickle.loads(raw)  # noqa: S301 - of a process that this one started
    if word == READY:
        return None
    if word == ADVANCED:
        number, points = parts
        return Advanced(int(number), int(points))
    if word == SAID:
        (sentence,) = parts
        return Said(str(sentence))
    if word == ANSWERED:
        number, answer = parts
        return Answered(int(number), answer)
    raise ValueError(f"{count_things(len(raw), 'byte')} that begin with {word!r}")
