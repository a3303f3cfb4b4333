"""What a check needs and waits for: an unmet need is named, and nothing passes without it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest
from counting_checks import Points, Record, by_check, enable, judge, make_evidence

from ledger.contract.check import Check
from ledger.contract.evidence import Evidence
from ledger.contract.runner import Runner
from ledger.model.artefact import FileRecord
from ledger.model.ask import NoProgress
from ledger.model.audit import Criterion, Source
from ledger.model.boundary import Boundary
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Process
from ledger.specfile.reading import parse_specification
from ledger.testing import SurveyBuilder, make_table

CHECKPOINTS = FileRecord("checks.csv", "ab", 1, 1, "checkpoints")


NO_PLACE = "boundary: no place"


BOUNDARY = b"[delivery]\nboundary = 'site.geojson'\n"


UNKNOWN_KEY = "specification.delivery.nonsense: it is blank in job.toml"


# Needs and order.


def test_a_quick_audit_assesses_no_check_of_points(survey: SurveyBuilder) -> None:
    """Every check of points is *not assessed* in a quick audit, and says why."""

    class Reads(Record):
        id = "reads"
        needs = ("points",)

    runner = Runner([enable(Points()), enable(Reads(lambda *_: 1 / 0))])
    findings = runner.judge_all(make_evidence(survey.paths, quick=True))
    assert {finding.check for finding in findings} == {"points-counted", "reads"}
    assert {finding.needs for finding in findings} == {("points: a quick audit reads none",)}


def test_checks_of_points_wait_for_the_pass(survey: SurveyBuilder) -> None:
    """Before the pass only checks of records are asked, and what waits for points waits too."""

    class Follower(Record):
        id = "follower"
        after = ("points-counted",)

    checks = [Points(), Record(lambda c, _: [c.conforms("x", "y")]), Follower(lambda *_: ())]
    runner = Runner([enable(check) for check in checks])
    assert runner.pending == {"points-counted", "follower"}
    first = runner.judge_records(make_evidence(survey.paths))
    assert [finding.check for finding in first] == ["record"]


def test_a_check_sees_what_it_waits_for_and_nothing_else() -> None:
    """Findings of the checks named in `after` are there, in whatever order checks are given."""
    seen: dict[str, Any] = {}

    class Last(Record):
        id = "a-last"
        after = ("record", "not-installed")

    def look(check: Check, evidence: Evidence) -> Iterable[Finding]:
        seen.update(evidence.results)
        return [check.conforms("x", "y")]

    class Other(Record):
        id = "other"

    findings = judge(
        Last(look),
        Record(lambda c, _: [c.nonconforming(Grade.MINOR, "x", "y")]),
        Other(lambda c, _: [c.conforms("x", "y")]),
    )
    assert list(seen) == ["record"]
    assert seen["record"] == tuple(by_check(findings, "record"))


def test_checks_of_records_are_asked_again_after_the_pass(survey: SurveyBuilder) -> None:
    """What the points showed counts: the last answer stands."""
    answers: list[bool] = []

    def look(check: Check, evidence: Evidence) -> Iterable[Finding]:
        answers.append(evidence.files[0].reading is not None)
        return [check.conforms("x", str(answers[-1]))]

    runner = Runner([enable(Record(look))])
    evidence = make_evidence(survey.paths)
    runner.judge_records(evidence)
    readings = runner.read_points(evidence, {p.name: p for p in survey.paths}, NoProgress())
    files = tuple(replace(f, reading=readings[f.path].facts) for f in evidence.files)
    (found,) = runner.judge_all(replace(evidence, files=files))
    assert answers == [False, True]
    assert found.sentence == "True"


UNDECLARED = (
    "checkpoints: nobody said what the columns of checks.csv are "
    "(swathbook record points checks.csv)"
)


@pytest.mark.parametrize(
    ("need", "parts", "unmet"),
    [
        ("records", {}, "records: no run is recorded in this job"),
        ("records", {"recorded": 1}, ""),
        ("headers", {}, "headers: there is no point file with a readable header in the folder"),
        ("boundary", {}, "boundary: delivery.boundary is blank"),
        ("checkpoints", {}, "checkpoints: no file of the role checkpoints is in this job"),
        (
            "checkpoints",
            {"registered": {"ab": CHECKPOINTS}},
            UNDECLARED,
        ),
        (
            "checkpoints",
            {"tables": (make_table((), "control"),)},
            "checkpoints: no file of the role checkpoints is in this job",
        ),
        ("checkpoints", {"tables": (make_table(()),)}, ""),
        (
            "boundary",
            {"specification": parse_specification(BOUNDARY)},
            "boundary: site.geojson was not found",
        ),
        ("boundary", {"boundary": Boundary("site.geojson", "ab", fault="no place")}, NO_PLACE),
        ("boundary", {"boundary": Boundary("site.geojson", "ab")}, ""),
        ("geoid-grid", {}, "geoid-grid: coordinates.geoid names no file"),
        ("specification.delivery.boundary", {"specification": parse_specification(BOUNDARY)}, ""),
        ("specification.delivery.nonsense", {}, UNKNOWN_KEY),
        (
            "specification.coordinates.vertical",
            {},
            "specification.coordinates.vertical: it is blank in job.toml",
        ),
        ("run.mount_mode", {}, "run.mount_mode: it is in no record behind this delivery"),
        ("crystal-ball", {}, "crystal-ball: this version knows no such input"),
    ],
)
def test_an_unmet_need_is_named(need: str, parts: dict[str, Any], unmet: str) -> None:
    """A check whose input is missing is *not assessed* with the input and the reason."""

    class Needy(Record):
        needs = (need,)

    (found,) = judge(Needy(lambda c, _: [c.conforms("x", "y")]), **parts)
    assert found.needs == ((unmet,) if unmet else ())
    assert found.outcome is (Outcome.NOT_ASSESSED if unmet else Outcome.CONFORMS)


def test_a_recorded_field_meets_its_need() -> None:
    """A field that a run behind the delivery holds is there for the check."""

    class Needy(Record):
        needs = ("run.mount_mode",)

    values = {"run.mount_mode": KnownValue("drone")}
    run = Process("R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "", values)
    (found,) = judge(Needy(lambda c, _: [c.conforms("R1", "y")]), processes=(run,))
    assert found.outcome is Outcome.CONFORMS


def test_headers_are_there_when_one_can_be_read(survey: SurveyBuilder) -> None:
    """One readable header meets the need; none does not."""

    class Needy(Record):
        needs = ("headers",)

    check = enable(Needy(lambda c, _: [c.conforms("x", "y")]))
    survey.bad_signature(0)
    (found,) = Runner([check]).judge_all(make_evidence(survey.paths))
    assert found.outcome is Outcome.CONFORMS
    survey.bad_signature(1)
    (found,) = Runner([check]).judge_all(make_evidence(survey.paths))
    assert found.outcome is Outcome.NOT_ASSESSED


def test_a_blank_criterion_is_not_assessed() -> None:
    """A criterion without default and value leaves the check unassessed, by its key."""
    blank = Criterion("min_pts_per_m2", None, Source.BLANK)
    each = enable(Record(lambda c, _: [c.conforms("x", "y")]), criteria=None, applied=(blank,))
    (found,) = judge(each)
    assert found.outcome is Outcome.NOT_ASSESSED
    assert found.needs[0].startswith("criteria.record.min_pts_per_m2: ")


def test_a_carried_criterion_can_fail_but_not_pass() -> None:
    """On a criterion that nobody confirmed a pass is *inconclusive*, a failure stays one."""
    carried = ("criteria.record.limit_m",)
    passing_check = Record(lambda c, _: [c.conforms("x", "It holds.")])
    (found,) = judge(enable(passing_check, unconfirmed=carried))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "criteria.record.limit_m" in found.sentence
    failing = Record(lambda c, _: [c.nonconforming(Grade.MAJOR, "x", "It fails.")])
    (found,) = judge(enable(failing, unconfirmed=carried))
    assert found.grade is Grade.MAJOR
