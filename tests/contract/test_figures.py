"""Figures that a check tells beside its findings: held to be numbers, kept, shown and printed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from io import StringIO

import pytest

from ledger.contract.check import Check, Figure, Finding, Outcome
from ledger.contract.enabled import EnabledCheck
from ledger.contract.figures import MAX_FIGURES, require_figure
from ledger.contract.runner import Runner
from ledger.errors import ContractError
from ledger.model.audit import Plugin
from ledger.report.auditfigures import list_figures
from ledger.report.screen import make_console
from ledger.testing import make_evidence

GOOD = Figure("vertical-rmse", "Accuracy", "RMSE 0.023 m.", "0.023", "m", 14, "0.017", "0.036")


@pytest.mark.parametrize(
    "wrong",
    [
        {"name": "Vertical RMSE"},
        {"topic": " "},
        {"sentence": ""},
        {"value": "NaN"},
        {"value": "much"},
        {"low": "0.1", "high": ""},
        {"value": "", "low": "0.1", "high": "0.2"},
        {"count": -1},
        {"values": ("0.01",)},
        {"listed": ("C01",), "values": ("much",)},
        {"listed": ("C01", "C02"), "values": ("0.01",)},
    ],
)
def test_what_is_no_figure_is_refused(wrong: dict[str, object]) -> None:
    """A number that is none, an interval without its number, a count below zero."""
    require_figure("any", GOOD)
    with pytest.raises(ContractError, match="a figure of any"):
        require_figure("any", replace(GOOD, **wrong))  # type: ignore[arg-type]


class _Telling(Check):
    id = "telling"
    title = "Tells figures"

    def __init__(self, *figures: Figure) -> None:
        self.figures = figures

    def finish(self, plan, summaries, evidence) -> Iterable[Finding | Figure]:
        yield self.conforms("delivery", "All is well.")
        yield from self.figures


def _run(*figures: Figure) -> tuple[Runner, tuple[Finding, ...]]:
    check = _Telling(*figures)
    runner = Runner([EnabledCheck(check, Plugin("any", "1", "", ""), check.criteria())])
    return runner, runner.judge_all(make_evidence())


def test_figures_come_from_the_runner_with_their_check() -> None:
    """A figure is no finding, and it says who told it."""
    runner, findings = _run(GOOD)
    assert [each.outcome for each in findings] == [Outcome.CONFORMS]
    assert runner.figures == (replace(GOOD, check="telling"),)


@pytest.mark.parametrize(
    "figures",
    [(GOOD, GOOD), tuple(replace(GOOD, name=f"f{n}") for n in range(MAX_FIGURES + 1))],
    ids=["one name twice", "too many"],
)
def test_a_check_that_tells_too_much_broke(figures: tuple[Figure, ...]) -> None:
    """Its findings are lost with it: nothing half told."""
    runner, findings = _run(*figures)
    assert [each.outcome for each in findings] == [Outcome.ERRORED]
    assert runner.figures == ()


def test_figures_stand_below_their_topic() -> None:
    """Each topic once, with its figures in the order in which they were told."""
    screen = StringIO()
    console = make_console(screen, width=80)
    other = replace(GOOD, name="other", topic="Elsewhere", sentence="Nothing.")
    for part in list_figures([GOOD, other, replace(GOOD, name="third", sentence="Mean 0 m.")]):
        console.print(part)
    assert screen.getvalue().split("\n") == [
        "",
        "Accuracy",
        "  RMSE 0.023 m.",
        "  Mean 0 m.",
        "",
        "Elsewhere",
        "  Nothing.",
        "",
    ]
