"""Kinds of work timed in turn, round after round, and a table of their ratios.

A shared machine slows down and speeds up by the minute, so nothing is timed alone: every round
times each kind of work once, and each is divided by the limit of the same round. Trust the ratios;
the absolute times say what order to expect.
"""

from __future__ import annotations

import math
import os
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

Work = Callable[[], object]
Clock = Callable[[], float]
Times = dict[str, list[float]]


@dataclass(frozen=True)
class Line:
    """One line of a table.

    Args:
        name: the kind of work that is timed.
        limit: the kind of work that its time is divided by.
        budget: the greatest ratio that is allowed; None where nothing is.
    """

    name: str
    limit: str
    budget: float | None = None


def time_of(work: Work, clock: Clock = time.perf_counter) -> float:
    """Return the seconds that `work` takes."""
    start = clock()
    work()
    return clock() - start


def read_children_clock() -> float:
    """Return the processor seconds of all programs that were started and have ended.

    On a machine that others use, a long program waits more often than a short one; this clock
    stands still while it waits. Not on Windows.
    """
    if resource is None:
        raise SystemExit("this system keeps no sum of the processor time of ended programs")
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def measure(
    work: Mapping[str, Work],
    rounds: int,
    *,
    prepare: Work = lambda: None,
    clock: Clock = time.perf_counter,
) -> Times:
    """Return the seconds of each kind of work, a round at a time.

    Args:
        work: what is timed, by name, in the order of a round.
        rounds: how many.
        prepare: done before each kind of work, outside its time.
        clock: gives seconds.
    """
    times: Times = {name: [] for name in work}
    for _ in range(rounds):
        for name, one in work.items():
            prepare()
            times[name].append(time_of(one, clock))
    return times


def find_ratios(times: Times, line: Line) -> list[float]:
    """Return the ratio of a line, a round at a time."""
    return [one / two for one, two in zip(times[line.name], times[line.limit], strict=True)]


def tell_growth(what: str, sizes: Sequence[float], seconds: Sequence[float]) -> str:
    """Return by how much time grew between the two greatest sizes, against n log n.

    The least tell of the start alone, which would hide what grows.

    Args:
        what: the work and the sizes, as a reader understands them.
        sizes: two or more, growing, above 1.
        seconds: of the work at each size.
    """
    first, last = sizes[-2:]
    allowed = last * math.log(last) / (first * math.log(first))
    grown = seconds[-1] / seconds[-2]
    verdict = "no worse" if grown <= allowed else "**worse than that**"
    times = f"{grown:.1f} times as long for {last / first:.1f} times as many"
    return f"{what}: at the end {times}; n log n allows {allowed:.1f}: {verdict}."


def _read_load() -> float:
    """Return the programs that wanted a processor at once, mean of a minute, our own included."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0


def show(title: str, times: Times, lines: list[Line]) -> None:
    """Print a table: median time, median ratio with least and greatest, and the budget."""
    width = max(len(line.name) for line in lines)
    against = max(len(line.limit) for line in lines)
    rounds = len(next(iter(times.values())))
    others = max(0.0, _read_load() - 1.0)
    disturbed = f"; DISTURBED by a load of {others:.1f} from elsewhere" if others > 0.5 else ""
    print(f"\n{title}, {rounds} rounds{disturbed}")  # noqa: T201 - the result of a measurement
    for line in lines:
        ratios = find_ratios(times, line)
        middle = statistics.median(ratios)
        seconds = statistics.median(times[line.name])
        spread = f"({min(ratios):.3f} to {max(ratios):.3f})"
        budget = ""
        if line.budget is not None:
            verdict = "holds" if middle <= line.budget else "MISSED"
            budget = f"  budget {line.budget:.3g}: {verdict}"
        print(  # noqa: T201 - the result of a measurement
            f"{line.name:{width}} {seconds * 1000:9.2f} ms  "
            f"{middle:6.3f} of {line.limit:{against}} {spread:16}{budget}"
        )
