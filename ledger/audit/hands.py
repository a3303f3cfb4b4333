"""Who reads the points of an audit: this process, several, or a cluster."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from typing import Any

import psutil

from ledger.contract.crew import Crew, Hire
from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.loading import load_part
from ledger.model.audit import AuditOptions
from ledger.remote.files import Place, look

# Below this, starting others takes longer than it saves: one process decodes on all cores, and a
# worker needs a second of its own to start (measured: tests/bench/bench_workers.py).
FEWEST_POINTS = 10_000_000

# Each worker gets so many points at least.
_LEAST_SHARE = 2_500_000

# What a worker takes, with room for a tile that is larger than most.
_WORKER_BYTES = 512 * 1024 * 1024

# Files by which is told whether a worker sees the folder; each is looked for again when it is read.
_SIGHTS = 3

EXTRA = "swathbook[scale]"


@dataclass(frozen=True)
class Hands:
    """Who may read points.

    Args:
        workers: how many processes are asked for; None for what is best here.
        cluster: the cluster that is asked for; None for none.
    """

    workers: int | None = None
    cluster: Any = None

    def require_sight(self, paths: Iterable[Place]) -> None:
        """Refuse a cluster that does not see the files.

        Raises:
            UsageError: with each worker and what it does not see.
        """
        if self.cluster is not None:
            first = list(paths)[:_SIGHTS]
            self.cluster.require_sight([(path, look(path).bytes) for path in first])

    def choose(self, points: int) -> Hire | None:
        """Return who reads the points; None for this process.

        Args:
            points: how many points the headers state.
        """
        if self.cluster is not None:
            return partial(_load_cluster_crew(), cluster=self.cluster)
        size = self.workers or choose_workers(points)
        return partial(_load_process_crew(), size=size) if size > 1 else None


def _load_process_crew() -> Callable[..., AbstractContextManager[Crew]]:
    crew: Callable[..., AbstractContextManager[Crew]]
    crew = load_part("ledger.crews.processes", "ProcessCrew")
    return crew


def _load_cluster_crew() -> Callable[..., AbstractContextManager[Crew]]:
    crew: Callable[..., AbstractContextManager[Crew]]
    crew = load_part("ledger.crews.cluster", "ClusterCrew")
    return crew


@contextmanager
def open_hands(options: AuditOptions) -> Iterator[Hands]:
    """Yield who may read points; a cluster is examined before anything is read.

    Raises:
        UsageError: the cluster cannot be used, or this machine has no room for so many processes.
    """
    _require_room(options.workers or 1)
    if not options.cluster:
        yield Hands(options.workers)
        return
    try:
        connect: Any = load_part("ledger.crews.cluster", "Cluster")
    except ModuleNotFoundError as error:
        raise UsageError(
            f"the library that speaks with clusters is not here ({error.name})",
            remedy=f'pip install "{EXTRA}", or leave out --cluster',
        ) from error
    with connect(options.cluster) as cluster:
        yield Hands(cluster=cluster)


def choose_workers(points: int) -> int:
    """Return how many processes are best on this machine for so many points."""
    if points < FEWEST_POINTS:
        return 1
    return max(min(_count_cores(), _count_fitting(), points // _LEAST_SHARE), 1)


def _require_room(workers: int) -> None:
    """Refuse more processes than would leave this machine able to work.

    Asked of all memory and not of what is free, so that the same words do the same every day.

    Raises:
        UsageError: with how many it has room for.
    """
    memory: int = psutil.virtual_memory().total
    most = max(memory // _WORKER_BYTES, _count_cores())
    if workers > most:
        raise UsageError(
            "this computer has no room for so many processes",
            where="--workers",
            found=str(workers),
            expected=f"{most} at most",
            remedy="leave --workers out for what is best here",
        )


def _count_fitting() -> int:
    """Return how many workers the free memory has room for."""
    available: int = psutil.virtual_memory().available
    return available // _WORKER_BYTES


def _count_cores() -> int:
    """Return the cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):  # not on Windows and macOS
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
