"""Moran's I: against every shuffle of a small sample, a chessboard, and a reference library."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from ground_bench import draw, judge, make_residuals
from scipy import stats

from ledger.contract.check import Grade
from lidar_checks.ground.checkpoint_quality import NEIGHBOURHOOD, CheckpointQuality
from lidar_checks.ground.clustering import find_neighbours, measure_clustering
from lidar_checks.ground.residuals import Residual


def lay_board(side: int) -> np.ndarray:
    """Return weights of 1 between the squares of a board that share an edge."""
    places = np.array([(x, y) for x in range(side) for y in range(side)])
    apart = np.abs(places[:, None] - places[None]).sum(axis=2)
    return (apart == 1).astype(float)


def test_mean_and_variance_are_those_of_every_shuffle() -> None:
    """All 5,040 orders of seven errors over seven places, by the definition alone."""
    errors = np.array([0.031, -0.012, 0.004, 0.055, -0.027, 0.018, -0.002])
    weights = find_neighbours(np.random.default_rng(2).uniform(0.0, 100.0, (7, 2)), 3)
    shuffled = errors[np.array(list(permutations(range(7))))]
    off = shuffled - errors.mean()
    values = 7 / weights.sum() * ((off @ weights) * off).sum(axis=1) / (off**2).sum(axis=1)
    found = measure_clustering(errors, weights)
    assert found is not None
    assert found.value == pytest.approx(values[0])
    assert found.expected == pytest.approx(values.mean())
    assert found.deviation == pytest.approx(values.std())


def test_a_chessboard_and_two_halves() -> None:
    """Opposite to every neighbour it is -1; in two halves 1 less twice the share of the seam.

    A board of 6 by 6 has 60 edges between squares, of which 6 lie on the seam: 1 - 2 x 6 / 60.
    """
    side = np.arange(6)
    chess = np.array([(-1.0) ** (x + y) for x in side for y in side])
    halves = np.array([1.0 if x < 3 else -1.0 for x in side for y in side])
    for errors, value in ((chess, -1.0), (halves, 0.8)):
        found = measure_clustering(errors, lay_board(6))
        assert found is not None
        assert found.value == pytest.approx(value)


# Invented places and errors; I and its standard deviation under randomisation as esda 2.9.0 with
# libpysal 4.14.1 (BSD licence) gives them: Moran(ERRORS, KNN.from_array(PLACES, k=4), "B").
PLACES = np.array([
    (112.0, 184.5), (48.7, 209.0), (163.7, 28.7), (39.6, 394.5), (277.6, 179.5), (256.1, 108.2),
    (120.7, 29.3), (21.0, 323.0), (325.3, 2.0), (132.0, 35.6), (187.2, 247.1), (220.4, 53.6),
    (281.0, 245.2), (187.0, 118.9),
])  # fmt: skip
ERRORS = np.array([
    0.014, -0.029, 0.012, 0.003, 0.031, -0.022, 0.025, 0.034, 0.041, -0.001, 0.006, -0.031, 0.038,
    0.049,
])  # fmt: skip


def test_against_a_reference_library() -> None:
    """The value, what chance gives and its deviation, with four nearest neighbours."""
    found = measure_clustering(ERRORS, find_neighbours(PLACES))
    assert found is not None
    assert found.value == pytest.approx(-0.20309834218573955)
    assert found.expected == pytest.approx(-0.07692307692307693)
    assert found.deviation == pytest.approx(0.13036808480824794)
    assert found.score == pytest.approx(-0.9678386044272084)


def test_neighbours_are_the_nearest() -> None:
    """On a line the nearest two are those beside; none is its own neighbour."""
    places = np.array([(0.0, 0.0), (1.0, 0.0), (2.1, 0.0), (3.3, 0.0)])
    weights = find_neighbours(places, 1)
    assert weights.argmax(axis=1).tolist() == [1, 0, 1, 2]
    assert np.trace(weights) == 0
    assert weights.sum() == 4


@pytest.mark.parametrize("errors", [[0.1, 0.2, 0.3], [0.5] * 8])
def test_too_few_and_equal_errors_have_none(errors: list[float]) -> None:
    """Nothing is alike where nothing differs."""
    count = len(errors)
    assert measure_clustering(np.array(errors), 1 - np.eye(count)) is None


def sink(points: tuple[Residual, ...], metres: float) -> tuple[Residual, ...]:
    """Return points of which those in the west lie so much lower in the cloud."""
    middle = float(np.median([each.east_m for each in points]))
    return tuple(
        replace(each, dz=(each.dz or 0.0) - metres) if each.east_m < middle else each
        for each in points
    )


def list_alike(points: tuple[Residual, ...]) -> list[str]:
    """Return what is said of neighbours."""
    return [
        each.sentence
        for each in judge(CheckpointQuality(), points)
        if each.subject == NEIGHBOURHOOD and each.grade is Grade.OBSERVATION
    ]


@pytest.mark.parametrize(("metres", "is_told"), [(0.06, True), (0.0, False)])
def test_ground_that_changed_in_one_half_is_told(metres: float, is_told: bool) -> None:
    """Six centimetres dug off in the west, of errors of two."""
    told = list_alike(sink(make_residuals(draw(25, 0.02, seed=8)), metres))
    assert bool(told) is is_told


def test_few_points_show_no_clusters() -> None:
    """Of nine points four are half of all others."""
    assert list_alike(sink(make_residuals(draw(9, 0.001)), 0.2)) == []


def test_honest_surveys_are_rarely_told() -> None:
    """Of 600 honest surveys of 20 points about one in a hundred is told, and not thrice as many."""
    assert stats.norm.ppf(0.99) == pytest.approx(2.326, abs=5e-4)
    places = np.array([(each.east_m, each.north_m) for each in make_residuals([0.0] * 20)])
    weights = find_neighbours(places)
    random = np.random.default_rng(12)
    found = [measure_clustering(random.normal(0.0, 0.02, 20), weights) for _ in range(600)]
    told = sum(f is not None and f.value > 0.3 and f.score > 2.326 for f in found)
    assert told <= 18
