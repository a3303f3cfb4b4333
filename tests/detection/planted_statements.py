"""Errors in what is stated of checkpoints."""

from __future__ import annotations

from dataclasses import replace

from checkpoint_cases import Case, case, heights, runs
from ground_bench import make_ground

from ledger.model.artefact import Role
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.process import Card, Input
from lidar_checks.ground.accuracy_statement import AccuracyStatement


def stated(value: str, of: Case) -> Case:
    """Return checkpoints and what a report says of them."""
    given = {"accuracy": "vertical", "statistic": "RMSE", "about": "out"}
    values = {f"statement.{name}": KnownValue(text) for name, text in given.items()}
    values["statement.value"] = KnownValue(value, "m")
    card = Card("A1", "", 9, "", "", values)
    return Case(of.points, make_ground(job=JobRecords(statements=(card,))))


def fitted(table: str) -> Case:
    """Return a stated accuracy, and a run that was fitted to a table."""
    points, evidence = stated("0.023", heights(0.023))
    run = replace(runs(used=True), inputs=(Input(sha256=table, role=Role.CONTROL),))
    return Case(points, replace(evidence, processes=(run,)))


CASES = (
    case(
        AccuracyStatement(),
        "a better number than the files give",
        stated("0.019", heights(0.023)),
        stated("0.021", heights(0.023)),
        "0.019 m against 0.021 m, computed 0.023 m",
        ids=("RH-06",),
    ),
    case(
        AccuracyStatement(),
        "a spread stated as RMSE",
        stated("0.018", heights(0.023, 0.0145)),
        stated("0.018", heights(0.018, 0.002)),
        "a bias of 0.0145 m against 0.002 m",
        ids=("RH-06", "CP-10"),
    ),
    case(
        AccuracyStatement(),
        "a number that only control bears out",
        fitted("c" * 64),
        fitted("e" * 64),
        "the table of the checkpoints as control against another",
        ids=("RH-07", "CP-06"),
    ),
)
