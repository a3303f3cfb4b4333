"""Made residuals, and checks of checkpoints driven with them, without a cloud."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from made_headers import make_header
from numpy.typing import NDArray

from ledger.contract.check import Figure, Finding, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.specification import Specification
from ledger.model.surveypoints import CHECKPOINTS, CONTROL, PointTable
from ledger.testing import make_evidence, make_file, make_table
from ledger.testing.driver import make_criteria
from lidar_checks.ground.checkpoint_check import CheckpointCheck
from lidar_checks.ground.flown import Flown
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample

CHECKS, KEPT = "control/checks.csv", "control/control.csv"
SIDE = 400.0
EAST, NORTH = 500_000.0, 3_100_000.0
METRES_SPECIFICATION: dict[str, Any] = {
    "coordinates": {"horizontal": "EPSG:6346", "unit": {"horizontal": "metre"}}
}


def spread(count: int) -> NDArray[np.float64]:
    """Return places spread evenly over the site, rim included, (n, 2)."""
    side = int(np.ceil(np.sqrt(count)))
    across = np.linspace(10.0, SIDE - 10.0, max(2, side))
    grid = np.array([(x, y) for y in across for x in across])
    # The corners first, so that few points stand there too.
    corner = np.abs(grid - SIDE / 2).sum(axis=1)
    chosen = grid[np.argsort(-corner, kind="stable")][:count]
    return np.asarray(chosen + np.array([EAST, NORTH]))


def make_residuals(dz: Iterable[float | None], **parts: Any) -> tuple[Residual, ...]:
    """Return checkpoints C01, C02 … spread over the site, with these errors in height."""
    errors = list(dz)
    places = spread(len(errors))
    return tuple(
        Residual(
            f"C{number + 1:02d}",
            CHECKS,
            CHECKPOINTS,
            float(east),
            float(north),
            20.0 + number,
            error,
            "" if error is not None else "no point of the cloud within 1.5 m",
            **parts,
        )
        for number, (error, (east, north)) in enumerate(zip(errors, places, strict=True))
    )


def draw(count: int, rmse: float, mean: float = 0.0, seed: int = 1) -> list[float]:
    """Return normal errors moved and scaled to have exactly this RMSE and this mean, metres."""
    drawn = np.random.default_rng(seed).normal(size=count)
    drawn -= drawn.mean()
    spread_m = np.sqrt(rmse**2 - mean**2)
    scaled = mean + drawn * spread_m / np.sqrt(np.mean(drawn**2))
    return [float(error) for error in scaled]


def make_control(*points: tuple[str, float, float]) -> tuple[Residual, ...]:
    """Return control points by name and place."""
    return tuple(
        Residual(name, KEPT, CONTROL, east, north, 20.0, 0.0) for name, east, north in points
    )


def make_tables(**declared: Any) -> tuple[PointTable, PointTable]:
    """Return a table of checkpoints and one of control, of which only the head counts here."""
    checks = make_table([], CHECKPOINTS, CHECKS, declared)
    return checks, replace(make_table([], CONTROL, KEPT), sha256="d" * 64)


def make_site(columns: int = 2, rows: int = 2) -> tuple[DeliveredFile, ...]:
    """Return tiles that cover the site."""
    tiles = []
    for row in range(rows):
        for column in range(columns):
            west, south = EAST + column * SIDE / columns, NORTH + row * SIDE / rows
            tiles.append(_make_tile(f"tile_{row}{column}.laz", west, south, columns, rows))
    return tuple(tiles)


def _make_tile(path: str, west: float, south: float, columns: int, rows: int) -> DeliveredFile:
    header = make_header(
        minimum=(west, south, 10.0), maximum=(west + SIDE / columns, south + SIDE / rows, 60.0)
    )
    return make_file(path, header=header)


def make_ground(
    files: Sequence[DeliveredFile] | None = None,
    specification: Mapping[str, Any] | None = None,
    **parts: Any,
) -> Evidence:
    """Return evidence of a site of four tiles in metres, with both tables."""
    stated = Specification.model_validate({**METRES_SPECIFICATION, **(specification or {})})
    given: dict[str, Any] = {"tables": make_tables(), **parts}
    tiles = make_site() if files is None else files
    return make_evidence(*tiles, specification=stated, **given)


def look(
    check: CheckpointCheck,
    residuals: Iterable[Residual],
    criteria: Mapping[str, Any] | None = None,
    evidence: Evidence | None = None,
    flown: Flown | None = None,
) -> tuple[list[Finding], list[Figure]]:
    """Return what a check finds in made residuals, and its figures.

    Criteria that are given count as stated in job.toml, the others as defaults.
    """
    known = evidence or make_ground()
    model = make_criteria(check, criteria)
    plan = Plan(model, known.lattice)
    plan.sources = {
        name: "job.toml" if name in (criteria or {}) else f"default: {field.description}"
        for name, field in type(model).model_fields.items()
    }
    told = list(check.judge(plan, Sample(tuple(residuals), known, flown or Flown())))
    findings = [each for each in told if isinstance(each, Finding)]
    return findings, [each for each in told if isinstance(each, Figure)]


def judge(
    check: CheckpointCheck,
    residuals: Iterable[Residual],
    criteria: Mapping[str, Any] | None = None,
    evidence: Evidence | None = None,
) -> list[Finding]:
    """Return what a check finds in made residuals."""
    return look(check, residuals, criteria, evidence)[0]
