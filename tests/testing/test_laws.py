"""The laws of tallies: a lawful tally keeps them all, and each kind of broken one is caught."""

# ruff: noqa: D102 - the methods are those of the contract, described there

from __future__ import annotations

import pickle
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import numpy as np
import pytest

from ledger.contract.check import Criteria, Finding, Plan, PointCheck, Tally
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.errors import ContractError
from ledger.model.chunk import PointChunk
from ledger.testing import (
    SurveyBuilder,
    check_tally_laws,
    cut,
    drive_check,
    find_difference,
    join,
    make_chunk,
    make_evidence,
    make_file,
    restrict,
    shuffle,
)


@dataclass
class Counts:
    """Lawful: counts by class and the greatest height."""

    classes: dict[int, int] = field(default_factory=dict)
    highest: int | None = None

    def chunk(self, points: PointChunk) -> None:
        values, counts = np.unique(points["classification"], return_counts=True)
        for value, count in zip(values.tolist(), counts.tolist(), strict=True):
            self.classes[value] = self.classes.get(value, 0) + count
        if len(points):
            highest = int(points.z.max())
            self.highest = highest if self.highest is None else max(self.highest, highest)

    def merge(self, other: Counts) -> None:
        for value, count in other.classes.items():
            self.classes[value] = self.classes.get(value, 0) + count
        if other.highest is not None:
            mine = self.highest
            self.highest = other.highest if mine is None else max(mine, other.highest)

    def close(self) -> Counts:
        return self


@dataclass
class FloatSum(Counts):
    """Unlawful: a float sum depends on the order of addition."""

    total: float = 0.0

    def chunk(self, points: PointChunk) -> None:
        self.total += float((points.z / 7.0).sum())

    def merge(self, other: FloatSum) -> None:  # type: ignore[override]
        self.total += other.total


@dataclass
class FirstSeen(Counts):
    """Unlawful: the first point depends on the order."""

    first: int | None = None

    def chunk(self, points: PointChunk) -> None:
        if self.first is None and len(points):
            self.first = int(points.x[0])


@dataclass
class Slices(Counts):
    """Unlawful: counts slices instead of points."""

    slices: int = 0

    def chunk(self, points: PointChunk) -> None:
        self.slices += 1


@dataclass
class Forgetful(Counts):
    """Unlawful: a merge loses what the other has seen."""

    def merge(self, other: Counts) -> None:
        del other


@dataclass
class Overwriting(Counts):
    """Unlawful: a merge takes over the other's maximum, even an absent one."""

    def merge(self, other: Counts) -> None:
        keep = self.highest
        super().merge(other)
        self.highest = other.highest if keep is not None else None


class CountCheck(PointCheck):
    """A check whose tally is given to it."""

    id = "count"
    title = "Counts"
    dimensions = frozenset({"classification"})
    tally: type[Counts] = Counts

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:
        del plan, file
        return self.tally()

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        del plan, evidence
        for path, summary in summaries.items():
            yield self.conforms(path, f"{sum(summary.classes.values())} points")


@pytest.fixture
def chunks() -> list[PointChunk]:
    """Points of a tile, in slices of 1000."""
    random = np.random.default_rng(5)
    count = 3001
    whole = make_chunk(
        {
            "x": random.uniform(0, 9, count),
            "y": random.uniform(0, 9, count),
            "z": random.uniform(0, 1e5, count),
            "classification": random.integers(1, 7, count),
            "gps_time": random.uniform(0, 9, count),
        }
    )
    return cut(whole, 1000)


def test_lawful_tally_passes(chunks: list[PointChunk]) -> None:
    """Counts and maxima keep every law."""
    check_tally_laws(CountCheck(), chunks)


def test_lawful_tally_passes_on_a_real_file(tmp_path: Any) -> None:
    """A tile read from a file can be held against the laws as it is."""
    check_tally_laws(CountCheck(), cut(SurveyBuilder(tmp_path).chunk(), 700))


@pytest.mark.parametrize(
    ("tally", "law"),
    [
        (FloatSum, "any chunking"),
        (FirstSeen, "any order"),
        (Slices, "any chunking"),
        (Forgetful, "merge gives what feeding gives"),
        (Overwriting, "merge"),
    ],
)
def test_broken_tally_is_caught(chunks: list[PointChunk], tally: type[Counts], law: str) -> None:
    """Each kind of unlawful tally is refused, and the law it breaks is named."""
    check = type("Broken", (CountCheck,), {"id": "broken", "tally": tally})()
    with pytest.raises(AssertionError, match=f"broken breaks the law '{law}"):
        check_tally_laws(check, chunks)


def test_check_that_keeps_state_is_caught(chunks: list[PointChunk]) -> None:
    """A check object that remembers anything between calls is refused."""

    class Remembering(CountCheck):
        def start(self, plan: Plan, file: DeliveredFile) -> Tally:
            self.last = file.path
            return super().start(plan, file)

    with pytest.raises(AssertionError, match="kept something"):
        check_tally_laws(Remembering(), chunks)


def test_plan_that_cannot_travel_is_caught(chunks: list[PointChunk]) -> None:
    """A plan that cannot be pickled is refused: another process may do the work."""

    class Local(CountCheck):
        def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
            return Plan(criteria, evidence.lattice, key=lambda: 0)

    with pytest.raises((AttributeError, pickle.PicklingError), match="pickle"):
        check_tally_laws(Local(), chunks)


def test_undeclared_field_is_not_offered(chunks: list[PointChunk]) -> None:
    """A tally that reads a field its check does not name meets the contract error."""

    class Undeclared(CountCheck):
        dimensions = frozenset()

    with pytest.raises(ContractError, match="classification"):
        check_tally_laws(Undeclared(), chunks)


def test_driver_runs_a_check(chunks: list[PointChunk]) -> None:
    """A check driven by hand gives its findings; chunks of a file nobody delivered are refused."""
    evidence = make_evidence(make_file("a.laz"))
    (finding,) = drive_check(CountCheck(), evidence, {"a.laz": chunks})
    assert (finding.subject, finding.sentence) == ("a.laz", "3001 points")
    with pytest.raises(ContractError, match=r"no file b\.laz"):
        drive_check(CountCheck(), evidence, {"b.laz": chunks})


def test_chunks_cut_join_and_restrict(chunks: list[PointChunk]) -> None:
    """Cutting and joining gives the same points back; a restricted chunk refuses other fields."""
    whole = join(chunks)
    again = join(cut(whole, 17))
    assert not find_difference(whole.x, again.x)
    assert np.array_equal(np.sort(shuffle(whole).z), np.sort(whole.z))
    assert not np.array_equal(shuffle(whole).z, whole.z)
    small = restrict(whole, {"gps_time"})
    assert small.names == {"gps_time"}


class Colour(Enum):
    """Something with parts of its own."""

    RED = 1
    BLUE = 2


@pytest.mark.parametrize(
    ("a", "b", "place"),
    [
        (1, 1.0, "int"),
        ({"k": [1, 2]}, {"k": [1, 3]}, "summary.k.1"),
        ({"k": 1}, {"m": 1}, "other parts"),
        (np.array([1, 2]), np.array([1, 4]), "summary[[1]]"),
        (np.array([1, 2]), np.array([1, 2], dtype=np.int32), "int32"),
        (Counts({1: 1}), Counts({1: 2}), "classes"),
        (Colour.RED, Colour.BLUE, "summary"),
        ({1, 2}, {1, 3}, "summary"),
        (0.1 + 0.2, 0.3, "0.3"),
    ],
)
def test_differences_are_found_and_placed(a: object, b: object, place: str) -> None:
    """Two summaries that differ in type, key, element or last digit are told apart, by place."""
    assert place in find_difference(a, b)
    assert find_difference(a, a) == ""


def test_nan_equals_itself() -> None:
    """Two summaries with NaN in the same place are the same."""
    value = float("nan")
    assert find_difference([value, np.array([value])], [value, np.array([value])]) == ""
