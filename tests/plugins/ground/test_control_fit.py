"""A cloud that fits its control and nothing between."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ground_bench import KEPT, draw, judge, make_ground, make_residuals
from scipy import stats

from ledger.contract.check import Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Input, Process
from ledger.model.surveypoints import CONTROL
from lidar_checks.ground.control_fit import ControlFit
from lidar_checks.ground.residuals import Residual


def used(said: bool | None = True, digest: str = "d" * 64) -> Evidence:
    """Return evidence of a run with or without control."""
    values = {} if said is None else {"run.control_used": KnownValue(said)}
    inputs = (Input(sha256=digest, role=Role.CONTROL),) if said else ()
    run = Process("R1", "run", "", 3, "", "", Decision.ACCEPTED, 3, "", values, inputs)
    return make_ground(processes=(run,))


def lay(near: float, far: float, count: int = 12, bias: float = 0.0) -> tuple[Residual, ...]:
    """Return control and checkpoints whose errors have these standard deviations about a mean."""
    scale = ((count - 1) / count) ** 0.5  # draw() scales with divisor n
    control = tuple(
        replace(each, id=f"K{n}", table=KEPT, kind=CONTROL, east_m=each.east_m + 7.0)
        for n, each in enumerate(make_residuals(draw(count, near * scale)))
    )
    checks = make_residuals(draw(count, ((far * scale) ** 2 + bias**2) ** 0.5, bias, seed=2))
    return (*control, *checks)


@pytest.mark.parametrize(
    ("near", "far", "grade"),
    [
        (0.0149, 0.050, Grade.MINOR),
        (0.0151, 0.050, None),
        (0.005, 0.0302, Grade.MINOR),
        (0.005, 0.0298, None),
    ],
)
def test_the_two_spreads(near: float, far: float, grade: Grade | None) -> None:
    """Below three tenths it is minor, unless the checkpoints scatter by less than 3 cm."""
    (found,) = judge(ControlFit(), lay(near, far), evidence=used())
    assert found.grade is grade


def test_a_constant_is_no_bend() -> None:
    """A cloud that lies 0.5 m off at the checkpoints as a whole was not bent by that."""
    (found,) = judge(ControlFit(), lay(0.02, 0.03, bias=0.5), evidence=used())
    assert found.outcome is Outcome.CONFORMS


def test_few_points_differ_by_chance() -> None:
    """Five points of each have to differ by a factor of 16 in variance (F of 4 and 4, 1 %)."""
    limit = float(stats.f.ppf(0.99, 4, 4)) ** 0.5
    assert round(limit**2, 1) == 16.0
    for factor, outcome in ((0.99, Outcome.CONFORMS), (1.01, Outcome.NONCONFORMING)):
        points = lay(0.02, 0.02 * limit * factor, count=5)
        (found,) = judge(ControlFit(), points, {"ratio_min": 0.9}, used())
        assert found.outcome is outcome


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [
        (used(said=False), Outcome.CONFORMS),
        (used(said=None), Outcome.INCONCLUSIVE),
        (make_ground(), Outcome.INCONCLUSIVE),
        (used(digest="e" * 64), Outcome.NOT_ASSESSED),
    ],
)
def test_control_that_was_not_used_or_is_not_known(evidence: Evidence, outcome: Outcome) -> None:
    """Without control nothing is bent; control that nobody declared is no pass."""
    (found,) = judge(ControlFit(), lay(0.001, 0.05), evidence=evidence)
    assert found.outcome is outcome


def test_too_few_points_compare_nothing() -> None:
    """Four of either are too few."""
    (found,) = judge(ControlFit(), lay(0.001, 0.05, count=4), evidence=used())
    assert found.outcome is Outcome.INCONCLUSIVE
