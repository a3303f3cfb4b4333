"""Accepting: only minors, only with function and reason, and only while nothing changed."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from ledger.accept import accept_findings
from ledger.contract.passing import PointPass
from ledger.errors import UsageError
from ledger.model.audit import WHOLE_DELIVERY, AcceptResult, AuditStand
from ledger.model.finding import Finding, Grade
from ledger.model.verdict import Verdict
from ledger.recheck import recheck
from ledger.report import recheck as recheck_view
from ledger.report.accept import make_screen
from ledger.report.screen import make_console


def accept(job: Path, name: str, by: str, reason: str) -> AcceptResult:
    """Take one finding."""
    return accept_findings(job, (name,), by, reason)


def grade_all(*grades: Grade, limit: str = "10", subject: str = "") -> Any:
    """Return an answer with one finding of each grade, about different places."""

    def answer(check: Any, evidence: Any) -> Iterable[Finding]:
        for number, grade in enumerate(grades):
            named = subject or evidence.files[number].path
            yield check.nonconforming(
                grade, named, f"Place {number} is off.", required=limit, remedy="Mend it."
            )

    return answer


def find_id(result: Any, grade: Grade) -> str:
    """Return the id of the first finding of a grade."""
    return next(finding.id for finding in result.findings if finding.grade is grade)


def test_an_accepted_minor_changes_the_verdict_without_reading_points(bench, monkeypatch) -> None:
    """The verdict is made anew from the stored audit, with all acceptances so far."""
    bench.install(bench.say(grade_all(Grade.MINOR, Grade.MINOR)), bench.count())
    audit = bench.audit()
    monkeypatch.setattr(PointPass, "read", None)
    first, second = (f for f in audit.findings if f.grade is Grade.MINOR)
    result = accept(bench.job, first.id[:6], "site engineer", "seen on site")
    assert result.audits == (AuditStand(audit.entry, "out", Verdict.ACCEPTANCE_NEEDED),)
    (taken,) = result.taken
    assert taken.sentences == (first.sentence,)
    assert (taken.finding, taken.audit, taken.before) == (first.id, audit.entry, None)
    assert result.open == (second.id,)
    result = accept(bench.job, second.id.upper(), "site engineer", "seen on site")
    assert result.audits[0].verdict is Verdict.FIT_TO_SEND
    with bench.read() as book:
        entry = book.entry(result.taken[0].entry)
    assert (entry.kind, entry.by) == ("acceptance", "site engineer")
    assert entry.values == {
        "finding": second.id,
        "by": "site engineer",
        "reason": "seen on site",
        "audit": audit.entry,
    }


def test_an_acceptance_stands_in_the_next_audit_and_lapses_with_the_bytes(bench) -> None:
    """The same bytes and criterion keep the acceptance; one changed byte or value ends it."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    accept(bench.job, find_id(bench.audit(), Grade.MINOR), "office", "agreed")
    again = bench.audit()
    assert again.verdict is Verdict.FIT_TO_SEND
    (taken,) = again.accepted.values()
    assert (taken.by, taken.reason) == ("office", "agreed")
    bench.install(bench.say(grade_all(Grade.MINOR, limit="9")))
    assert bench.audit().verdict is Verdict.ACCEPTANCE_NEEDED
    bench.install(bench.say(grade_all(Grade.MINOR)))
    assert bench.audit().verdict is Verdict.FIT_TO_SEND
    bench.survey.flip_byte(0, -1)
    assert bench.audit().verdict is Verdict.ACCEPTANCE_NEEDED


def test_an_acceptance_of_the_whole_delivery_lapses_with_any_file(bench) -> None:
    """A finding about the delivery depends on every file of it."""
    bench.install(bench.say(grade_all(Grade.MINOR, subject=WHOLE_DELIVERY)))
    accept(bench.job, find_id(bench.audit(), Grade.MINOR), "office", "agreed")
    assert bench.audit().verdict is Verdict.FIT_TO_SEND
    (bench.out / "more.txt").write_text("x", encoding="utf-8")
    assert bench.audit().verdict is Verdict.ACCEPTANCE_NEEDED


def test_a_raised_revision_ends_an_acceptance(bench) -> None:
    """What an earlier revision of a check found was accepted, not what this one finds."""
    bench.install(bench.say(grade_all(Grade.MINOR), revision=1))
    accept(bench.job, find_id(bench.audit(), Grade.MINOR), "office", "agreed")
    bench.install(bench.say(grade_all(Grade.MINOR), revision=2))
    assert bench.audit().verdict is Verdict.ACCEPTANCE_NEEDED


def test_a_recheck_says_the_verdict_with_what_was_accepted(bench) -> None:
    """As the first screen and a handover do: what was accepted since counts."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    audit = bench.audit()

    def show() -> str:
        console = make_console(io.StringIO(), width=200)
        with console.capture() as shown:
            console.print(recheck_view.make_screen(recheck(bench.job)))
        return shown.get()

    assert f"({Verdict.ACCEPTANCE_NEEDED}, entry" in show()
    accept(bench.job, find_id(audit, Grade.MINOR), "office", "agreed")
    assert f"({Verdict.FIT_TO_SEND}, entry" in show()


def test_an_acceptance_leaves_a_major_as_it_is(bench) -> None:
    """With every minor accepted a major still stops the delivery."""
    bench.install(bench.say(grade_all(Grade.MINOR, Grade.MAJOR)))
    audit = bench.audit()
    result = accept(bench.job, find_id(audit, Grade.MINOR), "office", "agreed")
    assert result.audits[0].verdict is Verdict.DO_NOT_SEND


@pytest.mark.parametrize("grade", [Grade.MAJOR, Grade.OBSERVATION, None])
def test_only_a_minor_can_be_accepted(bench, grade: Grade | None) -> None:
    """Majors, observations and gaps are refused, and nothing is entered."""

    def lacks(check: Any, _: Any) -> Iterable[Finding]:
        yield check.not_assessed(WHOLE_DELIVERY, "Cannot say.", ("records",))

    bench.install(bench.say(grade_all(grade) if grade else lacks))
    audit = bench.audit()
    with pytest.raises(UsageError):
        accept(bench.job, audit.open_findings[0].id, "office", "agreed")
    with bench.read() as book:
        assert book.size == audit.entry


@pytest.mark.parametrize(
    ("prefix", "by", "reason", "said"),
    [
        ("abc", "office", "agreed", "too short: found abc, expected at least 4 characters"),
        ("", "office", "agreed", "found nothing"),
        ("zzzz", "office", "agreed", "no such finding: found zzzz; minor findings: "),
        ("{id}", " ", "agreed", "function of the person who takes it is blank; add --by"),
        ("{id}", "office", "", "the reason is blank; add --reason"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(bench, prefix, by, reason, said) -> None:
    """Each mistake has a sentence of its own with what to do."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    name = find_id(bench.audit(), Grade.MINOR)
    with pytest.raises(UsageError, match=re.escape(said)) as caught:
        accept(bench.job, prefix.format(id=name), by, reason)
    assert "\n" not in str(caught.value)


def test_a_prefix_of_two_findings_is_refused(bench) -> None:
    """Where several ids begin alike, all of them are named."""
    many = [f"place {number}" for number in range(3000)]

    def answer(check: Any, _: Any) -> Iterable[Finding]:
        for name in many:
            yield check.nonconforming(Grade.MINOR, name, "Off.", remedy="Mend it.", observed=name)

    bench.install(bench.say(answer))
    ids = sorted(finding.id for finding in bench.audit(quick=True).findings)
    first, second = next(pair for pair in itertools.pairwise(ids) if pair[0][:4] == pair[1][:4])
    with pytest.raises(UsageError, match="several findings begin like this") as caught:
        accept(bench.job, first[:4], "office", "agreed")
    assert first in str(caught.value)
    assert second in str(caught.value)


def test_findings_of_an_outdated_audit_cannot_be_accepted(bench) -> None:
    """Once the folder was audited again with other bytes, the old findings are gone."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    old = find_id(bench.audit(), Grade.MINOR)
    bench.survey.flip_byte(0, -1)
    bench.audit()
    with pytest.raises(UsageError, match="no such finding"):
        accept(bench.job, old, "office", "agreed")


def test_the_verdict_is_that_of_the_full_audit(bench) -> None:
    """After a quick look at the same bytes, accepting still completes the full audit."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    full = bench.audit()
    bench.audit(quick=True)
    result = accept(bench.job, find_id(full, Grade.MINOR), "office", "agreed")
    assert result.audits == (AuditStand(full.entry, "out", Verdict.FIT_TO_SEND),)


def test_the_same_acceptance_twice_is_one_entry(bench) -> None:
    """Who says the same again reads who took it and when, and the book does not grow."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    name = find_id(bench.audit(), Grade.MINOR)
    first = accept(bench.job, name, "office", "agreed")
    again = accept(bench.job, name, " office ", "agreed ")
    (taken,) = again.taken
    assert not taken.is_new
    assert (taken.entry, taken.before.by) == (first.taken[0].entry, "office")
    assert again.audits[0].verdict is Verdict.FIT_TO_SEND
    with bench.read() as book:
        assert book.size == first.taken[0].entry
    shown = show(again)
    assert re.search(r"Accepted already: by office on 20\d\d-\d\d-\d\d, entry \d+, “agreed”", shown)
    assert "Nothing was entered" in shown


@pytest.mark.parametrize(("by", "reason"), [("client", "agreed"), ("office", "seen on site")])
def test_another_person_or_reason_is_an_entry_beside_the_first(bench, by, reason) -> None:
    """Nothing is replaced: both stay, and the screen says so."""
    bench.install(bench.say(grade_all(Grade.MINOR)))
    name = find_id(bench.audit(), Grade.MINOR)
    first = accept(bench.job, name, "office", "agreed")
    (taken,) = accept(bench.job, name, by, reason).taken
    assert taken.is_new
    assert taken.before.entry == first.taken[0].entry
    shown = show(accept_findings(bench.job, (name,), "third", "so be it"))
    assert f"before, too: by {by} on " in shown
    assert "Both stay in the book" in shown


def test_several_findings_are_taken_together(bench) -> None:
    """One function and reason for several ids: an entry each, one named twice counts once."""
    bench.install(bench.say(grade_all(Grade.MINOR, Grade.MINOR)))
    audit = bench.audit()
    ids = [finding.id for finding in audit.findings if finding.grade is Grade.MINOR]
    result = accept_findings(bench.job, (*ids, ids[0][:6]), "office", "agreed")
    assert [taken.finding for taken in result.taken] == ids
    assert [taken.entry for taken in result.taken] == [audit.entry + 1, audit.entry + 2]
    assert result.audits[0].verdict is Verdict.FIT_TO_SEND
    assert result.open == ()


def test_one_wrong_id_stops_all(bench) -> None:
    """Each fault is a line of its own, and nothing is entered by half."""
    bench.install(bench.say(grade_all(Grade.MINOR, Grade.MAJOR)))
    audit = bench.audit()
    names = (find_id(audit, Grade.MINOR), find_id(audit, Grade.MAJOR), "zzzz", "a")
    with pytest.raises(UsageError) as caught:
        accept_findings(bench.job, names, "office", "agreed")
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    assert "a major finding cannot be accepted" in lines[0]
    assert "no such finding: found zzzz" in lines[1]
    assert "too short" in lines[2]
    with bench.read() as book:
        assert book.size == audit.entry


def show(result: AcceptResult) -> str:
    """Return the screen as one line of words."""
    stream = io.StringIO()
    make_console(stream, 80).print(make_screen(result))
    return " ".join(stream.getvalue().split())
