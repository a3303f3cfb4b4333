"""Sixty jobs with a hidden mistake each: the right cause is told, and hardly ever a wrong one.

The same jobs as on docs/reference/diagnosis.md, fewer of each. They are planted by pyproj and a
look-up of the grids of our own; see tests/made/cause_jobs.py.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from cause_jobs import make_job
from cause_mistakes import BY_NAME, MISTAKES, NO_MISTAKE
from cause_scores import Answer, Score, compute_interval, score
from cause_sites import REGIONS, read_grid
from diagnosis_page import PAGE, tell_share
from open_data import find_open_file
from scipy import stats

from ledger.crs import sample_geoid_at
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.predict import predict

EACH, CLEAN = 2, 20


@pytest.fixture(scope="module")
def scores(tmp_path_factory: pytest.TempPathFactory) -> list[Score]:
    """Return the scores of two jobs of each mistake, and of twenty without any."""
    folder = tmp_path_factory.mktemp("geoids")
    found = [
        score(make_job(mistake, seed, folder), is_pattern=mistake.is_pattern)
        for mistake in MISTAKES
        for seed in range(EACH)
    ]
    return found + [score(make_job(NO_MISTAKE, seed, folder)) for seed in range(CLEAN)]


def test_what_can_be_told_is_told(scores: list[Score]) -> None:
    """Where a mistake exceeds two gates, it is named or among those told in 19 of 20 jobs."""
    exceeding = [each for each in scores if each.exceeds]
    told = [each for each in exceeding if each.answer in {Answer.ALONE, Answer.TIED}]
    assert len(exceeding) > 20
    assert len(told) >= 0.95 * len(exceeding)


def test_nothing_wrong_is_named(scores: list[Score]) -> None:
    """No job of these has a wrong cause, and none without a mistake has any."""
    assert len(scores) == EACH * len(MISTAKES) + CLEAN
    assert [each for each in scores if each.answer is Answer.WRONG] == []
    assert [each.names for each in scores if each.mistake == "none" and each.names] == []


def test_what_cannot_be_told_is_not_named(scores: list[Score]) -> None:
    """Below two gates nothing is named in 19 of 20 jobs."""
    below = [each for each in scores if not each.exceeds and each.mistake != "none"]
    named = [each for each in below if each.names]
    assert below
    assert len(named) <= 0.05 * len(below)


@pytest.mark.parametrize("name", ["frame not transformed", "epoch left out", "ellipsoidal heights"])
def test_predictions_are_what_is_planted(name: str, tmp_path: Path) -> None:
    """Shifts by pyproj's own transformer, and heights by another look-up, are what is predicted.

    Tolerance: 5 mm, for the vector of one place stands for a site of up to 900 m; model error of
    the geoid, which is planted too, at most five of its sigmas.
    """
    mistake = BY_NAME[name]
    for seed in range(3):
        job = make_job(mistake, seed, tmp_path)
        predictions = predict(gather(job.observed, job.evidence))
        (own,) = [each for each in predictions.candidates if each.id.split()[0] == mistake.right]
        sigma = max(each.sigma_m for each in REGIONS) if mistake.right == "geoid-plus" else 0.0
        assert np.abs(own.shift - job.shift).max() < 0.005 + 5 * sigma


def test_the_look_up_of_the_planting_is_bilinear() -> None:
    """Our own look-up of the planting gives what PROJ gives for a real grid, to 0.01 mm."""
    path = find_open_file("geoid/us_noaa_g2018p0.tif")
    lon, lat = np.array([-66.46, -66.1057, -66.6141]), np.array([18.33, 18.4655, 18.0111])
    assert read_grid(path).sample(lon, lat) == pytest.approx(
        sample_geoid_at(path, lon, lat), abs=1e-5
    )


@pytest.mark.parametrize(("hits", "count"), [(0, 20), (19, 20), (36, 36), (7, 150)])
def test_intervals(hits: int, count: int) -> None:
    """Intervals are those of scipy.stats.binomtest with Wilson's method."""
    expected = stats.binomtest(hits, count).proportion_ci(0.95, method="wilson")
    assert compute_interval(hits, count) == pytest.approx((expected.low, expected.high), abs=1e-6)


def test_the_page_names_every_mistake() -> None:
    """No mistake that is planted is missing from the page."""
    page = PAGE.read_text(encoding="utf-8")
    assert [each.name for each in MISTAKES if f"| {each.name} |" not in page] == []
    assert tell_share(0, 0) == "–"
