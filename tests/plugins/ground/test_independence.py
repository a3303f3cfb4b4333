"""Checkpoints that are control as well, errors that are too good, and a base that both share."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from ground_bench import (
    KEPT,
    draw,
    judge,
    make_control,
    make_ground,
    make_residuals,
    make_tables,
)

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card, Decision, Input, Process
from lidar_checks.ground.checkpoint_independence import CheckpointIndependence
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy

POINTS = make_residuals(draw(14, 0.023, 0.015))
CONTROL_SHA, CHECKS_SHA = "d" * 64, "c" * 64


def run(used: bool | None, *digests: str, name: str = "R1", kind: str = "run") -> Process:
    """Return a run that used control or not, and what it names as control."""
    values = {} if used is None else {f"{kind}.control_used": KnownValue(used)}
    inputs = tuple(Input(sha256=digest, role=Role.CONTROL) for digest in digests)
    return Process(
        name, kind, "", 3, "2026-05-14T09:00:00Z", "technician", Decision.ACCEPTED, 3, "", values,
        inputs,
    )  # fmt: skip


def at(*numbers: int, off: float = 0.0, name: str = "K") -> tuple[Residual, ...]:
    """Return control points beside some of the checkpoints."""
    return make_control(
        *((f"{name}{n}", POINTS[n].east_m + off, POINTS[n].north_m) for n in numbers)
    )


def find(points: tuple[Residual, ...], *runs: Process, **parts: Any) -> list[Finding]:
    """Return what the check finds of reuse, without what it says of the base."""
    evidence = make_ground(processes=runs, **parts)
    found = judge(CheckpointIndependence(), points, evidence=evidence)
    return [each for each in found if "CP-03" not in each.catalogue or len(each.catalogue) > 1]


def test_four_of_fourteen_were_control() -> None:
    """K1 to K4 are C01, C04, C09 and C14: major, and the statistics are those of the other ten."""
    points = (*POINTS, *at(0, 3, 8, 13))
    (found,) = find(points, run(True, CONTROL_SHA))
    assert found.grade is Grade.MAJOR
    rest = [each.dz or 0.0 for n, each in enumerate(POINTS) if n not in (0, 3, 8, 13)]
    rmse = np.sqrt(np.mean(np.square(rest)))
    assert "4 of 14 checkpoints were also used as control by R1" in found.sentence
    assert f"On the other 10 the RMSE of heights is {rmse:.3f} m" in found.sentence
    evidence = make_ground(processes=(run(True, CONTROL_SHA),))
    accuracy = judge(VerticalAccuracy(), points, {"rmse_max_m": 0.05}, evidence)[0]
    assert "10 independent checkpoints" in accuracy.sentence
    assert "Of 14 checkpoints 4 were control." in accuracy.sentence


@pytest.mark.parametrize(("off", "is_same"), [(0.049, True), (0.051, False)])
def test_nearer_than_five_centimetres_is_one_point(off: float, is_same: bool) -> None:
    """The gate of the distance, whatever the points are called."""
    (found,) = find((*POINTS, *at(2, off=off)), run(True, CONTROL_SHA))
    assert (found.outcome is Outcome.NONCONFORMING) is is_same


@pytest.mark.parametrize(("off", "is_same"), [(1.5, True), (40.0, False)])
def test_one_name_is_one_mark_where_it_is_near(off: float, is_same: bool) -> None:
    """C03 of both tables 1.5 m apart is a mark in two frames; 40 m apart it is another point."""
    twin = make_control((" c03", POINTS[2].east_m + off, POINTS[2].north_m))
    (found,) = find((*POINTS, *twin), run(True, CONTROL_SHA))
    assert (found.outcome is Outcome.NONCONFORMING) is is_same


def test_a_pair_that_two_tables_of_control_hold_is_named_once() -> None:
    """K3 stands 0.02 m from C09 in two tables: one pair, not two."""
    one = at(8, off=0.02, name="K")
    other = tuple(replace(each, table="control/again.csv") for each in one)
    (found,) = find((*POINTS, *one, *other), run(False, CONTROL_SHA))
    assert found.sentence.count("C09 (") == 1


def test_listed_twice_and_not_used_is_an_observation() -> None:
    """K3 lies 0.02 m from C09 and control was off: worth knowing until a run uses it."""
    (found,) = find((*POINTS, *at(8, off=0.02)), run(False, CONTROL_SHA))
    assert found.grade is Grade.OBSERVATION
    assert "C09 (K8, 0.02 m away)" in found.sentence
    assert "no run used it" in found.sentence


def test_used_without_a_named_table_may_be_any() -> None:
    """A run that used control and names no table may have used the points that are listed."""
    (found,) = find((*POINTS, *at(8)), run(True))
    assert found.grade is Grade.MAJOR


def test_another_table_of_control_is_no_fault() -> None:
    """Control was used, but the table that holds the point was not it."""
    (found,) = find((*POINTS, *at(8)), run(True, "e" * 64))
    assert found.grade is Grade.OBSERVATION


def test_nobody_said_whether_control_was_used() -> None:
    """Neither a pass nor a fail, with the question to answer."""
    for points in (POINTS, (*POINTS, *at(8))):
        (found,) = find(points, run(None))
        assert found.outcome is Outcome.INCONCLUSIVE
        assert "amend R1" in found.remedy


def test_without_a_run_nothing_is_independent() -> None:
    """Where nobody recorded how the files were made, nothing says that control was off."""
    (found,) = find(POINTS)
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "no run" in found.sentence


def test_control_of_which_there_is_no_table() -> None:
    """A run used control, and nothing says which points: independence cannot be told."""
    tables = make_tables()[:1]
    (found,) = find(POINTS, run(True), tables=tables)
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "register" in found.remedy


def test_the_table_of_checkpoints_was_itself_control() -> None:
    """All points were fitted to: nothing is left that shows an accuracy."""
    (found,) = find(POINTS, run(True, CHECKS_SHA))
    assert found.grade is Grade.MAJOR
    assert "No checkpoint is left" in found.sentence
    evidence = make_ground(processes=(run(True, CHECKS_SHA),))
    (accuracy,) = judge(VerticalAccuracy(), POINTS, {"rmse_max_m": 0.05}, evidence)
    assert accuracy.outcome is Outcome.NOT_ASSESSED


def test_a_later_shift_to_the_checkpoints_counts_as_a_fit() -> None:
    """A step that took the checkpoints as control fitted the cloud to them."""
    (found,) = find(POINTS, run(False), run(None, CHECKS_SHA, name="S1", kind="step"))
    assert found.grade is Grade.MAJOR
    assert "control of S1" in found.sentence


def test_independent_points_conform() -> None:
    """Control was off or is elsewhere: told, and no more."""
    for used in (run(False), run(True, CONTROL_SHA)):
        (found,) = find((*POINTS, *at(2, off=30.0)), used)
        assert found.outcome is Outcome.CONFORMS


def make_flat(shift: float) -> tuple[Residual, ...]:
    """Return points whose mean error on each axis is a share of its standard error."""
    points = make_residuals([0.0] * 14)
    axes = [np.array(draw(14, 0.02, seed=seed)) for seed in (1, 2, 3)]
    axes = [axis + shift * axis.std(ddof=1) / np.sqrt(14) for axis in axes]
    return tuple(
        replace(each, dx=float(x), dy=float(y), dz=float(z))
        for each, x, y, z in zip(points, *axes, strict=True)
    )


@pytest.mark.parametrize(("shift", "is_told"), [(0.019, True), (0.021, False)])
def test_means_of_zero_on_all_axes_are_too_good(shift: float, is_told: bool) -> None:
    """By chance 4 in a million: the mark of a fit that nobody recorded."""
    found = find(make_flat(shift), run(False))
    assert [each.grade for each in found] == [Grade.MINOR if is_told else None]


def test_zero_in_height_alone_says_nothing() -> None:
    """One axis is that good in one survey of sixty."""
    flat = tuple(replace(each, dx=None, dy=None) for each in make_flat(0.0))
    assert [each.outcome for each in find(flat, run(False))] == [Outcome.CONFORMS]


def fly(**values: Any) -> Card:
    """Return the card of a flight."""
    known = {f"flight.{name}": KnownValue(value) for name, value in values.items()}
    return Card("F1", "", 2, "2026-05-12T08:00:00Z", "technician", known)


def judge_base(evidence: Evidence) -> Finding:
    """Return what is said of the base."""
    found = judge(CheckpointIndependence(), POINTS, evidence=evidence)
    (base,) = (each for each in found if each.catalogue == ("CP-03",))
    return base


@pytest.mark.parametrize(
    ("flight", "outcome"),
    [
        ({"base_mark": "QM1"}, Outcome.NONCONFORMING),
        ({"base_mark": "qm1", "base_method": "averaged"}, Outcome.NONCONFORMING),
        ({"base_mark": "QM1", "base_method": "published"}, Outcome.CONFORMS),
        ({"base_mark": "QM1", "base_method": "tied"}, Outcome.CONFORMS),
        ({"base_mark": "M-7"}, Outcome.CONFORMS),
        ({"service": "QM1"}, Outcome.CONFORMS),
        ({}, Outcome.INCONCLUSIVE),
    ],
)
def test_a_base_that_both_share(flight: dict[str, str], outcome: Outcome) -> None:
    """It hides its own error, unless its coordinates come from elsewhere."""
    found = judge_base(make_ground(tables=make_tables(base="QM1"), flights=(fly(**flight),)))
    assert found.outcome is outcome
    assert found.grade is (Grade.MINOR if outcome is Outcome.NONCONFORMING else None)


def test_a_base_method_that_was_assumed_proves_nothing() -> None:
    """An assumed tie to a mark does not clear a shared base."""
    assumed = KnownValue("tied", known_by=KnownBy.ASSUMED)
    card = fly(base_mark="QM1")
    card = replace(card, values={**card.values, "flight.base_method": assumed})
    found = judge_base(make_ground(tables=make_tables(base="QM1"), flights=(card,)))
    assert found.outcome is Outcome.NONCONFORMING


def test_an_unsaid_base_is_no_pass() -> None:
    """Nobody said from which base the points were surveyed."""
    found = judge_base(make_ground(flights=(fly(base_mark="QM1"),)))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert KEPT not in found.sentence
