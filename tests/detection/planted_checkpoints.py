"""Errors at checkpoints, in what is said of them, and in how they were surveyed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from ground_bench import KEPT, draw, judge, make_control, make_ground, make_residuals, make_tables
from planted import Planted

from ledger.contract.check import Check, Finding
from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.process import Card, Decision, Input, Process
from ledger.model.surveypoints import CONTROL
from ledger.testing import drive_check
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.blind_areas import BlindAreas
from lidar_checks.ground.checkpoint_check import CheckpointCheck
from lidar_checks.ground.checkpoint_count import CheckpointCount
from lidar_checks.ground.checkpoint_independence import CheckpointIndependence
from lidar_checks.ground.checkpoint_outliers import CheckpointOutliers
from lidar_checks.ground.checkpoint_quality import CheckpointQuality
from lidar_checks.ground.checkpoint_systems import CheckpointSystems
from lidar_checks.ground.control_fit import ControlFit
from lidar_checks.ground.horizontal_accuracy import HorizontalAccuracy
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy

ASKED = {"rmse_max_m": 0.05}
GOOD = make_residuals(draw(14, 0.02, seed=3), surveyed="2026-05-12", sigma_vertical_m=0.01)
SITE = make_ground()


class Case(NamedTuple):
    """Checkpoints, and what else is known."""

    points: Iterable[Residual]
    evidence: Evidence = SITE


def case(
    check: CheckpointCheck,
    fault: str,
    beyond: Case,
    inside: Case,
    gate: str = "",
    criteria: Mapping[str, Any] | None = None,
    ids: tuple[str, ...] = (),
) -> Planted:
    """Return an error in made checkpoints, on both sides of its gate."""
    return Planted(
        check.id,
        fault,
        lambda _: judge(check, beyond.points, criteria, beyond.evidence),
        lambda _: judge(check, inside.points, criteria, inside.evidence),
        gate,
        ids,
    )


def heights(rmse: float, mean: float = 0.0, count: int = 14) -> Case:
    """Return checkpoints with this RMSE and mean, metres."""
    return Case(make_residuals(draw(count, rmse, mean, seed=3)))


def in_forest(error: float) -> Case:
    """Return good points, and twenty in a forest of which one is off by this much or more."""
    grown = make_residuals([0.01] * 18 + [error] * 2)
    forest = (
        replace(each, id=f"V{each.id}", stratum="forest", north_m=each.north_m + 5.0)
        for each in grown
    )
    return Case((*GOOD, *forest))


def overgrown(rise: float) -> Case:
    """Return good points, and twelve in a forest above which the cloud lies."""
    grown = make_residuals(draw(12, float(np.hypot(rise, 0.01)), rise))
    forest = (
        replace(each, id=f"V{each.id}", stratum="forest", north_m=each.north_m + 5.0)
        for each in grown
    )
    return Case((*GOOD, *forest))


def targets(off: float) -> Case:
    """Return targets picked so far east of where they should be."""
    return Case(tuple(replace(each, dx=off, dy=0.0) for each in GOOD))


def runs(used: bool) -> Process:
    """Return a run with or without control."""
    named = (Input(sha256="d" * 64, role=Role.CONTROL),)
    values = {"run.control_used": KnownValue(used)}
    return Process("R1", "run", "", 3, "", "", Decision.ACCEPTED, 3, "", values, named)


def reused(apart: float) -> Case:
    """Return a control point that was used, so far from a checkpoint."""
    control = make_control(("K3", GOOD[8].east_m + apart, GOOD[8].north_m))
    return Case((*GOOD, *control), make_ground(processes=(runs(True),)))


def listed(apart: float) -> Case:
    """Return a control point that was not used, so far from a checkpoint."""
    return Case(reused(apart).points, make_ground(processes=(runs(False),)))


def flat(shares: float) -> Case:
    """Return means of zero on all axes, but for a share of their standard error."""
    axes = [np.array(draw(14, 0.02, seed=seed)) for seed in (1, 2, 3)]
    x, y, z = (axis + shares * axis.std(ddof=1) / np.sqrt(14) for axis in axes)
    points = tuple(
        replace(each, dx=float(x[n]), dy=float(y[n]), dz=float(z[n])) for n, each in enumerate(GOOD)
    )
    return Case(points, make_ground(processes=(runs(False),)))


def shared(method: str) -> Case:
    """Return checkpoints of the flight's own base."""
    values = {"flight.base_mark": KnownValue("QM1"), "flight.base_method": KnownValue(method)}
    flight = Card("F1", "", 2, "", "", values)
    tables = make_tables(base="QM1")
    evidence = make_ground(processes=(runs(False),), tables=tables, flights=(flight,))
    return Case(GOOD, evidence)


def in_corner(side: float) -> Case:
    """Return checkpoints in a square of this side in the middle of the site."""
    low, high = 200.0 - side / 2, 200.0 + side / 2
    places = [(low, low), (high, low), (low, high), (high, high)] * 8
    points = make_residuals(draw(32, 0.02))
    return Case(
        tuple(
            replace(each, east_m=500_000.0 + x, north_m=3_100_000.0 + y + 0.1 * (number // 4))
            for number, (each, (x, y)) in enumerate(zip(points, places, strict=True))
        )
    )


def one_off(error: float) -> Case:
    """Return good points of which one is off."""
    return Case((*GOOD[:6], replace(GOOD[6], dz=error), *GOOD[7:]))


def exchanged(rise: float) -> Case:
    """Return good points of which two, that differ in height by so much, are exchanged."""
    level = [replace(each, height_m=25.0, dz=(each.dz or 0.0) / 4) for each in GOOD]
    level[2] = replace(level[2], height_m=20.0 + rise, dz=(level[2].dz or 0.0) - rise)
    level[9] = replace(level[9], height_m=20.0, dz=(level[9].dz or 0.0) + rise)
    return Case(level)


def rod(step: float) -> Case:
    """Return points of which five in a row had the wrong rod."""
    return Case(
        [
            replace(each, dz=(each.dz or 0.0) / 10 + (step if 4 <= n < 9 else 0.0))
            for n, each in enumerate(GOOD)
        ]
    )


def flown(day: str) -> Case:
    """Return checkpoints of 12 May and a flight of this day."""
    takeoff = KnownValue(f"{day}T09:00:00Z")
    card = Card("F1", "", 2, "", "", {"flight.takeoff": takeoff})
    return Case(GOOD, make_ground(flights=(card,)))


def sigma(metres: float) -> Case:
    """Return checkpoints that were surveyed so well."""
    return Case([replace(each, sigma_vertical_m=metres) for each in GOOD])


def bent(spread: float) -> Case:
    """Return control that scatters by so much, and checkpoints that scatter by 0.05 m."""
    control = (
        replace(each, id=f"K{n}", table=KEPT, kind=CONTROL, east_m=each.east_m + 7.0)
        for n, each in enumerate(heights(spread).points)
    )
    return Case((*control, *heights(0.05).points), make_ground(processes=(runs(used=True),)))


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


def covered(tiles: int) -> Case:
    """Return one checkpoint in each of the first of the four tiles."""
    return Case(
        [
            replace(GOOD[number], files=(file.path,))
            for number, file in enumerate(SITE.point_files[:tiles])
        ]
    )


def declared(**values: str) -> Evidence:
    """Return a table with declarations that differ."""
    asked = {"vertical": "orthometric", "epoch": 2010.0, "geoid": {"name": "model-A"}}
    return make_ground(specification={"coordinates": asked}, tables=make_tables(**values))


def table(fault: str, beyond: Evidence, inside: Evidence, ids: tuple[str, ...]) -> Planted:
    """Return an error in what is declared of a table."""

    def look(evidence: Evidence) -> tuple[Finding, ...]:
        check: Check = CheckpointSystems()
        return drive_check(check, evidence)

    return Planted(
        CheckpointSystems.id, fault, lambda _: look(beyond), lambda _: look(inside), "", ids
    )


def twice(apart: float) -> Case:
    """Return a table of sixteen points, and another of the same so far away."""
    points = tuple(heights(0.02, count=16).points)
    again = (
        replace(each, table="control/again.csv", east_m=each.east_m + apart) for each in points
    )
    return Case((*points, *again))


CASES = (
    case(
        VerticalAccuracy(),
        "heights that scatter",
        heights(0.0501),
        heights(0.0499),
        "RMSE 0.0501 m against 0.0499 m",
        ASKED,
    ),
    case(
        VerticalAccuracy(),
        "a bias",
        heights(0.056, 0.055),
        heights(0.0104, 0.0100),
        "0.055 m against 0.010 m",
        ASKED,
    ),
    case(
        VerticalAccuracy(),
        "heights off in vegetation",
        in_forest(0.31),
        in_forest(0.29),
        "0.31 m against 0.29 m",
        {**ASKED, "vegetated_p95_max_m": 0.3},
    ),
    case(
        VerticalAccuracy(),
        "low plants in the ground class",
        overgrown(0.055),
        overgrown(0.045),
        "0.055 m above the open ground against 0.045 m",
        ASKED,
        ids=("CL-01",),
    ),
    case(
        HorizontalAccuracy(),
        "targets off in plan",
        targets(0.0502),
        targets(0.0498),
        "0.0502 m against 0.0498 m",
        ASKED,
    ),
    case(
        CheckpointCount(),
        "too few checkpoints",
        heights(0.02, count=19),
        heights(0.02, count=20),
        "19 against 20",
        {"count_min": 20},
    ),
    case(
        CheckpointCount(),
        "one table sent twice",
        twice(0.04),
        twice(0.06),
        "0.04 m apart against 0.06 m",
        {"count_min": 20},
    ),
    case(
        CheckpointCount(),
        "checkpoints in the middle",
        in_corner(300.0),
        in_corner(320.0),
        "56 % of the site against 64 %",
        {"count_min": 20},
    ),
    case(
        CheckpointIndependence(),
        "control used as a checkpoint",
        reused(0.04),
        reused(0.06),
        "0.04 m apart against 0.06 m",
        ids=("CP-01",),
    ),
    case(
        CheckpointIndependence(),
        "listed as control too",
        listed(0.04),
        listed(0.06),
        "0.04 m apart against 0.06 m",
        ids=("CP-01",),
    ),
    case(
        CheckpointIndependence(),
        "means of zero on all axes",
        flat(0.01),
        flat(0.03),
        "0.01 standard errors against 0.03",
        ids=("CP-01",),
    ),
    case(
        CheckpointIndependence(),
        "the base of the flight",
        shared("averaged"),
        shared("published"),
        "averaged against published coordinates",
        ids=("CP-03",),
    ),
    case(
        CheckpointOutliers(),
        "a single blunder",
        one_off(0.20),
        one_off(0.045),
        "0.20 m against 0.045 m",
        ids=("CP-05",),
    ),
    case(
        CheckpointOutliers(),
        "two heights exchanged",
        exchanged(0.50),
        exchanged(0.03),
        "0.50 m between them against 0.03 m",
        ids=("CP-05",),
    ),
    case(
        CheckpointOutliers(),
        "a wrong rod",
        rod(0.09),
        rod(0.07),
        "0.09 m against 0.07 m",
        ids=("CP-11",),
    ),
    case(
        CheckpointQuality(),
        "a survey too coarse",
        sigma(0.026),
        sigma(0.024),
        "0.026 m against 0.024 m",
        ASKED,
        ids=("CP-08",),
    ),
    case(
        CheckpointQuality(),
        "an old survey",
        flown("2026-05-27"),
        flown("2026-05-26"),
        "15 days against 14",
        ids=("CP-09",),
    ),
    case(
        ControlFit(),
        "a cloud bent to its control",
        bent(0.014),
        bent(0.016),
        "0.014 m at the control against 0.016 m, 0.050 m at the checkpoints",
    ),
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
    case(
        BlindAreas(),
        "tiles without a checkpoint",
        covered(1),
        covered(2),
        "3 of 4 tiles against 2",
    ),
    table(
        "ellipsoidal heights",
        declared(vertical="ellipsoidal"),
        declared(vertical="orthometric"),
        ("SC-22", "VD-11"),
    ),
    table("heights of another geoid", declared(geoid="B"), declared(geoid="model-A"), ("SC-22",)),
    table("another epoch", declared(epoch="2026.4"), declared(epoch="2010.0"), ("SC-22",)),
)
