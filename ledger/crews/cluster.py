"""A crew of workers of a Dask cluster.

Invariants:

- Nobody works who has other checks, other versions or other files than the computer where the audit
  was begun: who was there first is refused by name, who joins later is left alone and named.
- A task is bound to one worker. Should that one go, it is lost here; the cluster, which would try
  four times, does not decide how often.
- Nothing of a task is kept by its name: the same files audited again are read again.
"""

from __future__ import annotations

import contextlib
import logging
import pickle
import time
import uuid
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Self

from distributed import Client, Future

from ledger.contract.crew import Advanced, Answered, Ended, Event, Lost, Said
from ledger.contract.guard import describe_exception
from ledger.contract.pieces import Piece
from ledger.contract.portions import Kit
from ledger.crews.clusterwork import UnseenFileError, work
from ledger.crews.examining import (
    Sight,
    compare_installations,
    describe_installation,
    find_unseen,
)
from ledger.errors import Fault, UsageError

SILENCE_S = 600.0
_MOMENT_S = 0.1
_LOOK_S = 1.0
_TIMEOUT_S = 10.0
# Whoever watches over a worker that ended starts it again within seconds.
_PATIENCE_S = 60.0
_LOGGERS = ("distributed", "tornado")


class Cluster:
    """A cluster whose workers were examined; use as a context."""

    def __init__(self, address: str) -> None:
        """Connect.

        Args:
            address: of the scheduler (`tcp://host:8786`), or whatever the library takes for one.

        Raises:
            UsageError: nobody answers there, nobody works there, or a worker may not work here.
        """
        self.address = address
        self._levels = [(name, logging.getLogger(name).level) for name in _LOGGERS]
        for name in _LOGGERS:  # what is worth saying is said by us
            logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            self.client = Client(address, timeout=_TIMEOUT_S, set_as_default=False)
        except (OSError, ValueError) as error:
            self._restore_logging()
            raise UsageError(
                "no scheduler of a cluster answers",
                found=describe_exception(error),
                where=address,
                remedy="start one (dask scheduler), or leave out --cluster",
            ) from error
        self._here = describe_installation()
        try:
            self._require_alike()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        """Use as a context."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Disconnect; the cluster goes on."""
        self.close()

    def close(self) -> None:
        """Disconnect."""
        self.client.close()
        self._restore_logging()

    def _restore_logging(self) -> None:
        for name, level in self._levels:
            logging.getLogger(name).setLevel(level)

    def list_workers(self) -> tuple[str, ...]:
        """Return the addresses of the workers that are there now."""
        return tuple(sorted(self.client.scheduler_info(n_workers=-1)["workers"]))

    def start_again(self, worker: str) -> None:
        """Have whoever watches over a worker end it and start another; without one, leave it.

        A worker that hangs would keep what is handed to it next, by another audit too.
        """
        known = self.client.scheduler_info(n_workers=-1)["workers"]
        if known.get(worker, {}).get("nanny"):
            with contextlib.suppress(OSError, TimeoutError):  # it does not answer either
                self.client.restart_workers([worker], timeout=_TIMEOUT_S, raise_for_error=False)

    def find_differences(self, workers: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """Return, by worker, what is not as it is here; workers that are alike are left out."""
        answers = self._ask(describe_installation, workers)
        told = {
            each: compare_installations(self._here, answer)
            if isinstance(answer, Mapping)
            else (f"swathbook: not to be used there ({answer})",)
            for each, answer in answers.items()
        }
        return {each: differences for each, differences in told.items() if differences}

    def require_sight(self, sights: Sequence[Sight]) -> None:
        """Refuse workers that do not see these files with these sizes.

        Raises:
            UsageError: with each worker and what it does not see.
        """
        answers = self._ask(find_unseen, self.list_workers(), list(sights))
        faults = tuple(
            Fault(
                "a worker of the cluster does not see a file as it lies here",
                where=f"{worker}: {unseen}",
                remedy="audit a folder on a drive that every worker has under the same path, or "
                "in a store that each of them reaches with what its own environment holds",
            )
            for worker, unseen in answers.items()
            if unseen
        )
        if faults:
            raise UsageError.from_faults(faults)

    def _ask(self, question: Any, workers: Sequence[str], *given: Any) -> dict[str, Any]:  # noqa: ANN401 - a function
        """Return the answer of each worker, or in words why there is none."""
        if not workers:
            return {}
        try:
            answers = self.client.run(question, *given, workers=list(workers), on_error="return")
        except Exception as error:  # noqa: BLE001 - whatever the library raises for a worker
            return dict.fromkeys(workers, describe_exception(error))
        return {
            each: describe_exception(answer) if isinstance(answer, BaseException) else answer
            for each, answer in answers.items()
        }

    def _require_alike(self) -> None:
        workers = self.list_workers()
        if not workers:
            raise UsageError(
                "nobody works in this cluster", where=self.address, remedy="start workers"
            )
        faults = tuple(
            Fault(
                "a worker of the cluster has something else installed",
                found="; ".join(differences),
                where=worker,
                remedy="install there what is installed here",
            )
            for worker, differences in self.find_differences(workers).items()
        )
        if faults:
            raise UsageError.from_faults(faults)


@dataclass
class _UnderWay:
    worker: str
    future: Future[bytes]
    heard: float = field(default_factory=time.monotonic)


class ClusterCrew:
    """Workers of a cluster that read points; use as a context."""

    def __init__(self, kit: Kit, cluster: Cluster, silence_s: float = SILENCE_S) -> None:
        """Prepare.

        Args:
            kit: what each worker is given.
            cluster: the cluster.
            silence_s: after so many seconds without a sign of life a task is given up.
        """
        self._kit = pickle.dumps(kit, pickle.HIGHEST_PROTOCOL)
        self._cluster = cluster
        self._client = cluster.client
        self._silence_s = silence_s
        self._topic = f"swathbook-{uuid.uuid4()}"
        self._told: deque[dict[str, Any]] = deque()
        self._workers: dict[str, Future[bytes]] = {}
        self._left_alone: set[str] = set()
        self._under_way: dict[int, _UnderWay] = {}
        self._looked = 0.0
        self._seen = time.monotonic()

    @property
    def size(self) -> int:
        """Return how many work at once."""
        return max(len(self._workers), 1)

    @property
    def idle(self) -> int:
        """Return how many tasks can be handed out now."""
        return len(self._workers) - len(self._under_way)

    def __enter__(self) -> Self:
        """Give every worker the kit."""
        self._client.subscribe_topic(self._topic, self._hear)
        list(self._look())
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take back what is under way; a worker ends its call and starts no other."""
        self._client.unsubscribe_topic(self._topic)
        futures = [each.future for each in self._under_way.values()]
        self._client.cancel(futures, force=True)
        self._under_way.clear()
        self._workers.clear()

    def _hear(self, event: tuple[float, Any]) -> None:
        self._told.append(event[1])

    def hand_out(self, number: int, pieces: tuple[Piece, ...]) -> None:
        """Give a task to a worker that is idle; what becomes of it is told by `wait`."""
        busy = {each.worker for each in self._under_way.values()}
        worker = next(each for each in self._workers if each not in busy)
        future: Future[bytes] = self._client.submit(
            work,
            self._workers[worker],
            pickle.dumps(pieces, pickle.HIGHEST_PROTOCOL),
            number,
            self._topic,
            key=f"{self._topic}-{number}",
            workers=[worker],
            allow_other_workers=False,
            retries=0,
            pure=False,
        )
        self._under_way[number] = _UnderWay(worker, future)

    def wait(self) -> Iterator[Event]:
        """Yield what happened, after a moment at most."""
        time.sleep(_MOMENT_S)
        while self._told:
            yield from self._read(self._told.popleft())
        for number, each in tuple(self._under_way.items()):
            if each.future.status != "pending":
                yield self._take(number, each)
        if self._client.status != "running":
            yield Ended("the scheduler of the cluster is gone")
        elif time.monotonic() - self._looked > _LOOK_S:
            yield from self._look()

    def _read(self, message: Mapping[str, Any]) -> Iterator[Event]:
        number = int(message.get("number", 0))
        if number not in self._under_way:
            return
        self._under_way[number].heard = time.monotonic()
        if "said" in message:
            yield Said(f"{self._under_way[number].worker}: {message['said']}")
        else:
            yield Advanced(number, int(message.get("points", 0)))

    def _take(self, number: int, under_way: _UnderWay) -> Event:
        del self._under_way[number]
        worker = under_way.worker
        try:
            raw = under_way.future.result(timeout=self._silence_s)
        except UnseenFileError as error:
            return Lost(number, f"the worker {worker} did not see {error} as it lies here")
        except CancelledError:  # the scheduler noticed before we did that it is gone
            self._workers.pop(worker, None)
            return Lost(number, f"the worker {worker} left the cluster")
        except Exception as error:  # noqa: BLE001 - whatever the library raises
            # It may have ended, and another one may have its address: look at it anew.
            self._workers.pop(worker, None)
            return Lost(number, f"the worker {worker} did not answer ({describe_exception(error)})")
        try:
            return Answered(number, pickle.loads(raw))  # noqa: S301 - of a worker that was examined
        except Exception as error:  # noqa: BLE001 - whatever it sent
            told = describe_exception(error)
            return Lost(number, f"the worker {worker} sent what cannot be read ({told})")

    def _look(self) -> Iterator[Event]:
        """Look who is there: part with those that left, give the kit to those that may work."""
        self._looked = time.monotonic()
        there = set(self._cluster.list_workers())
        for worker in self._workers.keys() - there:
            del self._workers[worker]
        for number, each in tuple(self._under_way.items()):
            why = self._find_end(each, there)
            if why:
                del self._under_way[number]
                self._client.cancel([each.future], force=True)
                yield Lost(number, why)
        joined = sorted(there - self._workers.keys() - self._left_alone)
        differing = self._cluster.find_differences(joined)
        for worker in joined:
            if worker in differing:
                self._left_alone.add(worker)
                yield Said(f"{worker} is left alone: {'; '.join(differing[worker])}")
            else:
                self._equip(worker)
        if self._workers:
            self._seen = self._looked
        elif self._looked - self._seen > _PATIENCE_S:
            yield Ended("every worker of the cluster left")

    def _equip(self, worker: str) -> None:
        """Give the kit to this worker alone: with it goes what it was given."""
        with contextlib.suppress(OSError, TimeoutError):  # it left again; the next look shows
            self._workers[worker] = self._client.scatter(self._kit, workers=[worker], hash=False)

    def _find_end(self, under_way: _UnderWay, there: set[str]) -> str:
        worker = under_way.worker
        if worker not in there:
            return f"the worker {worker} left the cluster"
        if time.monotonic() - under_way.heard > self._silence_s:
            self._workers.pop(worker, None)
            self._left_alone.add(worker)  # should it come back by itself
            self._cluster.start_again(worker)
            return f"the worker {worker} gave no sign of life for {self._silence_s:.0f} s"
        return ""
