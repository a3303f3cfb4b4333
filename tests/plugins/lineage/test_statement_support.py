"""Numbers that a report states, beside the checkpoints on record."""

from __future__ import annotations

from typing import Any

import pytest
from made_raw import grade, judge, make_job

from ledger.contract.check import Grade, Outcome
from ledger.model.artefact import FileRecord
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card, Decision, Input, Process
from ledger.testing import make_file
from lidar_checks.lineage.statement_support import StatementSupport

TABLE = "c" * 64
ROWS = {TABLE: FileRecord("raw/checks.csv", TABLE, 1, 1, "checkpoints", {"rows": 14})}
SAID: dict[str, Any] = {
    "about": "deliver",
    "accuracy": "vertical",
    "statistic": "RMSE",
    "value": "0.023",
    "count": 14,
    "checkpoints": TABLE,
}


def make_statement(**changed: Any) -> Card:
    """Return a statement; what is None is left blank."""
    given = {key: value for key, value in {**SAID, **changed}.items() if value is not None}
    values = {
        f"statement.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in given.items()
    }
    return Card("T1", "", 9, "", "technician", values)


def look(*cards: Card, **parts: Any) -> Any:
    """Return the findings about a folder `deliver` of which these were said."""
    given = {"folder": "deliver", "registered": ROWS, "statements": cards, **parts}
    return judge(StatementSupport(), make_job(**given))


@pytest.mark.parametrize(
    ("count", "expected", "ids"),
    [
        (14, Outcome.CONFORMS, ("RH-06", "RH-07")),
        (15, Grade.MAJOR, ("RH-06",)),
        (13, Grade.OBSERVATION, ("RH-06",)),
        (0, Grade.MAJOR, ("RH-07",)),
    ],
)
def test_as_many_points_as_stated(
    count: int, expected: Grade | Outcome, ids: tuple[str, ...]
) -> None:
    """More points than the table holds cannot be; fewer were left out; none proves nothing."""
    found = look(make_statement(count=count))["T1"]
    assert (grade(found), found.catalogue) == (expected, ids)


@pytest.mark.parametrize("blank", ["statistic", "value", "count", "checkpoints", "accuracy"])
def test_what_a_statement_rests_on(blank: str) -> None:
    """Each thing that is blank is named."""
    found = look(make_statement(**{blank: None}))["T1"]
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, (f"statement.{blank}",))


def test_a_table_that_is_not_registered() -> None:
    """Points of an unknown table cannot be counted."""
    found = look(make_statement(), registered={})["T1"]
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("checkpoints",))


def test_control_shows_no_accuracy() -> None:
    """A table that a run was fitted to, or that was registered as control."""
    used = Input(sha256=TABLE, path="raw/checks.csv", role="control")
    run = Process("R2", "run", "", 2, "", "", Decision.ACCEPTED, 2, "", inputs=(used,))
    fitted = look(make_statement(), processes=(run,))["T1"]
    assert (grade(fitted), "control of R2" in fitted.sentence) == (Grade.MAJOR, True)
    control = {TABLE: FileRecord("raw/k.csv", TABLE, 1, 1, "control", {"rows": 14})}
    assert grade(look(make_statement(), registered=control)["T1"]) is Grade.MAJOR


@pytest.mark.parametrize(
    ("about", "is_meant"),
    [("deliver", True), ("deliver/", True), ("R2", True), (None, True), ("R9", False)],
)
def test_which_statements_are_meant(about: str | None, *, is_meant: bool) -> None:
    """Those about the folder, about a run behind it, and those that do not say."""
    run = Process("R2", "run", "", 2, "", "", Decision.ACCEPTED, 2, "")
    found = look(make_statement(about=about), processes=(run,))
    assert ("T1" in found) == is_meant
    if not is_meant:
        assert grade(found["delivery"]) is Outcome.INCONCLUSIVE


def test_another_edition_of_the_report() -> None:
    """A report of the same name with other bytes was changed after the number was read."""
    report = KnownValue("d" * 64, where="out/report.pdf")
    same = make_file("report.pdf", kind="document", sha256="d" * 64)
    other = make_file("report.pdf", kind="document", sha256="e" * 64)
    assert list(look(make_statement(report=report), files=(same,))) == ["T1"]
    found = look(make_statement(report=report), files=(other,))
    assert (list(found), grade(found["report.pdf"])) == (["report.pdf"], Grade.MINOR)


def test_a_guess_proves_nothing() -> None:
    """A count that was assumed leaves it open."""
    guess = KnownValue(14, known_by=KnownBy.ASSUMED, confirmed=False)
    assert grade(look(make_statement(count=guess))["T1"]) is Outcome.INCONCLUSIVE
