"""Checks that count together: one tally a file for all of them, and each with its own finding."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from ledger.contract.check import Criteria, Evidence, Family, FamilyCheck, Finding, Plan
from ledger.contract.evidence import DeliveredFile
from ledger.contract.validity import require_check
from ledger.errors import ContractError
from ledger.model.finding import Outcome
from ledger.testing import (
    Layout,
    SurveyBuilder,
    check_tally_laws,
    drive_check,
    make_chunk,
    make_evidence,
    make_file,
    run_check,
)


class _Heights:
    """The points below each of several limits."""

    started = 0

    def __init__(self, limits: tuple[int, ...]) -> None:
        type(self).started += 1
        self.below = dict.fromkeys(limits, 0)

    def chunk(self, points: Any) -> None:
        for limit in self.below:
            self.below[limit] += int((points.z < limit).sum())

    def merge(self, other: _Heights) -> None:
        for limit, count in other.below.items():
            self.below[limit] += count

    def close(self) -> dict[int, int]:
        return self.below


class _Wish(Criteria):
    """Below what."""

    below: int = 0


class _Low(Family):
    """Counts once for every limit that any member asks for."""

    id = "low"
    dimensions = frozenset({"classification"})

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        limits = sorted({plan.limit for plan in members.values()})  # type: ignore[attr-defined]
        return Plan(_Wish(), evidence.lattice, limits=tuple(limits))

    def start(self, plan: Any, file: DeliveredFile) -> Any:
        return _Heights(plan.limits)


class _First(FamilyCheck):
    """Tells how many points lie below its limit."""

    id = "first"
    title = "Points below a limit"
    family = _Low()
    limit = 1_000

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        return Plan(criteria, evidence.lattice, limit=self.limit)

    def finish(
        self, plan: Any, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        limits = plan.family.limits
        for path, below in summaries.items():
            yield self.conforms(path, "Counted.", observed=f"{below[self.limit]} of {limits}")


class _Second(_First):
    """Another limit, in the same family."""

    id = "second"
    limit = 3_000_000


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Return a survey of small tiles."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False))


def test_members_share_one_tally_a_file(survey: SurveyBuilder, monkeypatch) -> None:
    """Two members start one tally a file, which serves both limits."""
    monkeypatch.setattr(_Heights, "started", 0)
    found = run_check(_First(), survey, beside=(_Second(),))
    assert _Heights.started == len(survey.paths)
    assert [each.observed for each in found] == ["0 of (1000, 3000000)"] * len(survey.paths)


def test_a_member_finds_the_same_alone(survey: SurveyBuilder) -> None:
    """Who else counts does not change what is counted."""
    alone = run_check(_Second(), survey)
    together = run_check(_Second(), survey, beside=(_First(),))
    assert [each.observed.split()[0] for each in alone] == [
        each.observed.split()[0] for each in together
    ]


def test_a_member_has_the_dimensions_of_its_family() -> None:
    """What the family decodes is what its members may rely on."""
    assert _First.dimensions == _Low.dimensions == _Second().dimensions


@pytest.mark.parametrize("phase", ["prepare", "start"])
def test_a_family_that_raises_drops_all_its_members(
    survey: SurveyBuilder, monkeypatch, phase: str
) -> None:
    """None of them can say anything, and each says so."""

    def fail(*_: Any) -> Any:
        raise ValueError("seven")

    monkeypatch.setattr(_Low, phase, fail)
    for check, other in ((_First(), _Second()), (_Second(), _First())):
        (found,) = run_check(check, survey, beside=(other,))
        assert found.outcome is Outcome.ERRORED
        assert "seven" in found.sentence


def test_a_family_has_to_prepare_a_plan(survey: SurveyBuilder, monkeypatch) -> None:
    """Anything else drops its members."""
    monkeypatch.setattr(_Low, "prepare", lambda *_: None)
    (found,) = run_check(_First(), survey)
    assert "prepare returned no plan" in found.sentence


def test_a_file_that_cannot_be_read_is_a_gap_for_every_member(survey: SurveyBuilder) -> None:
    """A damaged file is *not assessed* by each, and the other is counted."""
    survey.cut_mid_record(0)
    for check, other in ((_First(), _Second()), (_Second(), _First())):
        found = run_check(check, survey, beside=(other,))
        assert sorted(each.outcome for each in found) == ["conforms", "not assessed"]


def test_the_kit_prepares_the_family_too() -> None:
    """A member is driven and held to the laws as any other check."""
    chunk = make_chunk({"x": [1] * 4, "y": [1] * 4, "z": [-1, 0, 1, 2], "classification": [2] * 4})
    evidence = make_evidence(make_file("hand.laz"))
    (found,) = drive_check(_First(), evidence, {"hand.laz": [chunk]})
    assert found.observed == "2 of (1000,)"
    check_tally_laws(_First(), [chunk])


def test_a_member_without_a_prepared_family_says_so() -> None:
    """Somebody who calls by hand is told what is missing."""
    with pytest.raises(ContractError, match="has not been prepared"):
        _First().start(Plan(_Wish(), make_evidence().lattice), make_file())


def test_a_family_that_is_none_is_refused() -> None:
    """A check that names something else as its family cannot be used."""
    check = type("Wrong", (_First,), {"id": "wrong"})()
    type(check).family = 7
    with pytest.raises(ContractError, match="family of wrong"):
        require_check(check)
