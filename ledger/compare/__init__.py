"""What differs between two runs, how much that matters, and how far it can move the result here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from ledger.compare.difference import Difference, Effect, RunComparison, WrittenDifference
from ledger.compare.effects import predict_effect
from ledger.compare.sides import find_process
from ledger.compare.site import Site
from ledger.compare.written import compare_written
from ledger.errors import UsageError
from ledger.model.entry import Kind
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things
from ledger.model.process import Process
from ledger.model.weight import Weight, is_equal, weigh
from ledger.store.reading import Book

__all__ = [
    "Difference",
    "Effect",
    "RunComparison",
    "Weight",
    "WrittenDifference",
    "compare_runs",
    "find_last_two",
]

_ORDER = tuple(Weight)


def compare_runs(job: Path, first: str = "", second: str = "") -> RunComparison:
    """Hold two runs or steps against each other.

    Args:
        job: the job folder.
        first: id of the first; empty for the last but one of the job's runs.
        second: id of the second; empty for the last of the job's runs.

    Raises:
        UsageError: there is no such run or step, only one was named, or there are no two runs.
        BookError: the book cannot be opened or read.
    """
    with Book.open(job) as book:
        if first and not second:
            raise UsageError(
                "one run was named, and it takes two to compare",
                found=first,
                remedy="name both: swathbook compare R1 R2, or none for the last two runs",
            )
        if not first:
            first, second = _find_last_two(book)
        pair = find_process(book, first), find_process(book, second)
        compared = _compare(pair, Site(book, *reversed(pair)))
        return replace(compared, written=compare_written(book, *pair))


def find_last_two(job: Path) -> tuple[str, str]:
    """Return the ids of the last two runs.

    Raises:
        UsageError: there are no two.
        BookError: the book cannot be opened or read.
    """
    with Book.open(job) as book:
        return _find_last_two(book)


def _find_last_two(book: Book) -> tuple[str, str]:
    runs = [each.id for each in book.processes() if each.kind == Kind.RUN]
    if len(runs) < 2:
        raise UsageError(
            "there are no two runs to compare",
            found=count_things(len(runs), "run"),
            remedy="record the next one: swathbook record, or name two steps",
        )
    return runs[-2], runs[-1]


def _compare(pair: tuple[Process, Process], site: Site) -> RunComparison:
    first, second = (_name_values(process) for process in pair)
    shared = first.keys() & second.keys()
    differing = sorted(name for name in shared if not is_equal(first[name], second[name]))
    differences = [
        Difference(name, first[name], second[name], weigh(name), predict_effect(name, pair, site))
        for name in differing
    ]
    return RunComparison(
        first=pair[0].id,
        second=pair[1].id,
        differences=tuple(sorted(differences, key=_rank)),
        alike=len(shared) - len(differing),
        one_sided=tuple(_list_one_sided(pair, (set(first), set(second)))),
        inputs=tuple(_list_one_sided(pair, (_name_inputs(pair[0]), _name_inputs(pair[1])))),
    )


def _name_values(process: Process) -> Mapping[str, KnownValue]:
    return {key.partition(".")[2]: known for key, known in process.values.items()}


def _name_inputs(process: Process) -> set[str]:
    return {used.flight or used.path or used.sha256 for used in process.inputs}


def _list_one_sided(
    pair: tuple[Process, Process], names: tuple[set[str], set[str]]
) -> Iterator[tuple[str, str]]:
    for process, mine, theirs in zip(pair, names, reversed(names), strict=True):
        for name in sorted(mine - theirs):
            yield name, process.id


def _rank(difference: Difference) -> tuple[int, Decimal, str]:
    metres = difference.effect.metres
    return _ORDER.index(difference.weight), -abs(metres or Decimal(0)), difference.field
