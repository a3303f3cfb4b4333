"""Exact duplicates: exact where all are compared, an honest interval where a sample is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_cloud import Delivery, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import PointChunk
from ledger.model.specification import Delivery as Tiling
from ledger.model.specification import Specification
from ledger.testing import Scene, SurveyBuilder, check_tally_laws, join, take
from lidar_checks.cloud import repeated_points
from lidar_checks.cloud.duplicates import Duplicates
from lidar_checks.cloud.repeated_points import RepeatTally, choose_bits, count_repeats
from lidar_checks.header.tile_buffer import BUFFER_KEY


def make_cloud(count: int, seed: int = 1, **given: Any) -> PointChunk:
    """Return points at random places, no two alike."""
    random = np.random.default_rng(seed)
    x, y, z = random.uniform(0, 500, (3, count))
    return make_points(x, y, z, **given)


def judge(*chunks: PointChunk, **criteria: Any) -> Finding:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk)
    (found,) = delivery.drive(Duplicates(), criteria)
    return found


def repeat(chunk: PointChunk, count: int) -> PointChunk:
    """Return a chunk with its first `count` points a second time at the end."""
    return join([chunk, take(chunk, np.arange(count))])


def test_a_cloud_without_duplicates_conforms() -> None:
    """No point repeats another, and all were compared."""
    found = judge(make_cloud(5000))
    assert found.outcome is Outcome.CONFORMS
    assert found.sentence == "None of 5,000 points repeats another in X, Y, Z and GPS time."


@pytest.mark.parametrize(("count", "outcome"), [(9, Outcome.CONFORMS), (10, Outcome.NONCONFORMING)])
def test_just_inside_and_just_outside_the_limit(count: int, outcome: Outcome) -> None:
    """9 of 9,009 points are 0.0999 %, 10 of 9,010 are 0.111 %; the limit is 0.1 %."""
    found = judge(repeat(make_cloud(9000), count))
    assert found.outcome is outcome
    assert found.sentence.startswith(f"{count} of 9,0")


def test_a_tile_merged_twice_is_told_from_tiles_that_overlap() -> None:
    """What to do differs, and the file with most of them is named."""
    cloud = make_cloud(3000)
    within = judge(make_cloud(3000, 2), repeat(cloud, 500))
    across = judge(cloud, take(cloud, np.arange(500)))
    assert (within.grade, within.where.file) == (Grade.MINOR, "tile_1.laz")
    assert "merged twice" in within.remedy
    assert (across.grade, across.where.file) == (Grade.MINOR, "tile_1.laz")
    assert "overlap" in across.remedy


def test_one_step_in_one_field_is_no_duplicate() -> None:
    """Identical coordinates at different times are two measurements."""
    cloud = make_cloud(3000)
    times = np.asarray(cloud["gps_time"], dtype=np.float64) + 1e-6
    later = make_points(cloud.x / 1e4, cloud.y / 1e4, cloud.z / 1e4, gps_time=times)
    higher = make_points(
        cloud.x / 1e4, cloud.y / 1e4, (cloud.z + 1) / 1e4, gps_time=cloud["gps_time"]
    )
    for other in (later, higher):
        assert judge(join([cloud, other])).outcome is Outcome.CONFORMS


def test_without_times_it_is_an_observation() -> None:
    """Places that were rounded alike cannot be told from duplicates, so that it is no obstacle."""
    found = judge(repeat(make_cloud(3000, gps_time=0.0), 100))
    assert (found.outcome, found.grade) == (Outcome.NONCONFORMING, Grade.OBSERVATION)
    assert "X, Y and Z," in found.sentence


def test_no_point_is_not_assessed() -> None:
    """An empty tile shows nothing."""
    assert judge(make_points([], [])).outcome is Outcome.NOT_ASSESSED


def test_a_sample_gives_an_interval_that_holds_the_truth(monkeypatch) -> None:
    """With one point in 16 compared, 2 of 10 points that repeat are found within the interval."""
    monkeypatch.setattr(repeated_points, "KEPT", 2_700)
    found = judge(repeat(make_cloud(32_000), 8_000))
    assert found.outcome is Outcome.NONCONFORMING
    assert "one point in 16 was compared" in found.sentence
    low, high = found.sentence.split("95 %: ")[1].split(" %;")[0].split(" to ")
    assert float(low) < 20.0 < float(high)


def test_a_sample_that_cannot_decide_is_inconclusive(monkeypatch) -> None:
    """Where the limit lies within the interval, nothing is claimed."""
    monkeypatch.setattr(repeated_points, "KEPT", 2_500)
    found = judge(repeat(make_cloud(32_000), 8_000), max_share=0.2)
    assert found.outcome is Outcome.INCONCLUSIVE


def test_a_sample_without_duplicates_has_an_upper_bound(monkeypatch) -> None:
    """None among 2,000 of 32,000 leaves 3 · 16 of them at most: 0.15 %, with 95 % certainty."""
    monkeypatch.setattr(repeated_points, "KEPT", 2_500)
    assert judge(make_cloud(32_000), max_share=0.0016).outcome is Outcome.CONFORMS
    assert judge(make_cloud(32_000), max_share=0.0014).outcome is Outcome.INCONCLUSIVE


def test_the_sample_is_small_enough() -> None:
    """Two thousand million points leave no more than two million numbers."""
    assert [choose_bits(n) for n in (0, 1, 2_000_000, 2_000_001, 2 * 10**9)] == [0, 0, 0, 1, 10]


def test_a_header_that_states_too_little_costs_no_memory(monkeypatch) -> None:
    """The sample grows sparser by itself, and two files are compared in the sparser of both."""
    monkeypatch.setattr(repeated_points, "KEPT", 1_000)
    cloud = make_cloud(20_000, 2)
    tally, small = RepeatTally(0), RepeatTally(0)
    tally.chunk(cloud)
    small.chunk(take(cloud, np.arange(900)))
    summaries = {"a": tally.close(), "b": small.close()}
    assert summaries["a"].bits > 3
    assert len(summaries["a"].numbers) <= 1_000
    found = count_repeats(summaries)
    assert found.low <= 900 <= found.high


def test_the_laws() -> None:
    """Any slice, order, split and merge gives the same numbers."""
    check_tally_laws(Duplicates(), [repeat(make_cloud(300), 40)])


@settings(max_examples=30)
@given(st.integers(0, 200), st.permutations(range(4)), st.integers(0, 2**32))
def test_order_of_files_and_split_leave_no_trace(count: int, order: list[int], seed: int) -> None:
    """However points lie in tiles, the same share repeats."""
    cloud = repeat(make_cloud(600), count)
    random = np.random.default_rng(seed)
    place = random.integers(0, 4, len(cloud))
    whole = judge(cloud, max_share=0.0001)
    tiles = [take(cloud, random.permutation(np.flatnonzero(place == each))) for each in order]
    cut = judge(*tiles, max_share=0.0001)
    assert (cut.outcome, cut.observed) == (whole.outcome, whole.observed)


@pytest.mark.parametrize(
    ("agreed", "carried", "expected"),
    [
        (2.0, (), Outcome.CONFORMS),
        (2.0, (BUFFER_KEY,), Outcome.INCONCLUSIVE),
        (1.7, (), Grade.MINOR),
        (None, (), Grade.MINOR),
    ],
)
def test_an_agreed_buffer_repeats_no_point(
    agreed: float | None, carried: tuple[str, ...], expected: Grade | Outcome
) -> None:
    """Tiles that overlap by 4 m share its points: right with 2 m agreed, and half a metre to it."""
    random = np.random.default_rng(3)
    x, y, z = random.uniform(0, 40, (3, 8000))
    west, east = x < 22, x > 18
    delivery = Delivery()
    delivery.add("west.laz", make_points(x[west], y[west], z[west]))
    delivery.add("east.laz", make_points(x[east], y[east], z[east]))
    wishes = Specification(delivery=Tiling(tile_buffer_m=agreed), carried=carried)
    (found,) = delivery.drive(Duplicates(), specification=wishes)
    assert (found.grade or found.outcome) is expected


def test_a_point_twice_in_one_tile_is_no_buffer() -> None:
    """An agreed buffer excuses no line that was merged twice, nor two whole copies."""
    wishes = Specification(delivery=Tiling(tile_buffer_m=2.0))
    cloud = make_cloud(3000)
    for chunks in ((repeat(cloud, 500),), (cloud, cloud)):
        delivery = Delivery()
        for number, chunk in enumerate(chunks):
            delivery.add(f"tile_{number}.laz", chunk)
        (found,) = delivery.drive(Duplicates(), specification=wishes)
        assert found.grade is Grade.MINOR


@pytest.mark.parametrize(("twice", "told"), [(0, False), (1, True)])
def test_what_is_let_pass_stands_on_the_first_screen(bench, twice: int, told: bool) -> None:
    """One point twice of some thousands is within the criterion; nobody has to ask to see it."""
    survey = SurveyBuilder(bench.job / "out", scene=Scene(density=8.0))
    if twice:
        survey.duplicate_points(0, twice)
    screen = " ".join(bench.run("audit", "out").out.split())
    assert ("Let pass 1 of" in screen) is told
    assert ("repeat another in X, Y, Z and GPS time" in screen) is told
    assert ("Up to 0.1 % are let pass." in screen) is told
