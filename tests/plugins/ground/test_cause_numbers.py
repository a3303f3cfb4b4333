"""Limits and fits of the diagnosis against scipy and numpy."""

from __future__ import annotations

import numpy as np
import pytest
from made_residuals import ACCEPTED, HEIGHT, observe
from scipy import stats

from lidar_checks.ground.causes.fits import HEIGHT_SCALE, TILTS, TURN, fit
from lidar_checks.ground.causes.observed import Observed, find_outliers, measure
from lidar_checks.ground.causes.quantile import find_squared_limit, find_student_limit

THREE_SIGMA = 2 * stats.norm.cdf(3) - 1


@pytest.mark.parametrize("freedom", range(1, 9))
def test_student_limits(freedom: int) -> None:
    """Limits are the quantiles of scipy.stats.t that hold what three sigma hold."""
    expected = stats.t.ppf((1 + THREE_SIGMA) / 2, freedom)
    assert find_student_limit(freedom) == pytest.approx(expected, abs=0.001 * expected)


def test_student_limit_beyond_the_table() -> None:
    """From nine degrees of freedom on three stands for at most 4.1; none for no freedom."""
    assert find_student_limit(9) == 3.0
    assert stats.t.ppf((1 + THREE_SIGMA) / 2, 9) < 4.1
    assert find_student_limit(0) == float("inf")


@pytest.mark.parametrize("components", [1, 2, 3])
def test_squared_limits(components: int) -> None:
    """Limits are those of scipy.stats.chi2."""
    expected = stats.chi2.ppf(THREE_SIGMA, components)
    assert find_squared_limit(components) == pytest.approx(expected, abs=0.002)


def test_figures_against_scipy() -> None:
    """Mean, s and the robust spread are those of numpy and scipy."""
    found = measure(ACCEPTED)
    assert found.mean == pytest.approx(np.mean(ACCEPTED))
    assert found.s == pytest.approx(np.std(ACCEPTED, ddof=1))
    robust = stats.median_abs_deviation(ACCEPTED, scale="normal")
    assert found.mad == pytest.approx(robust, rel=1e-4)


def _make(seed: int, count: int = 30) -> tuple[Observed, np.random.Generator]:
    made = np.random.default_rng(seed)
    east, north = made.uniform(0, 500, (2, count)) + 1e6
    nothing = np.full(count, np.nan)
    observed = Observed(
        tuple(map(str, range(count))),
        east,
        north,
        made.uniform(100, 140, count),
        nothing,
        nothing,
        nothing,
        np.full((count, 2), np.nan),
    )
    return observed, made


def test_a_fit_finds_what_was_put_in() -> None:
    """Tilts, turn, stretch and height scale come back within three of their sigmas."""
    observed, made = _make(5)
    x, y = observed.plan.T
    rise = observed.height - observed.height.mean()
    dz = 0.4 + 2e-4 * x - 3e-4 * y + 0.002 * rise + made.normal(0, 0.02, 30)
    turned = np.column_stack([3e-4 * x - 5e-4 * y, 3e-4 * y + 5e-4 * x])
    found = fit(observed, dz, turned + made.normal(0, 0.02, (30, 2)), (*TILTS, *TURN, HEIGHT_SCALE))
    put_in = {
        "tilt_east": 2e-4,
        "tilt_north": -3e-4,
        "rotation": 5e-4,
        "scale": 3e-4,
        HEIGHT_SCALE: 0.002,
    }
    for name, value in put_in.items():
        parameter = found.parameters[name]
        assert abs(parameter.value - value) < 3 * parameter.sigma
        assert parameter.is_kept


def test_a_fit_agrees_with_scipy() -> None:
    """A single tilt and its sigma are those of scipy.stats.linregress."""
    observed, made = _make(6)
    dz = made.normal(0, 0.03, 30) + 1e-4 * observed.plan[:, 0]
    found = fit(observed, dz, np.full((30, 2), np.nan), ("tilt_east",)).parameters["tilt_east"]
    expected = stats.linregress(observed.plan[:, 0], dz)
    assert found.value == pytest.approx(expected.slope)
    assert found.sigma == pytest.approx(expected.stderr)


def test_points_in_a_row_determine_no_tilts() -> None:
    """Of points on a line the tilt across it is not fitted, and nothing is made up."""
    observed, made = _make(7)
    in_row = Observed(**{**vars(observed), "north": observed.east.copy()})
    assert fit(in_row, made.normal(0, 1, 30), np.full((30, 2), np.nan), TILTS) is None


def test_outliers() -> None:
    """A blunder is found, also on a tilt; a wrong unit of height, or four points, make none."""
    blunder = ACCEPTED.copy()
    blunder[2] += 0.4
    assert list(np.flatnonzero(find_outliers(observe(blunder)))) == [2]
    assert not find_outliers(observe(HEIGHT * 2.28)).any()
    assert not find_outliers(observe(blunder).take(np.arange(14) < 4)).any()
