"""What the runner adds to findings: who found them, by which criterion, in which bytes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

import pytest
from counting_checks import Record, enable, judge, make_evidence

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.contract.runner import Runner
from ledger.model.audit import WHOLE_DELIVERY, Criterion, Source
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Process
from ledger.testing import SurveyBuilder

# What the runner adds.


def test_findings_carry_plugin_revision_criterion_and_bytes(survey: SurveyBuilder) -> None:
    """A finding about a file carries what an acceptance depends on, and its file as the place."""
    path = survey.paths[1]
    applied = (
        Criterion("limit_m", "0.05", Source.OWN),
        Criterion("cell_m", "1", Source.DEFAULT, "common practice, no source"),
    )

    class Versioned(Record):
        revision = 7

    check = Versioned(lambda c, _: [c.nonconforming(Grade.MINOR, path.name, "Off.", required="1")])
    evidence = make_evidence(survey.paths, quick=True)
    (found,) = Runner([enable(check, applied=applied)]).judge_all(evidence)
    assert (found.plugin, found.revision) == ("stranger", 7)
    assert found.where.file == path.name
    assert found.digests == (hashlib.sha256(path.read_bytes()).hexdigest(),)
    assert json.loads(found.criterion) == {"limit_m": "0.05", "cell_m": "1"}
    assert found.criterion_source == (
        "limit_m: job.toml; cell_m: default: common practice, no source"
    )


def test_a_plan_knows_where_its_criteria_come_from() -> None:
    """A check can name the source of each criterion in its own findings."""
    plans: list[Plan] = []

    class Planned(Record):
        def finish(self, plan: Plan, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
            plans.append(plan)
            yield self.conforms("x", "y")

    judge(
        enable(
            Planned(lambda check, evidence: ()), applied=(Criterion("limit_m", "0.05", Source.OWN),)
        )
    )
    assert plans[0].sources == {"limit_m": "job.toml"}


@pytest.mark.parametrize(
    "subject", ["{0}", "{0} | {1}", "{0} and {1}", "R1", WHOLE_DELIVERY, "{0} + {1}"]
)
def test_an_id_lapses_with_the_bytes_behind_it(survey: SurveyBuilder, subject: str) -> None:
    """When a byte behind the subject changes, the finding has another id; else it keeps it."""
    names = [path.name for path in survey.paths]
    said = subject.format(*names)
    check = Record(lambda c, _: [c.nonconforming(Grade.MINOR, said, "Off.")])

    def find_id(limit: str) -> str:
        values = {"run.range_max": KnownValue(limit, "m")}
        run = Process("R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "", values)
        (found,) = Runner([enable(check)]).judge_all(
            make_evidence(survey.paths, processes=(run,), quick=True)
        )
        return found.id

    before = find_id("90")
    assert find_id("90") == before
    if subject == "R1":
        assert find_id("91") != before
    else:
        survey.flip_byte(0, -1)
        assert find_id("90") != before


def test_findings_are_sorted_worst_first() -> None:
    """Majors come before minors, minors before gaps, and what conforms comes last."""

    def answer(check: Check, _: Evidence) -> Iterable[Finding]:
        yield check.conforms("a", "y")
        yield check.not_assessed("a", "y", ("n",))
        yield check.nonconforming(Grade.MINOR, "a", "y")
        yield check.nonconforming(Grade.MAJOR, "z", "y")

    graded = [finding.grade or finding.outcome for finding in judge(Record(answer))]
    assert graded == [Grade.MAJOR, Grade.MINOR, Outcome.NOT_ASSESSED, Outcome.CONFORMS]
