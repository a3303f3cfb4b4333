"""The figures of accuracy, of every kind, beside the sentence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ground_bench import look, make_residuals
from scipy import stats
from statements import POINTS, make_known, pick_targets

from ledger.contract.figures import require_figure
from lidar_checks.ground.accuracy_statement import AccuracyStatement


def test_figures_of_every_kind() -> None:
    """Heights, survey error, vegetation, plan and what was left out, each with its number."""
    grown = replace(POINTS[0], id="V1", stratum="forest", dz=0.3, north_m=3_100_100.0)
    blind = replace(POINTS[0], id="B1", dz=None, north_m=3_100_200.0)
    points = (*(replace(each, sigma_vertical_m=0.01) for each in pick_targets()), grown, blind)
    told = look(AccuracyStatement(), points, evidence=make_known())[1]
    figures = {each.name: each for each in told}
    assert set(figures) == {
        "vertical-rmse",
        "vertical-rmse-with-survey",
        "vertical-mean",
        "vegetated-percentile-95",
        "horizontal-rmse",
        "checkpoints-not-counted",
        "sentence",
    }
    assert figures["sentence"].sentence.startswith("You may state: ")
    for each in figures.values():
        require_figure("accuracy-statement", each)
    rmse = figures["vertical-rmse"]
    assert (rmse.value, rmse.count, rmse.unit) == ("0.0230", 14, "m")
    assert (rmse.low, rmse.high) == ("0.0168", "0.0363")
    assert figures["checkpoints-not-counted"].listed == ("B1",)
    mean = figures["vertical-mean"]
    assert (len(mean.listed), len(mean.values)) == (14, 14)
    values = [float(value) for value in mean.values]
    assert float(mean.value) == pytest.approx(np.mean(values), abs=1e-4)
    # Student's interval of the mean, by the reference library.
    interval = stats.t.interval(0.95, 13, loc=np.mean(values), scale=stats.sem(values))
    assert (float(mean.low), float(mean.high)) == pytest.approx(interval, abs=2e-4)


def test_one_checkpoint_has_no_interval_of_its_mean() -> None:
    """It is told and plotted by itself."""
    figures = {f.name: f for f in look(AccuracyStatement(), make_residuals([0.01]))[1]}
    mean = figures["vertical-mean"]
    assert (mean.low, mean.high, mean.values) == ("", "", ("0.0100",))


def test_a_median_that_tells_something_else_is_told() -> None:
    """One blunder moves mean and spread, and hardly the median."""
    even = (0.02 * stats.norm.ppf((np.arange(14) + 0.5) / 14)).tolist()
    plain = look(AccuracyStatement(), make_residuals(even))[1]
    spoilt = look(AccuracyStatement(), make_residuals([*even[:-1], 2.0]))[1]
    assert "median" not in next(f.sentence for f in plain if f.name == "vertical-mean")
    assert "median" in next(f.sentence for f in spoilt if f.name == "vertical-mean")
