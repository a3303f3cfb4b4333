"""In which order checks are run, and in which what they found is told.

A check is run after those whose findings it reads. Of findings that are equally bad, a reason
stands before what it is the reason of.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from graphlib import CycleError, TopologicalSorter

from ledger.model.finding import Finding, compute_sort_key


def find_cycles(waits: Mapping[str, Collection[str]]) -> tuple[tuple[str, ...], ...]:
    """Return the circles of checks that wait for each other; no check is in two of them.

    Args:
        waits: by check id, the ids that it waits for; ids that are no keys are ignored.
    """
    left = {name: set(after) & waits.keys() for name, after in waits.items()}
    cycles = []
    while (cycle := _find_cycle(left)) is not None:
        cycles.append(cycle)
        left = {name: after.difference(cycle) for name, after in left.items() if name not in cycle}
    return tuple(cycles)


def _find_cycle(waits: Mapping[str, set[str]]) -> tuple[str, ...] | None:
    graph = {name: sorted(waits[name]) for name in sorted(waits)}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        # The sorter lists each after the one that waits for it, and names the first again.
        circle = list(reversed(error.args[1][1:]))
        first = circle.index(min(circle))
        return tuple(circle[first:] + circle[:first])
    return None


def sort_checks(waits: Mapping[str, Collection[str]]) -> tuple[str, ...]:
    """Return all ids, each after those it waits for, otherwise in order of id.

    Args:
        waits: by check id, the ids that it waits for; ids that are no keys are ignored.

    Raises:
        CycleError: the checks wait for each other.
    """
    sorter = TopologicalSorter({name: set(after) & waits.keys() for name, after in waits.items()})
    sorter.prepare()
    order: list[str] = []
    while sorter.is_active():
        ready = sorted(sorter.get_ready())
        order.extend(ready)
        sorter.done(*ready)
    return tuple(order)


def list_followers(waits: Mapping[str, Collection[str]], first: Iterable[str]) -> frozenset[str]:
    """Return `first` and every check that waits for one of them, directly or not."""
    reached = set(first)
    grown = True
    while grown:
        more = {name for name, after in waits.items() if reached & set(after)} - reached
        reached |= more
        grown = bool(more)
    return frozenset(reached)


def sort_findings(
    findings: Iterable[Finding], explains: Mapping[str, Collection[str]]
) -> tuple[Finding, ...]:
    """Return findings worst first; of equally bad ones the reasons first.

    Args:
        findings: in any order.
        explains: by check id, the checks whose findings it may be the reason of.
    """
    ranks = {name: _rank(name, explains, frozenset()) for name in explains}
    return tuple(
        sorted(findings, key=lambda each: compute_sort_key(each, ranks.get(each.check, 0)))
    )


def _rank(name: str, explains: Mapping[str, Collection[str]], above: frozenset[str]) -> int:
    """Return how many checks follow each other below this one; a circle ends where it closes."""
    if name in above:
        return 0
    below = [_rank(each, explains, above | {name}) for each in explains.get(name, ())]
    return 1 + max(below, default=-1)
