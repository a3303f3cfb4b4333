"""The laws that every tally keeps, as ready-made assertions.

Sources: a tally is a commutative monoid under `merge`, so that points can be cut among chunks,
processes and machines in any way and the summary stays the same to the last digit.
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from ledger.contract.check import Criteria, Plan, PointCheck, Summary, Tally
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.chunk import PointChunk
from ledger.testing.chunks import cut, join, shuffle, take
from ledger.testing.driver import fill_tally, make_evidence, make_file, prepare_check


def check_tally_laws(
    check: PointCheck,
    chunks: Sequence[PointChunk],
    *,
    evidence: Evidence | None = None,
    criteria: Mapping[str, Any] | Criteria | None = None,
    file: DeliveredFile | None = None,
) -> None:
    """Hold a check's tally against all laws.

    The laws: the summary does not depend on how points are cut into chunks, nor on their order;
    `merge` gives what feeding gives, is associative, does not depend on the order of its parts and
    has the fresh tally as its empty element; plan, tally and summary survive pickling; the check
    keeps nothing.

    Args:
        check: the check.
        chunks: points of one file, 4 or more in all.
        evidence: what `prepare` is given; None for the file alone.
        criteria: thresholds of the check; None for the defaults.
        file: what `start` is given; None for a file of which nothing is known.

    Raises:
        AssertionError: a law is broken; names the law and the first difference.
    """
    file = file if file is not None else make_file()
    given = evidence if evidence is not None else make_evidence(file, lattice=chunks[0].lattice)
    before = dict(vars(check))
    trial = _Trial(check, prepare_check(check, given, criteria), file)
    whole = join(chunks)
    wanted = trial.summarise([whole])
    trial.hold("any chunking", wanted, trial.summarise(chunks))
    for size in (1, 7, max(1, len(whole) // 2)):
        # One point a chunk is slow, so only the first points are cut that small.
        part = whole.slice(0, min(len(whole), size * 200))
        one, several = trial.summarise([part]), trial.summarise(cut(part, size))
        trial.hold(f"chunks of {size}", one, several)
    trial.hold("any order", wanted, trial.summarise([shuffle(whole)]))
    trial.hold("empty chunk", wanted, trial.summarise([whole.slice(0, 0), whole]))
    _check_merge(trial, whole, wanted)
    _check_pickling(trial, whole, wanted)
    if vars(check) != before:
        raise AssertionError("the check object kept something; all state belongs in its tallies")


class _Trial:
    """A check with a plan and a file, ready to be fed."""

    def __init__(self, check: PointCheck, plan: Plan, file: DeliveredFile) -> None:
        self.check, self.plan, self.file = check, plan, file

    def fill(self, *chunks: PointChunk) -> Tally:
        return fill_tally(self.check, self.plan, self.file, chunks)

    def summarise(self, chunks: Sequence[PointChunk]) -> Summary:
        return self.fill(*chunks).close()

    def merge(self, first: Tally, *others: Tally) -> Tally:
        for other in others:
            first.merge(other)
        return first

    def hold(self, law: str, wanted: object, got: object) -> None:
        difference = find_difference(wanted, got)
        if difference:
            raise AssertionError(f"{self.check.id} breaks the law {law!r}: {difference}")


def _check_merge(trial: _Trial, whole: PointChunk, wanted: Summary) -> None:
    third = len(whole) // 3
    parts = [
        whole.slice(0, third),
        whole.slice(third, 2 * third),
        whole.slice(2 * third, len(whole)),
    ]

    def fill() -> list[Tally]:
        return [trial.fill(part) for part in parts]

    a, b, c = fill()
    trial.hold("merge gives what feeding gives", wanted, trial.merge(a, b, c).close())
    a, b, c = fill()
    grouped = trial.merge(a, trial.merge(b, c))
    trial.hold("merge is associative", wanted, grouped.close())
    a, b, c = fill()
    trial.hold("merge in any order", wanted, trial.merge(c, a, b).close())
    every_third = [take(whole, np.arange(start, len(whole), 3)) for start in range(3)]
    mixed = trial.merge(*[trial.fill(part) for part in every_third])
    trial.hold("any split", wanted, mixed.close())
    trial.hold("empty on the left", wanted, trial.merge(trial.fill(), trial.fill(whole)).close())
    trial.hold("empty on the right", wanted, trial.merge(trial.fill(whole), trial.fill()).close())
    merged = trial.merge(trial.fill(parts[0]), trial.fill(parts[1]))
    merged.chunk(parts[2])
    trial.hold("feeding goes on after a merge", wanted, merged.close())


def _check_pickling(trial: _Trial, whole: PointChunk, wanted: Summary) -> None:
    half = len(whole) // 2
    plan = pickle.loads(pickle.dumps(trial.plan))  # noqa: S301 - made one line above
    again = _Trial(trial.check, plan, trial.file)
    first = pickle.loads(pickle.dumps(again.fill(whole.slice(0, half))))  # noqa: S301 - the same
    second = again.fill(whole.slice(half, len(whole)))
    trial.hold("plan and tally survive pickling", wanted, again.merge(first, second).close())
    summary = pickle.loads(pickle.dumps(wanted))  # noqa: S301 - the same
    trial.hold("summary survives pickling", wanted, summary)


def find_difference(a: object, b: object, place: str = "summary") -> str:
    """Return where two summaries differ first, as one sentence; empty when they do not.

    Compares to the last digit, through dataclasses, mappings, sequences, sets, arrays and plain
    objects.
    """
    if type(a) is not type(b):
        return f"{place} is a {type(a).__name__} in one and a {type(b).__name__} in the other"
    if isinstance(a, np.ndarray) and isinstance(b, np.ndarray):
        return _compare_arrays(a, b, place)
    parts = _take_apart(a)
    if parts is None:
        same = a == b or (a != a and b != b)  # noqa: PLR0124 - NaN is equal to itself here
        return "" if same else f"{place}: {a!r} against {b!r}"
    others = _take_apart(b) or {}
    if set(parts) != set(others):
        return f"{place} has other parts: {sorted(map(str, set(parts) ^ set(others)))[:5]}"
    differences = (find_difference(parts[key], others[key], f"{place}.{key}") for key in parts)
    return next((difference for difference in differences if difference), "")


def _compare_arrays(a: np.ndarray[Any, Any], b: np.ndarray[Any, Any], place: str) -> str:
    if a.shape != b.shape or a.dtype != b.dtype:
        return f"{place}: {a.dtype} {a.shape} against {b.dtype} {b.shape}"
    if np.array_equal(a, b, equal_nan=a.dtype.kind in "fc"):
        return ""
    different = np.asarray(a != b)
    if a.dtype.kind in "fc":
        different &= ~(np.isnan(a) & np.isnan(b))
    index = np.argwhere(different)[0]
    return f"{place}[{index.tolist()}]: {a[tuple(index)]!r} against {b[tuple(index)]!r}"


def _take_apart(value: object) -> Mapping[Any, Any] | None:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, Mapping):
        return value
    if isinstance(value, (list, tuple)):
        return dict(enumerate(value))
    if hasattr(value, "__dict__") and not isinstance(value, type):
        return dict(vars(value))
    return None
