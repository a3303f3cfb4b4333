"""Statistics of checkpoints against worked examples and tables of published standards.

ASPRS Positional Accuracy Standards, Edition 1 (2014), Annex D: five points and what it makes of
them. Coordinates and printed results were recalled and every one was reproduced from the others.

FGDC-STD-007.3-1998 (NSSDA), 3-A: factors of normal and of circular errors at 95 %.

USGS Lidar Base Specification 2025 rev. A, glossary, percentile: its rule of ranks, with examples
worked by hand from it.

Chi-square: percentage points of the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4.

Sources: the four documents above, and scipy.
Known: recomputed; every value was recalled and reproduced to the printed digits.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from lidar_checks.ground.error_statistics import (
    MAD_TO_SIGMA,
    combine,
    compute_interval_factors,
    compute_mean_interval,
    compute_percentile,
    compute_rmse,
    compute_robust_deviation,
    compute_robust_scores,
    compute_statistics,
)
from lidar_checks.ground.published_rules import (
    CIRCULAR_95,
    RADIAL_95,
    VERTICAL_95,
    compute_horizontal_95,
    compute_vertical_95,
    find_least_count,
)

# Annex D: product and survey, easting, northing and height, metres.
_ANNEX_D = (
    (359584.394, 5142449.934, 477.127, 359584.534, 5142450.004, 477.198),
    (359872.190, 5147939.180, 412.406, 359872.290, 5147939.280, 412.396),
    (359893.089, 5136979.824, 487.292, 359893.072, 5136979.894, 487.190),
    (359927.194, 5151084.129, 393.591, 359927.264, 5151083.979, 393.691),
    (372737.074, 5151675.999, 451.305, 372736.944, 5151675.879, 451.218),
)
ERRORS = np.array(_ANNEX_D)[:, :3] - np.array(_ANNEX_D)[:, 3:]


@pytest.mark.parametrize(
    ("axis", "mean", "deviation", "rmse"),
    [(0, -0.033, 0.108, 0.102), (1, 0.006, 0.119, 0.106), (2, 0.006, 0.091, 0.081)],
)
def test_annex_d_is_reproduced(axis: int, mean: float, deviation: float, rmse: float) -> None:
    """Mean, standard deviation (n - 1) and RMSE to the digits that Annex D prints."""
    found = compute_statistics(ERRORS[:, axis])
    assert round(found.mean, 3) == mean
    assert found.deviation is not None
    assert round(found.deviation, 3) == deviation
    assert round(found.rmse, 3) == rmse
    assert found.count == 5


def test_two_errors_have_a_standard_deviation() -> None:
    """By n - 1 it is their difference over the root of two; one error alone has none."""
    found = compute_statistics([0.01, 0.05])
    assert found.deviation == pytest.approx(0.04 / math.sqrt(2))
    assert compute_statistics([0.01]).deviation is None


@pytest.mark.parametrize("sign", [1, -1])
def test_a_mean_that_chance_explains_does_not_take_the_interval_away(sign: int) -> None:
    """Of two errors the mean is larger than the spread, and Student's t still reaches over zero.

    t of one degree of freedom is 12.706 at 95 % (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    """
    errors = [sign * 0.01, sign * 0.05]
    mean, deviation = 0.03, 0.04 / math.sqrt(2)
    assert deviation < mean < 12.706 * deviation / math.sqrt(2)
    found = compute_statistics(errors)
    low, high = compute_interval_factors(2)
    assert found.interval == pytest.approx((low * found.rmse, high * found.rmse))
    # Twenty such errors are a bias that is none of chance.
    assert compute_statistics(errors * 10).interval is None


def test_annex_d_at_95_per_cent() -> None:
    """RMSEr 0.147, 0.255 m horizontally and 0.160 m vertically at 95 %."""
    x, y, z = (compute_rmse(ERRORS[:, axis]) for axis in range(3))
    assert round(math.hypot(x, y), 3) == 0.147
    assert round(RADIAL_95 * math.hypot(x, y), 3) == 0.255
    radial = compute_horizontal_95(x, y)
    assert radial is not None
    assert round(radial, 3) == 0.255
    assert round(compute_vertical_95(z), 3) == 0.160


def test_factors_of_nssda_are_those_of_its_distributions() -> None:
    """1.9600 is of the normal distribution, 2.4477 of the circular one, 1.7308 per RMSEr."""
    assert round(float(stats.norm.ppf(0.975)), 4) == VERTICAL_95
    assert round(float(stats.rayleigh.ppf(0.95)), 4) == CIRCULAR_95
    assert round(float(stats.rayleigh.ppf(0.95)) / math.sqrt(2), 4) == RADIAL_95


@pytest.mark.parametrize(
    ("rmse_y", "radius"), [(0.100, 0.24477), (0.070, 0.2080545), (0.060, 0.195816), (0.050, None)]
)
def test_no_radial_figure_where_the_axes_differ(rmse_y: float, radius: float | None) -> None:
    """3-A.1 gives its formula from a ratio of 0.6 on, and nothing below."""
    found = compute_horizontal_95(0.100, rmse_y)
    assert found == (None if radius is None else pytest.approx(radius, abs=1e-6))


def test_percentile_by_the_rule_of_ranks() -> None:
    """N = 20: n = 19.05; N = 10: n = 9.55, worked by hand from the glossary's rule."""
    evenly = [0.01 * step for step in range(1, 21)]
    assert compute_percentile(evenly, 95) == pytest.approx(0.1905)
    mixed = [0.02, -0.05, 0.07, -0.11, 0.04, 0.09, -0.31, 0.06, 0.03, 0.08]
    assert compute_percentile(mixed, 95) == pytest.approx(0.2200)


@pytest.mark.parametrize(
    ("count", "upper", "lower"),
    # Percentage points of chi-square, upper tail 0.025 and lower tail 0.025.
    [(5, 12.833, 0.831), (10, 20.483, 3.247), (20, 34.170, 9.591), (30, 46.979, 16.791)],
)
def test_interval_by_the_table_of_chi_square(count: int, upper: float, lower: float) -> None:
    """The factors come from the tabled points, with n degrees of freedom."""
    low, high = compute_interval_factors(count)
    assert low == pytest.approx(math.sqrt(count / upper), abs=1e-4)
    # The table prints 3 decimals: 0.831 is good to 0.06 %.
    assert high == pytest.approx(math.sqrt(count / lower), rel=4e-4)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 14, 29, 120])
def test_interval_against_the_library(count: int) -> None:
    """The same from the distribution itself, which is another routine of the library."""
    low, high = compute_interval_factors(count)
    points = stats.chi2.ppf([0.975, 0.025], count)
    assert (low, high) == pytest.approx(tuple(np.sqrt(count / points)))


def test_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Of 4000 samples of 14 normal errors, 95 in 100 bear out the RMSE that they came from."""
    low, high = compute_interval_factors(14)
    drawn = np.random.default_rng(7).normal(0.0, 0.03, (4000, 14))
    rmse = np.sqrt(np.mean(drawn**2, axis=1))
    held = np.mean((rmse * low <= 0.03) & (rmse * high >= 0.03))
    assert held == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("bias", [0.0, 0.5, 1.0])
def test_interval_beside_a_small_bias_holds_the_truth_no_less_often(bias: float) -> None:
    """By the non-central chi-square of the library: up to a bias as large as the spread.

    n RMSE^2 / sigma^2 follows it with n degrees of freedom and n bias^2 / sigma^2 off the centre.
    """
    low, high = compute_interval_factors(14)
    truth = 14 * (1 + bias**2)
    held = stats.ncx2.cdf(truth / low**2, 14, max(14 * bias**2, 1e-12)) - stats.ncx2.cdf(
        truth / high**2, 14, max(14 * bias**2, 1e-12)
    )
    assert 0.9499 <= held < 0.98


@pytest.mark.parametrize(
    ("errors", "is_told"),
    [
        ([0.01, -0.01, 0.012, -0.008, 0.0], True),
        ([0.011, 0.013, 0.008, 0.012, 0.009], False),  # a bias of 0.011 m, a spread of 0.002 m
        ([-31.9, -31.91, -31.89], False),
        ([0.5], True),  # of one error nobody knows what is bias
        ([0.02, 0.02, 0.02], False),
    ],
)
def test_no_interval_where_the_bias_is_larger_than_the_spread(
    errors: list[float], is_told: bool
) -> None:
    """Beside 31.9 m of ellipsoidal heights the limits of chi-square would be 18 and 200 m."""
    assert (compute_statistics(errors).interval is not None) is is_told


@pytest.mark.parametrize("level", [0.68, 0.95])
@pytest.mark.parametrize("count", [2, 3, 12, 40])
def test_interval_of_a_mean_against_the_library(count: int, level: float) -> None:
    """Student's t of n - 1 degrees, as scipy.stats.ttest_1samp tells it; none of a single error."""
    drawn = np.random.default_rng(count).normal(-0.7, 0.03, count)
    expected = stats.ttest_1samp(drawn, 0.0).confidence_interval(level)
    found = compute_mean_interval(drawn, level)
    assert found == pytest.approx((expected.low, expected.high), rel=1e-9)
    assert compute_mean_interval(drawn[:1]) is None


def test_robust_scores_are_distances_in_robust_deviations() -> None:
    """As in NIST/SEMATECH e-Handbook 1.3.5.17, whose score is 0.6745 (x - median) / MAD."""
    errors = np.array(
        [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]
    )  # two that mask each other
    middle = float(np.median(errors))
    expected = 0.6745 * np.abs(errors - middle) / float(np.median(np.abs(errors - middle)))
    assert compute_robust_scores(errors) == pytest.approx(expected, rel=1e-4)
    assert list(np.flatnonzero(compute_robust_scores(errors) > 3.5)) == [8, 9]


def test_robust_deviation_against_the_library() -> None:
    """Scaled as the library scales for normal errors; a blunder hardly moves it."""
    drawn = np.random.default_rng(3).normal(0.01, 0.02, 25)
    expected = stats.median_abs_deviation(drawn, scale="normal")
    assert compute_robust_deviation(drawn) == pytest.approx(expected, rel=1e-4)
    assert pytest.approx(1 / stats.norm.ppf(0.75), abs=1e-4) == MAD_TO_SIGMA
    drawn[4] = 9.0
    assert compute_robust_deviation(drawn) < 0.04
    assert int(np.argmax(compute_robust_scores(drawn))) == 4


def test_equal_errors_have_no_scale() -> None:
    """Where more than half are equal, the others lie infinitely far off."""
    assert list(compute_robust_scores([0.1, 0.1, 0.1, 0.2])) == [0.0, 0.0, 0.0, np.inf]


def test_rmse_is_bias_and_spread() -> None:
    """RMSE² = mean² + s² (n - 1) / n, whatever the sample."""
    drawn = np.random.default_rng(5).normal(-1.5, 0.4, 11)
    found = compute_statistics(drawn)
    assert found.deviation is not None
    assert found.rmse**2 == pytest.approx(found.mean**2 + found.deviation**2 * 10 / 11)


def test_a_single_error_has_no_deviation() -> None:
    """One point is a number and no sample; none is nothing at all."""
    assert compute_statistics([0.02]).deviation is None
    with pytest.raises(ValueError, match="no errors"):
        compute_statistics([])


@pytest.mark.parametrize(
    ("product", "survey", "both"),
    [(0.080, 0.020, 0.082462), (0.100, 0.020, 0.101980), (0.049, 0.010, 0.050010)],
)
def test_survey_error_is_added_by_squares(product: float, survey: float, both: float) -> None:
    """Squares of independent parts add up: Joint Committee for Guides in Metrology, GUM 5.1."""
    assert combine(product, survey) == pytest.approx(both, abs=1e-6)


def test_counts_that_editions_ask_for() -> None:
    """20 and 30 at a site of a drone; what is recalled of larger areas is marked so."""
    assert find_least_count(1, 0.15).without_vegetation == 20
    assert find_least_count(2, 0.15).without_vegetation == 30
    assert find_least_count(2, 0.15).is_read
    assert not find_least_count(2, 700).is_read
    large = find_least_count(1, 3100)
    assert (large.without_vegetation, large.vegetated, large.is_read) == (61, 49, False)
    with pytest.raises(ValueError, match="no edition"):
        find_least_count(3, 1)
