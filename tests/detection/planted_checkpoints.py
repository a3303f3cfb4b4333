"""Errors in how checkpoints were surveyed, how many there are, and whether they are independent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from checkpoint_cases import ASKED, GOOD, SITE, Case, case, heights, runs
from ground_bench import KEPT, draw, make_control, make_ground, make_residuals, make_tables
from planted import Planted

from ledger.contract.check import Check, Finding
from ledger.contract.evidence import Evidence
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.surveypoints import CONTROL
from ledger.testing import drive_check
from lidar_checks.ground.blind_areas import BlindAreas
from lidar_checks.ground.checkpoint_count import CheckpointCount
from lidar_checks.ground.checkpoint_independence import CheckpointIndependence
from lidar_checks.ground.checkpoint_quality import CheckpointQuality
from lidar_checks.ground.checkpoint_systems import CheckpointSystems
from lidar_checks.ground.control_fit import ControlFit


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
