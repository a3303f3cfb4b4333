"""Checkpoints to plant errors in, and what such an error is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from ground_bench import draw, judge, make_ground, make_residuals
from planted import Planted

from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Input, Process
from lidar_checks.ground.checkpoint_check import CheckpointCheck
from lidar_checks.ground.residuals import Residual

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


def runs(used: bool) -> Process:
    """Return a run with or without control."""
    named = (Input(sha256="d" * 64, role=Role.CONTROL),)
    values = {"run.control_used": KnownValue(used)}
    return Process("R1", "run", "", 3, "", "", Decision.ACCEPTED, 3, "", values, named)
