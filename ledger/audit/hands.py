"""Who reads the points of an audit: this process, or several."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import partial

import psutil

from ledger.contract.crew import Crew, Hire
from ledger.loading import load_part
from ledger.model.audit import AuditOptions

# Below this, starting others takes longer than it saves: one process decodes on all cores, and a
# worker needs a second of its own to start (measured: tests/bench/bench_workers.py).
FEWEST_POINTS = 10_000_000

# Each worker gets so many points at least.
_LEAST_SHARE = 2_500_000

# What a worker takes, with room for a tile that is larger than most.
_WORKER_BYTES = 512 * 1024 * 1024


def choose_hire(options: AuditOptions, points: int) -> Hire | None:
    """Return who reads the points; None for this process.

    Args:
        options: how many workers are asked for, if any number is.
        points: how many points the headers state.
    """
    size = options.workers or choose_workers(points)
    if size == 1:
        return None
    crew: Callable[..., AbstractContextManager[Crew]] = load_part(
        "ledger.crews.processes", "ProcessCrew"
    )
    return partial(crew, size=size)


def choose_workers(points: int) -> int:
    """Return how many processes are best on this machine for so many points."""
    if points < FEWEST_POINTS:
        return 1
    return max(min(_count_cores(), _count_fitting(), points // _LEAST_SHARE), 1)


def _count_fitting() -> int:
    """Return how many workers the free memory has room for."""
    available: int = psutil.virtual_memory().available
    return available // _WORKER_BYTES


def _count_cores() -> int:
    """Return the cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):  # not on Windows and macOS
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
