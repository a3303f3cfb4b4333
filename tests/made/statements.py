"""Statements of accuracy, made and judged beside checkpoints of a known spread."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ground_bench import draw, judge, make_ground, make_residuals

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.process import Card, Decision, Input, Process
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.statement_grounds import JUDGES

# RMSE 0.023 m, mean 0.015 m: the spread with n - 1 is 0.0181 m.
POINTS = make_residuals(draw(14, 0.023, 0.015), surveyed="2026-05-12", stratum="bare")
EVEN = make_residuals(draw(14, 0.023, 0.002), surveyed="2026-05-12", stratum="bare")
MANY = make_residuals(draw(24, 0.023, 0.002), surveyed="2026-05-12", stratum="bare")
WITHOUT_CONTROL = Process(
    "R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "",
    {"run.control_used": KnownValue(value=False)},
)  # fmt: skip


def tell_other(check: str, grade: Grade | None = None, **parts: Any) -> tuple[Finding, ...]:
    """Return what another check found: nothing wrong, or that."""
    outcome = Outcome.CONFORMS if grade is None else Outcome.NONCONFORMING
    told = {"subject": "delivery", "sentence": "So it is.", "observed": "1", **parts}
    return (Finding(check=check, outcome=outcome, grade=grade, **told),)


CLEAN = {name: tell_other(name) for name in JUDGES}


def make_known(**parts: Any) -> Evidence:
    """Return evidence of a run without control, in which the other checks found nothing."""
    return make_ground(**{"processes": (WITHOUT_CONTROL,), "results": CLEAN, **parts})


def make_statement(value: str, statistic: str = "RMSE", **parts: str) -> Card:
    """Return a statement of a report."""
    given = {
        "accuracy": "vertical",
        "statistic": statistic,
        "count": "14",
        "checkpoints": "c" * 64,
        "about": "out",
        **parts,
    }
    values = {f"statement.{name}": KnownValue(text) for name, text in given.items() if text}
    values["statement.value"] = KnownValue(value, "m")
    return Card("A1", "", 9, "2026-05-15T09:00:00Z", "technician", values)


def judge_claim(card: Card, points: tuple[Residual, ...] = POINTS, **asked: Any) -> Finding:
    """Return what is said of a statement."""
    evidence = make_known(job=JobRecords(statements=(card,)))
    (found,) = (
        each
        for each in judge(AccuracyStatement(), points, asked, evidence)
        if each.subject == card.id
    )
    return found


def make_sentence(points: tuple[Residual, ...], asked: Any = None, **parts: Any) -> Finding:
    """Return the sentence, or why there is none."""
    return judge(AccuracyStatement(), points, asked, make_known(**parts))[0]


CONTROL = Process(
    "R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "",
    {"run.control_used": KnownValue(True)}, (Input(sha256="c" * 64, role="control"),),
)  # fmt: skip


def pick_targets() -> tuple[Residual, ...]:
    """Return points with targets 0.03 m east and 0.04 m north of where they should be."""
    return tuple(replace(each, dx=0.03, dy=0.04) for each in POINTS)
