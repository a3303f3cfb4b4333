"""Blunders: single ones, two heights exchanged, a block with the wrong rod."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from ground_bench import draw, judge, make_residuals

from ledger.contract.check import Grade, Outcome
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.blunders import find_block, find_exchanges, find_outliers
from lidar_checks.ground.checkpoint_outliers import CheckpointOutliers
from lidar_checks.ground.named_blunders import sort_by_survey
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.vertical_accuracy import VerticalAccuracy

GOOD = draw(14, 0.02, seed=3)


def spoil(number: int, error: float) -> list[float]:
    """Return good errors with one of them replaced."""
    return [error if place == number else each for place, each in enumerate(GOOD)]


def test_iglewicz_and_hoaglin_example() -> None:
    """The sample of NIST/SEMATECH e-Handbook 1.3.5.17 has one outlier by a score above 3.5.

    Values 2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3: the two last ones are far off, which
    scores with mean and standard deviation hide.
    """
    sample = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3]
    assert sorted(find_outliers(sample, 0.05)) == [8, 9]
    plain = np.abs(np.array(sample) - np.mean(sample)) / np.std(sample, ddof=1)
    assert plain.max() < 3.5


@pytest.mark.parametrize(("error", "is_told"), [(0.3, True), (0.04, False)])
def test_a_single_blunder_is_named_and_counted(error: float, is_told: bool) -> None:
    """It is told with the RMSE with and without it, and nothing is taken out."""
    findings = judge(CheckpointOutliers(), make_residuals(spoil(6, error)))
    assert [each.grade for each in findings] == [Grade.OBSERVATION if is_told else None]
    if is_told:
        assert findings[0].subject == "C07"
        assert "It is counted" in findings[0].sentence


def test_what_is_less_than_the_least_is_no_blunder() -> None:
    """Thirteen equal errors and one 4 cm off: infinitely far by score, and no blunder."""
    errors = [0.0] * 13 + [0.04]
    assert find_outliers(errors, 0.05) == []
    assert find_outliers(errors, 0.03) == [13]


def list_blunders(points: Sequence[Residual]) -> list[int]:
    """Return the places of points that are off, worst first."""
    return find_outliers([each.dz or 0.0 for each in points], 0.05)


def exchange(one: int, other: int, rise: float) -> tuple[Residual, ...]:
    """Return good points of which two have each other's height, which differ by `rise`."""
    points = list(make_residuals(GOOD))
    for place, height, off in ((one, 20.0 + rise, -rise), (other, 20.0, rise)):
        dz = points[place].dz or 0.0
        points[place] = replace(points[place], height_m=height, dz=dz + off)
    others = [p if n in (one, other) else replace(p, height_m=25.0) for n, p in enumerate(points)]
    return tuple(others)


@pytest.mark.parametrize(("rise", "is_told"), [(0.9, True), (0.05, False)])
def test_two_exchanged_heights_are_named(rise: float, is_told: bool) -> None:
    """Exchanged back the errors fall by more than 90 %; heights that hardly differ show nothing."""
    findings = judge(CheckpointOutliers(), exchange(2, 9, rise))
    if not is_told:
        assert all("xchang" not in each.sentence or each.grade is None for each in findings)
        return
    (found,) = findings
    assert found.subject == "C03 and C10"
    assert found.grade is Grade.MINOR
    assert found.catalogue == ("CP-05",)


def test_an_exchange_is_found_under_a_constant() -> None:
    """A cloud that lies 31.9 m low as a whole does not hide it."""
    low = tuple(replace(each, dz=(each.dz or 0) - 31.9) for each in exchange(2, 9, 0.9))
    (found,) = find_exchanges(low, list_blunders(low))
    assert (found.one, found.other) == (2, 9)


def test_two_exchanges_that_explain_alike_name_none() -> None:
    """Where either of two points may be the other half, neither is named."""
    points = list(exchange(2, 9, 0.9))
    points[5] = replace(points[5], height_m=points[9].height_m, dz=points[9].dz)
    assert find_exchanges(points, list_blunders(points)) == []


def test_a_third_blunder_hides_no_exchange_and_is_named_beside_it() -> None:
    """C03 and C10 exchanged, C06 half a metre off by itself: three names, each for what it is."""
    points = list(exchange(2, 9, 0.9))
    points[5] = replace(points[5], dz=(points[5].dz or 0.0) + 0.5)
    findings = judge(CheckpointOutliers(), points)
    assert [(each.subject, each.grade) for each in findings] == [
        ("C03 and C10", Grade.MINOR),
        ("C06", Grade.OBSERVATION),
    ]


def test_two_pairs_of_exchanged_heights_are_both_named() -> None:
    """Two slips of the same hand on one day."""
    points = list(exchange(2, 9, 0.9))
    for place, height, off in ((4, 23.0, 2.0), (11, 25.0, -2.0)):
        points[place] = replace(points[place], height_m=height, dz=(points[place].dz or 0.0) + off)
    subjects = [each.subject for each in judge(CheckpointOutliers(), points)]
    assert sorted(subjects) == ["C03 and C10", "C05 and C12"]


def test_a_blunder_hides_no_block_and_is_named_beside_it() -> None:
    """A wrong rod at five points in a row, and one point a metre off elsewhere."""
    errors = [each / 10 + (0.2 if 4 <= place < 9 else 0.0) for place, each in enumerate(GOOD)]
    errors[12] += 1.0
    findings = judge(CheckpointOutliers(), make_residuals(errors))
    assert [(each.subject, each.grade) for each in findings] == [
        ("C05 to C09", Grade.MINOR),
        ("C13", Grade.OBSERVATION),
    ]


def test_more_blunders_than_are_told_one_by_one_are_all_named() -> None:
    """Seven of thirty: five with their numbers, the others by name."""
    errors = [each / 10 for each in (*GOOD, *GOOD, 0.0, 0.0)]
    wrong = (1, 5, 9, 13, 17, 21, 25)
    for rank, place in enumerate(wrong):
        errors[place] += (-1) ** rank * (0.3 + 0.1 * rank)
    findings = judge(CheckpointOutliers(), make_residuals(errors))
    told = " ".join(f"{each.subject} {each.sentence}" for each in findings)
    for place in wrong:
        assert f"C{place + 1:02d}" in told


@pytest.mark.parametrize(("step", "is_told"), [(0.2, True), (0.07, False)])
def test_a_block_with_the_wrong_rod(step: float, is_told: bool) -> None:
    """Five points in a row whose rod was taken for 20 cm too long."""
    errors = [each / 10 + (step if 4 <= place < 9 else 0.0) for place, each in enumerate(GOOD)]
    findings = judge(CheckpointOutliers(), make_residuals(errors))
    told = [each for each in findings if "CP-11" in each.catalogue and each.grade]
    assert bool(told) is is_told
    if is_told:
        assert told[0].subject == "C05 to C09"
        assert float(told[0].observed) == pytest.approx(0.2, abs=0.003)


def test_a_block_is_sought_in_the_order_of_the_survey() -> None:
    """Scattered over the table, together by time: what was surveyed one after the other."""
    order = np.random.default_rng(4).permutation(14)
    errors = [0.0] * 14
    points = list(make_residuals(errors))
    for rank, place in enumerate(order):
        dz = GOOD[int(place)] / 10 + (0.2 if rank >= 9 else 0.0)
        moment = f"2026-05-12T{8 + rank:02d}:00:00Z"
        points[int(place)] = replace(points[int(place)], dz=dz, surveyed=moment)
    (found,) = judge(CheckpointOutliers(), points)
    assert found.catalogue == ("CP-11",)
    untimed = [replace(each, surveyed="") for each in points]
    assert sort_by_survey(untimed) == list(range(14))
    assert all(
        "CP-11" not in e.catalogue or not e.grade for e in judge(CheckpointOutliers(), untimed)
    )


def test_a_block_equals_the_search_of_every_run() -> None:
    """Sums of sums find the same run as looking at each one (numpy's own variances)."""
    random = np.random.default_rng(11)
    values = random.normal(0.0, 0.01, 17)
    values[3:8] += 0.15
    found = find_block(list(values), 0.08)
    best = max(
        ((a, b) for a in range(17) for b in range(a + 2, min(17, a + 8) + 1)),
        key=lambda run: (
            -values[run[0] : run[1]].var() * (run[1] - run[0])
            - np.delete(values, range(*run)).var() * (17 - run[1] + run[0])
        ),
    )
    assert found is not None
    assert (found.first, found.last + 1) == best
    inside, outside = values[3:8].mean(), np.delete(values, range(3, 8)).mean()
    assert found.step_m == pytest.approx(inside - outside)


def test_a_real_trend_is_no_block() -> None:
    """Errors that grow evenly over the site are no wrong rod."""
    assert find_block(list(np.linspace(0.0, 0.5, 14)), 0.08) is None


@pytest.mark.parametrize("count", [1, 4])
def test_too_few_points_show_no_blunder(count: int) -> None:
    """Of four points nobody can tell which one is off."""
    (found,) = judge(CheckpointOutliers(), make_residuals([0.0] * (count - 1) + [9.0]))
    assert found.outcome is Outcome.INCONCLUSIVE


def test_honest_errors_are_rarely_called_blunders() -> None:
    """Of 400 honest surveys of 14 points at 5 cm, fewer than 2 in 100 are told anything."""
    told = sum(
        any(
            each.grade
            for each in judge(
                CheckpointOutliers(),
                make_residuals(np.random.default_rng(seed).normal(0.0, 0.05, 14).tolist()),
            )
        )
        for seed in range(400)
    )
    assert told < 8


def survey_again(points: Sequence[Residual], rise: float) -> tuple[Residual, ...]:
    """Return points with those of a second table of the same marks, its heights so much higher."""
    again = (
        replace(each, table="control/again.csv", dz=None if each.dz is None else each.dz - rise)
        for each in points
    )
    return (*points, *again)


@pytest.mark.parametrize("rise", [-31.912, -0.06, 0.06, 1.0])
def test_two_tables_that_contradict_each_other_state_nothing(rise: float) -> None:
    """Marks that the client had surveyed again, lower by the geoid: neither table is believed."""
    points = survey_again(make_residuals(draw(14, 0.02)), rise)
    told = judge(CheckpointOutliers(), points)[0]
    assert told.grade is Grade.MINOR
    assert "14 spots are listed with several heights" in told.sentence
    assert f"is {rise:+.3f} m from the first, in the mean of all {rise:+.3f} m" in told.sentence
    figure, *_ = judge(VerticalAccuracy(), points, {"rmse_max_m": 0.05})
    assert figure.outcome is Outcome.NOT_ASSESSED
    assert "28 contradict another height of the same spot" in figure.sentence
    refused, *_ = judge(AccuracyStatement(), points)
    assert "no checkpoint is left without a second height" in refused.sentence


def test_one_contradicted_point_leaves_the_others() -> None:
    """It is taken out with its second height; the rest is judged as before."""
    points = survey_again(make_residuals(draw(14, 0.02)), 0.0)
    points = (*points[:-1], replace(points[-1], dz=1.0))
    told = judge(CheckpointOutliers(), points)
    assert [each.grade for each in told] == [Grade.MINOR, None]
    assert "None of 13 checkpoints" in told[1].sentence


def test_of_one_spot_the_point_with_a_height_counts() -> None:
    """A first table without usable heights hides no second one."""
    points = make_residuals(draw(14, 0.02))
    blank = tuple(replace(each, table="control/first.csv", dz=None) for each in points)
    (told,) = judge(CheckpointOutliers(), (*blank, *points))
    assert "None of 14 checkpoints" in told.sentence
