"""The numbers that reports state, computed again from the checkpoints."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ground_bench import judge, make_ground
from statements import CONTROL, POINTS, judge_claim, make_statement, pick_targets

from ledger.contract.check import Grade, Outcome
from ledger.model.jobrecords import JobRecords
from lidar_checks.ground.accuracy_statement import AccuracyStatement


@pytest.mark.parametrize(
    ("value", "grade"),
    [
        ("0.023", None),
        ("0.025", None),  # 2 mm of another surface, and half of the last digit
        ("0.02", None),  # rounded to a centimetre
        ("0.0209", Grade.MAJOR),
        ("0.026", Grade.MINOR),
    ],
)
def test_a_stated_number_is_computed_again(value: str, grade: Grade | None) -> None:
    """Within rounding and 2 mm it is borne out; better than the files is major, worse minor."""
    assert judge_claim(make_statement(value)).grade is grade


def test_the_spread_passed_off_as_the_rmse() -> None:
    """CP-10: the bias of 15 mm is left out of the number."""
    found = judge_claim(make_statement("0.018"))
    assert found.grade is Grade.MAJOR
    assert "CP-10" in found.catalogue
    assert "bias of +0.015 m" in found.sentence
    other = judge_claim(make_statement("0.012"))
    assert "CP-10" not in other.catalogue


@pytest.mark.parametrize(
    ("statistic", "value", "outcome"),
    [
        ("1.96 RMSE", "0.045", Outcome.CONFORMS),
        ("1.96 RMSE", "0.035", Outcome.NONCONFORMING),
        ("mean", "0.015", Outcome.CONFORMS),
        ("mean", "-0.015", Outcome.NONCONFORMING),
        ("standard deviation", "0.018", Outcome.CONFORMS),
        ("standard deviation", "0.014", Outcome.NONCONFORMING),
    ],
)
def test_every_statistic_is_its_own(statistic: str, value: str, outcome: Outcome) -> None:
    """A number is held against the statistic that it is said to be."""
    assert judge_claim(make_statement(value, statistic)).outcome is outcome


def test_statistics_of_the_absolute_errors() -> None:
    """95th percentile, median and largest, against numpy."""
    errors = np.array([each.dz or 0.0 for each in POINTS])
    wanted = {
        "95th percentile": np.percentile(np.abs(errors), 95),
        "median": np.median(errors),
        "largest": np.abs(errors).max(),
    }
    for statistic, value in wanted.items():
        assert judge_claim(make_statement(f"{value:.3f}", statistic)).outcome is Outcome.CONFORMS
        assert (
            judge_claim(make_statement(f"{value - 0.01:.3f}", statistic)).outcome
            is Outcome.NONCONFORMING
        )


@pytest.mark.parametrize(
    ("accuracy", "value"),
    [("horizontal", 0.05), ("three-dimensional", float(np.hypot(0.05, 0.023)))],
)
def test_accuracy_in_plan_and_space(accuracy: str, value: float) -> None:
    """Axes add up by squares; without picked targets there is no such number."""
    good = make_statement(f"{value:.3f}", accuracy=accuracy)
    assert judge_claim(good, pick_targets()).outcome is Outcome.CONFORMS
    bad = make_statement(f"{value - 0.01:.3f}", accuracy=accuracy)
    assert judge_claim(bad, pick_targets()).grade is Grade.MAJOR
    assert judge_claim(good).outcome is Outcome.INCONCLUSIVE


def test_points_in_vegetation_are_not_those_of_the_open_ground() -> None:
    """A number is held against the points that it is said to be of."""
    grown = tuple(
        replace(each, id=f"V{n}", stratum="forest", dz=0.1, north_m=each.north_m + 5.0)
        for n, each in enumerate(POINTS)
    )
    open_ground = tuple(replace(each, stratum="bare") for each in POINTS)
    both = (*open_ground, *grown)
    assert judge_claim(make_statement("0.1", strata="vegetated"), both).outcome is Outcome.CONFORMS
    assert (
        judge_claim(make_statement("0.023", strata="non-vegetated"), both).outcome
        is Outcome.CONFORMS
    )
    assert judge_claim(make_statement("0.023", strata="all"), both).grade is Grade.MAJOR
    assert (
        judge_claim(make_statement("0.023", strata="other"), both).outcome is Outcome.INCONCLUSIVE
    )


@pytest.mark.parametrize("value", ["much", "NaN", "Infinity"])
def test_what_is_no_number_is_told_elsewhere(value: str) -> None:
    """A statement without a number is no claim; statement-support says what it lacks."""
    evidence = make_ground(job=JobRecords(statements=(make_statement(value),)))
    subjects = [each.subject for each in judge(AccuracyStatement(), POINTS, None, evidence)]
    assert "A1" not in subjects


def test_a_number_that_only_control_bears_out() -> None:
    """Every checkpoint was control: a stated accuracy is major, whatever its number."""
    job = JobRecords(statements=(make_statement("0.023"),))
    evidence = make_ground(job=job, processes=(CONTROL,))
    found = judge(AccuracyStatement(), POINTS, None, evidence)[1]
    assert found.grade is Grade.MAJOR
    assert found.catalogue == ("RH-07", "CP-06")
