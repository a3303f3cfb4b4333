"""Checks that raise, answer rubbish, print or stay silent are dropped, and the others go on."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import pytest
from counting_checks import Counter, Points, Record, audit, by_check, enable, judge, make_evidence

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.guard import Guard
from ledger.contract.hearing import Heard
from ledger.contract.runner import Runner
from ledger.model.ask import NoProgress
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Outcome, Where
from ledger.testing import SurveyBuilder

# Checks that break.


class Panic(BaseException):
    """What a compiled library may raise: no `Exception`."""


class _Breaks(Points):
    """Raises in one phase."""

    id = "breaks"

    def __init__(self, phase: str, error: BaseException) -> None:
        self.phase, self.error = phase, error

    def fail(self, phase: str) -> None:
        if phase == self.phase:
            raise self.error

    def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
        self.fail("prepare")
        return super().prepare(evidence, criteria)

    def start(self, plan: Plan, file: DeliveredFile) -> Any:
        self.fail("start")
        check = self

        class Fails(Counter):
            def chunk(self, points: Any) -> None:
                check.fail("chunk")
                super().chunk(points)

            def close(self) -> tuple[int, int]:
                check.fail("close")
                return super().close()

        return Fails()

    def finish(self, plan: Any, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
        yield from super().finish(plan, summaries, evidence)
        self.fail("finish")


@pytest.mark.parametrize("phase", ["prepare", "start", "chunk", "close", "finish"])
@pytest.mark.parametrize("error", [ValueError("seven"), SystemExit("bye"), Panic("index")])
def test_a_check_that_raises_is_dropped(
    survey: SurveyBuilder, phase: str, error: BaseException
) -> None:
    """In whatever phase it raises, there is one *errored* finding, and the others are as before."""
    alone, _ = audit([Points()], survey.paths)
    findings, readings = audit([_Breaks(phase, error), Points()], survey.paths)
    (broken,) = by_check(findings, "breaks")
    assert broken.outcome is Outcome.ERRORED
    for part in (f"in {phase}", type(error).__name__, str(error), "stranger 4.2"):
        assert part in broken.sentence
    assert by_check(findings, "points-counted") == list(alone)
    assert all(reading.fingerprint for reading in readings.values())


@pytest.mark.parametrize("phase", ["prepare", "start", "chunk", "close", "finish"])
def test_ctrl_c_in_a_check_interrupts(survey: SurveyBuilder, phase: str) -> None:
    """An interruption is never taken for a mistake of the check."""
    with pytest.raises(KeyboardInterrupt):
        audit([_Breaks(phase, KeyboardInterrupt())], survey.paths)


def test_an_exception_whose_text_raises_is_told_by_its_type(survey: SurveyBuilder) -> None:
    """A broken message of a broken check does not break the audit."""

    class NastyError(Exception):
        def __str__(self) -> str:
            raise RuntimeError

    findings, _ = audit([_Breaks("chunk", NastyError())], survey.paths)
    assert "NastyError" in findings[0].sentence


def test_no_check_can_alter_what_the_next_one_sees(survey: SurveyBuilder) -> None:
    """Writing to a slice fails, and only the check that tried is dropped."""

    class Vandal(Points):
        id = "a-vandal"

        def start(self, plan: Plan, file: DeliveredFile) -> Any:
            class Writes(Counter):
                def chunk(self, points: Any) -> None:
                    points.z[:] = 0

            return Writes()

    findings, _ = audit([Vandal(), Points()], survey.paths)
    assert by_check(findings, "a-vandal")[0].outcome is Outcome.ERRORED
    assert len(by_check(findings, "points-counted")) == len(survey.paths)


@pytest.mark.parametrize(
    ("method", "answer", "part"),
    [
        ("prepare", None, "prepare returned no plan"),
        ("start", 7, "start returned no tally"),
        ("finish", None, "TypeError"),
    ],
)
def test_rubbish_from_a_phase_drops_the_check(
    survey: SurveyBuilder, method: str, answer: object, part: str
) -> None:
    """A phase that returns something else is a mistake of the check."""
    check = type("Rubbish", (Points,), {"id": "rubbish", method: lambda *parts: answer})()
    (found,) = audit([check], survey.paths)[0]
    assert found.outcome is Outcome.ERRORED
    assert part in found.sentence


@pytest.mark.parametrize(
    "answer",
    [
        lambda check: ["all fine"],
        lambda check: [None],
        lambda check: [replace(check.conforms("x", "y"), check="other-check")],
        lambda check: [replace(check.conforms("x", "y"), grade=Grade.MAJOR)],
        lambda check: [Finding("record", Outcome.NONCONFORMING, "x", "y")],
        lambda check: [Finding("record", Outcome.ERRORED, "x", "y")],
        lambda check: [Finding("record", Outcome.NOT_ASSESSED, "x", "y")],
        lambda check: [Finding("record", "conforms", "x", "y")],  # type: ignore[arg-type]
        lambda check: [check.conforms("x", "")],
        lambda check: [check.conforms("", "y")],
        lambda check: [check.conforms("x", "y", observed=7)],
        lambda check: [check.conforms("x", "y", catalogue="FT-05")],
        lambda check: [check.conforms("x", "y", where="tile.las")],
        lambda check: [check.conforms("x", "y", where=Where(xy=(1.0, float("nan"))))],
        lambda check: [check.conforms("x", "y", where=Where(time_span=("a", 2)))],  # type: ignore[arg-type]
        lambda check: [check.conforms("x", "y", where=Where(strips=(2,)))],  # type: ignore[arg-type]
    ],
)
def test_a_finding_that_contradicts_itself_drops_the_check(answer: Any) -> None:
    """What is no finding, speaks for another check or has a wrong grade is no answer."""
    (found,) = judge(Record(lambda check, _: answer(check)))
    assert found.outcome is Outcome.ERRORED


def test_silence_is_no_pass() -> None:
    """A check that answers nothing is *inconclusive*."""
    (found,) = judge(Record(lambda *_: ()))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert found.subject == WHOLE_DELIVERY


@pytest.mark.parametrize("stream", ["stdout", "stderr"])
def test_what_a_check_prints_is_left_out(survey: SurveyBuilder, capsys, stream: str) -> None:
    """In every phase, whichever stream it takes; the lines are counted."""

    class Chatty(_Breaks):
        def fail(self, phase: str) -> None:
            getattr(sys, stream).write(f"printed in {phase}\n")

    guard = Guard()
    evidence = make_evidence(survey.paths)
    runner = Runner([enable(Chatty("", ValueError()))], guard)
    runner.read_points(evidence, {path.name: path for path in survey.paths}, NoProgress())
    runner.judge_all(evidence)
    assert capsys.readouterr() == ("", "")
    # Prepare and finish once; start, chunk and close once for each of the two files.
    assert guard.heard == {("stranger", "4.2"): Heard(8, "printed in prepare")}


def test_a_check_of_records_that_raises_in_prepare_is_dropped() -> None:
    """Without points too, a check that raises before it answers is *errored*."""

    class Unprepared(Record):
        def prepare(self, evidence: Evidence, criteria: Criteria) -> Plan:
            raise LookupError("no such thing")

    (found,) = judge(Unprepared(lambda c, _: [c.conforms("x", "y")]))
    assert found.outcome is Outcome.ERRORED
    assert "in prepare" in found.sentence
    assert "LookupError: no such thing" in found.sentence


def test_a_long_message_is_cut(survey: SurveyBuilder) -> None:
    """A message of any length stays one line."""
    findings, _ = audit([_Breaks("start", ValueError("long\n" * 1000))], survey.paths)
    assert "\n" not in findings[0].sentence
    assert len(findings[0].sentence) < 500


def test_a_tally_that_is_false_is_fed_all_the_same(survey: SurveyBuilder) -> None:
    """An empty tally may be false in Python's eyes; it sees every point nevertheless."""

    class Empty(Counter):
        def __len__(self) -> int:
            return 0

    check = type("Shy", (Points,), {"id": "shy", "start": lambda *_: Empty()})()
    findings, _ = audit([check], survey.paths)
    assert {finding.outcome for finding in findings} == {Outcome.CONFORMS}


def test_an_empty_file_is_read_and_has_no_box(survey: SurveyBuilder) -> None:
    """A file without a point is whole: nothing counted, no box, and a tally that saw nothing."""
    survey.empty_tile(0)
    findings, readings = audit([Points()], survey.paths)
    facts = readings[survey.paths[0].name].facts
    assert (facts.decoded, facts.minimum, facts.maximum, facts.fault) == (0, None, None, "")
    assert sum(facts.by_return) == 0
    assert next(f for f in findings if f.subject == survey.paths[0].name).observed == "0 0"
