"""Accuracy at checkpoints: limits, bias, vegetation, survey error, targets picked in the cloud."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from ground_bench import draw, judge, make_ground, make_residuals, make_tables

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from lidar_checks.ground.checkpoint_check import exceeds, show
from lidar_checks.ground.horizontal_accuracy import HorizontalAccuracy
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy

ASKED: dict[str, Any] = {"rmse_max_m": 0.05}


def first(findings: list[Finding]) -> Finding:
    """Return the finding about the RMSE."""
    return findings[0]


@pytest.mark.parametrize(
    ("rmse", "outcome"),
    [
        (0.0499, Outcome.CONFORMS),
        (0.0500, Outcome.CONFORMS),
        (0.05004, Outcome.CONFORMS),
        (0.0501, Outcome.NONCONFORMING),
        (31.9, Outcome.NONCONFORMING),
    ],
)
def test_rmse_against_its_limit(rmse: float, outcome: Outcome) -> None:
    """The limit is met to a tenth of a millimetre, and what is beyond it is major."""
    found = first(judge(VerticalAccuracy(), make_residuals(draw(14, rmse)), ASKED))
    assert found.outcome is outcome
    assert found.grade is (Grade.MAJOR if outcome is Outcome.NONCONFORMING else None)
    assert "14 independent checkpoints" in found.sentence
    assert found.unit == "m"


def test_the_bias_is_in_the_rmse() -> None:
    """A cloud that lies 6 cm high all over fails, however alike its errors are."""
    findings = judge(VerticalAccuracy(), make_residuals([0.06] * 14), ASKED)
    assert first(findings).grade is Grade.MAJOR
    assert "mean +0.060 m" in first(findings).sentence


def test_the_interval_is_told() -> None:
    """14 points with an RMSE of 0.023 m have it in 0.017 to 0.036 m.

    26.119 and 5.629: chi-square of 14, NIST/SEMATECH e-Handbook 1.3.6.7.4.
    """
    low, high = 0.023 * np.sqrt(14 / 26.119), 0.023 * np.sqrt(14 / 5.629)
    sentence = first(judge(VerticalAccuracy(), make_residuals(draw(14, 0.023)), ASKED)).sentence
    assert f"95 % interval {low:.3f} to {high:.3f} m" in sentence
    assert "0.017 to 0.036" in sentence


@pytest.mark.parametrize("count", [1, 2])
def test_too_few_points_judge_nothing(count: int) -> None:
    """One or two points are numbers and no accuracy, good or bad."""
    for error in (0.01, 9.0):
        found = first(judge(VerticalAccuracy(), make_residuals([error] * count), ASKED))
        assert found.outcome is Outcome.INCONCLUSIVE


def test_no_height_is_no_pass() -> None:
    """Checkpoints at which the cloud has no height leave the accuracy open, with the reason."""
    found = first(judge(VerticalAccuracy(), make_residuals([None] * 5), ASKED))
    assert found.outcome is Outcome.NOT_ASSESSED
    assert "no point of the cloud within 1.5 m" in found.sentence


def test_points_left_out_are_counted() -> None:
    """A good RMSE of the rest says how many points are not in it."""
    found = first(judge(VerticalAccuracy(), make_residuals([*draw(8, 0.02), None, None]), ASKED))
    assert found.outcome is Outcome.CONFORMS
    assert "Of 10 checkpoints 2 give no height of the cloud." in found.sentence


@pytest.mark.parametrize(
    ("rmse", "sigma", "how", "outcome"),
    # 0.0458 and 0.020 make 0.04998, 0.0460 and 0.020 make 0.05016 (check: squares by hand).
    [
        (0.0458, 0.020, "added", Outcome.CONFORMS),
        (0.0460, 0.020, "added", Outcome.NONCONFORMING),
        (0.0460, 0.020, "left out", Outcome.CONFORMS),
        (0.0460, None, "added", Outcome.CONFORMS),
        (0.0460, None, "required", Outcome.INCONCLUSIVE),
        (0.0510, None, "required", Outcome.NONCONFORMING),
    ],
)
def test_the_error_of_the_survey(
    rmse: float, sigma: float | None, how: str, outcome: Outcome
) -> None:
    """It is added by squares where it is stated, and asked for where the edition requires it."""
    points = make_residuals(draw(14, rmse), sigma_vertical_m=sigma)
    found = first(judge(VerticalAccuracy(), points, {**ASKED, "survey_error": how}))
    assert found.outcome is outcome


@pytest.mark.parametrize(
    ("mean", "stated", "told"),
    [
        (0.012, True, False),
        (0.013, True, True),
        (0.013, False, True),  # of a spread of 2 mm: no chance
    ],
)
def test_a_mean_of_a_quarter_of_the_limit(mean: float, stated: bool, told: bool) -> None:
    """ASPRS Edition 2, 7.2: a mean of 25 % of the RMSE asked for or more is reported."""
    asked = {**ASKED, "mean_share_max": 0.25} if stated else ASKED
    points = make_residuals(draw(14, float(np.hypot(mean, 0.002)), mean))
    observed = [
        each for each in judge(VerticalAccuracy(), points, asked) if each.grade is Grade.OBSERVATION
    ]
    assert bool(observed) is told


def test_a_mean_by_chance_is_not_told_where_nobody_asks() -> None:
    """A mean of 13 mm of eight points that scatter by 3 cm is what chance gives."""
    points = make_residuals(draw(8, 0.033, 0.013))
    assert len(judge(VerticalAccuracy(), points, ASKED)) == 1
    assert len(judge(VerticalAccuracy(), points, {**ASKED, "mean_share_max": 0.25})) == 2


def in_vegetation(*errors: float) -> tuple[Residual, ...]:
    """Return checkpoints of the same table in vegetation."""
    return tuple(
        replace(each, id=f"V{each.id}", stratum="tall grass", north_m=each.north_m + 5.0)
        for each in make_residuals(errors)
    )


@pytest.mark.parametrize(
    ("limit", "outcome"),
    [
        (None, Outcome.CONFORMS),
        (0.191, Outcome.CONFORMS),
        (0.190, Outcome.NONCONFORMING),
    ],
)
def test_vegetation_is_judged_by_itself(limit: float | None, outcome: Outcome) -> None:
    """20 errors of 0.01 to 0.20 m have their 95th percentile at 0.1905 m."""
    grown = in_vegetation(*(0.01 * step * (-1) ** step for step in range(1, 21)))
    asked = {**ASKED, "vegetated_p95_max_m": limit}
    findings = judge(VerticalAccuracy(), (*make_residuals(draw(14, 0.02)), *grown), asked)
    assert [each.outcome for each in findings] == [Outcome.CONFORMS, outcome]


@pytest.mark.parametrize(("rise", "is_told"), [(0.055, True), (0.045, False)])
def test_low_plants_in_the_ground_class(rise: float, is_told: bool) -> None:
    """A cloud that lies higher in vegetation than beside it, and not by chance."""
    grown = in_vegetation(*draw(12, float(np.hypot(rise, 0.01)), rise))
    findings = judge(VerticalAccuracy(), (*make_residuals(draw(14, 0.02)), *grown), ASKED)
    told = [each for each in findings if each.catalogue == ("CL-01",)]
    assert [each.grade for each in told] == ([Grade.OBSERVATION] if is_told else [])


def test_a_rise_by_chance_is_not_told() -> None:
    """Five errors that scatter by 0.2 m have a mean of 0.1 m by chance."""
    grown = in_vegetation(*draw(5, float(np.hypot(0.1, 0.2)), 0.1))
    findings = judge(VerticalAccuracy(), (*make_residuals(draw(14, 0.02)), *grown), ASKED)
    assert not [each for each in findings if each.catalogue == ("CL-01",)]


def test_nothing_passes_on_a_declaration_that_nobody_confirmed() -> None:
    """A system carried over from the last table may fail a cloud and not clear it."""
    carried = KnownValue("EPSG:6346", known_by=KnownBy.CARRIED, confirmed=False)
    evidence = make_ground(tables=make_tables(horizontal=carried))
    good = first(judge(VerticalAccuracy(), make_residuals(draw(14, 0.02)), ASKED, evidence))
    assert good.outcome is Outcome.INCONCLUSIVE
    assert "nobody confirmed the horizontal" in good.sentence
    bad = first(judge(VerticalAccuracy(), make_residuals(draw(14, 0.2)), ASKED, evidence))
    assert bad.grade is Grade.MAJOR


@pytest.mark.parametrize(("limit", "is_bad"), [(0.0980, False), (0.0979, True)])
def test_vertical_95(limit: float, is_bad: bool) -> None:
    """1.9600 x 0.050 m is 0.098 m: the class of USGS quality level 0 up to 2023."""
    asked = {"rmse_max_m": 0.05, "at_95_max_m": limit}
    found = first(judge(VerticalAccuracy(), make_residuals(draw(14, 0.05)), asked))
    assert (found.grade is Grade.MAJOR) is is_bad


def picked(dx: float, dy: float, count: int = 8) -> tuple[Residual, ...]:
    """Return checkpoints with targets picked so far off, in turn to either side."""
    return tuple(
        replace(each, dx=dx * (-1) ** number, dy=dy * (-1) ** (number // 2))
        for number, each in enumerate(make_residuals([0.01] * count))
    )


@pytest.mark.parametrize(
    ("dx", "outcome"), [(0.0399, Outcome.CONFORMS), (0.0402, Outcome.NONCONFORMING)]
)
def test_places_against_their_limit(dx: float, outcome: Outcome) -> None:
    """0.04 m east and 0.03 m north are 0.05 m together."""
    found = first(judge(HorizontalAccuracy(), picked(dx, 0.03), ASKED))
    assert found.outcome is outcome


def test_without_targets_there_is_no_error_in_plan() -> None:
    """Heights alone say nothing of places here."""
    found = first(judge(HorizontalAccuracy(), make_residuals(draw(14, 0.02)), ASKED))
    assert found.outcome is Outcome.NOT_ASSESSED
    assert found.remedy


@pytest.mark.parametrize(
    ("dx", "dy", "limit", "outcome"),
    # 2.4477 x 0.5 x (0.100 + 0.070) = 0.2081 m; a ratio of 0.5 has no radius.
    [
        (0.100, 0.070, 0.209, Outcome.CONFORMS),
        (0.100, 0.070, 0.208, Outcome.NONCONFORMING),
        (0.100, 0.050, 9.0, Outcome.INCONCLUSIVE),
    ],
)
def test_places_at_95(dx: float, dy: float, limit: float, outcome: Outcome) -> None:
    """FGDC-STD-007.3-1998, 3-A.1, and no radius where the axes differ too much."""
    asked = {"rmse_max_m": 9.0, "at_95_max_m": limit}
    assert judge(HorizontalAccuracy(), picked(dx, dy), asked)[1].outcome is outcome


def test_one_or_two_targets_judge_nothing() -> None:
    """A radius of two targets passes and fails nobody."""
    asked = {"rmse_max_m": 0.05, "at_95_max_m": 0.05}
    for found in judge(HorizontalAccuracy(), picked(9.0, 9.0, count=2), asked):
        assert found.outcome is Outcome.INCONCLUSIVE


def test_the_precision_of_a_comparison() -> None:
    """0.049 m and 0.010 m make 0.050010 m: not beyond 0.050 m, which coordinates cannot tell."""
    assert not exceeds(0.050010, 0.05)
    assert exceeds(0.0501, 0.05)
    assert show(0.0501, 0.05) == "0.0501"
    assert show(0.0512, 0.05) == "0.051"
