"""Noise: found where it stands alone and is in use; pits, wires and small clouds stay silent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_cloud import ORIGIN, Delivery, make_crs, make_header, make_points

from ledger.contract.check import Figure, Finding, Grade, Outcome
from ledger.contract.figures import require_figure
from ledger.model.chunk import PointChunk
from ledger.testing import check_tally_laws, make_file
from ledger.testing.driver import fill_tally, prepare_check
from ledger.units import INTERNATIONAL_FOOT
from lidar_checks.cloud import height_bins
from lidar_checks.cloud.height_figure import MOST_STEPS, tell_heights
from lidar_checks.cloud.noise_classed import NoiseClassed

GROUND = 4000
# A step of height is 0.8192 m, so a gap is known to within two steps.
STEP = 0.8192


def make_tile(
    heights: Sequence[float] = (), east: float = 0.0, count: int = GROUND, **given: Any
) -> PointChunk:
    """Return level ground at 100 m on 80 m × 80 m, and one point at each of some heights."""
    random = np.random.default_rng(8)
    total = count + len(heights)
    x = ORIGIN[0] + east + random.uniform(0, 80, total)
    y = ORIGIN[1] + random.uniform(0, 80, total)
    z = np.concatenate([100 + random.uniform(0, 0.5, count), heights])
    fields = {
        name: np.concatenate([np.full(count, 2 if name == "classification" else 0), each])
        for name, each in given.items()
    }
    return make_points(x, y, z, **fields)


def judge(*tiles: PointChunk, **criteria: Any) -> list[Finding]:
    """Return what the check finds in these tiles."""
    delivery = Delivery()
    for number, tile in enumerate(tiles):
        delivery.add(f"tile_{number}.laz", tile)
    return list(delivery.drive(NoiseClassed(), criteria))


def list_faults(findings: list[Finding]) -> list[tuple[str, str]]:
    """Return subject and what was observed; nothing is ever worse than an observation."""
    found = [f for f in findings if f.outcome is Outcome.NONCONFORMING]
    assert all(f.grade is Grade.OBSERVATION and f.catalogue == ("CL-02",) for f in found)
    return [(f.subject, f.observed) for f in found]


def test_ground_alone_conforms() -> None:
    """Level ground has nothing that stands alone."""
    (finding,) = judge(make_tile())
    assert finding.outcome is Outcome.CONFORMS
    assert "None of 4,000 points stands alone" in finding.sentence


@pytest.mark.parametrize("number", [0, 1, 2])
def test_the_place_lies_in_the_file_that_it_names(number: int) -> None:
    """Cells are 105 m wide and tiles 80 m: the middle of a cell may lie in the next tile."""
    tiles = [make_tile([80.0] if each == number else [], 80.0 * each) for each in range(3)]
    (finding,) = judge(*tiles)
    assert finding.where.file == f"tile_{number}.laz"
    assert finding.where.xy is not None
    x, y = finding.where.xy
    assert 80 * number <= x - ORIGIN[0] <= 80 * number + 80
    assert 0 <= y - ORIGIN[1] <= 80


@pytest.mark.parametrize(
    ("height", "words"),
    [
        (100 - 10 - 2 * STEP, "1 point at least 10 m below"),
        (100.5 + 50 + 2 * STEP, "1 point at least 50 m above"),
    ],
)
def test_a_point_beyond_the_gap_is_observed(height: float, words: str) -> None:
    """One point, with the place of its cell; the same point nearer than the gap is left."""
    (finding,) = judge(make_tile([height]))
    assert list_faults([finding]) == [("tile_0.laz", "1 point in use")]
    assert words in finding.sentence
    assert finding.where.file == "tile_0.laz"
    assert finding.where.xy is not None
    assert abs(finding.where.xy[0] - ORIGIN[0]) < 200
    inside = height + np.copysign(2 * STEP + 0.5, 100 - height)
    assert not list_faults(judge(make_tile([inside])))


@pytest.mark.parametrize("code", [7, 18])
def test_noise_that_is_classed_is_what_was_asked(code: int) -> None:
    """Points in a class of noise, or withheld, are told apart already."""
    far = [60.0, 200.0]
    assert not list_faults(judge(make_tile(far, classification=[code, code])))
    assert not list_faults(judge(make_tile(far, withheld=[1, 1])))
    assert list_faults(judge(make_tile(far, classification=[code, 2])))


def test_wires_may_hang_high() -> None:
    """A conductor above a valley is no noise, the same points without its class are."""
    assert not list_faults(judge(make_tile([170.0], classification=[14])))
    assert list_faults(judge(make_tile([170.0], classification=[1])))


def test_a_pit_with_enough_points_is_a_place() -> None:
    """More points than the share are a place; at the share they are noise."""
    four = [80.0, 80.1, 80.2, 80.3]
    assert list_faults(judge(make_tile(four, count=4000))) == [("tile_0.laz", "4 points in use")]
    assert not list_faults(judge(make_tile([*four, 80.4], count=4000)))


def test_a_pit_may_go_on_in_the_next_tile() -> None:
    """A few points of a pit at the edge of a tile are no noise where the next tile has the rest."""
    edge = make_tile([80.0, 80.1])
    pit = make_tile([80.0 + n / 100 for n in range(30)], east=80.0)
    assert list_faults(judge(edge)) == [("tile_0.laz", "2 points in use")]
    assert not list_faults(judge(edge, pit))


def test_a_quarry_face_and_a_slope_stay_silent() -> None:
    """Half of the ground 30 m lower, and a slope without gap, are terrain."""
    random = np.random.default_rng(1)
    x, y = (random.uniform(0, 80, 6000) + origin for origin in ORIGIN)
    assert not list_faults(judge(make_points(x, y, np.where(x > ORIGIN[0] + 40, 70.0, 100.0))))
    assert not list_faults(judge(make_points(x, y, (x - ORIGIN[0]) * 2)))


def test_few_points_tell_nothing() -> None:
    """Below the criterion there is no surface, so that nothing can stand apart from it."""
    (finding,) = judge(make_tile([0.0], count=998))
    assert finding.outcome is Outcome.INCONCLUSIVE
    (finding,) = judge(make_tile([0.0], count=999))
    assert finding.outcome is Outcome.NONCONFORMING
    (finding,) = judge(make_points([], []))
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_without_a_unit_nothing_is_assessed() -> None:
    """A file in degrees or of unknown unit has no metres to measure a gap in."""
    delivery = Delivery()
    delivery.add("tile.laz", make_tile([0.0]), crs=make_crs(unit=None))
    (finding,) = delivery.drive(NoiseClassed())
    assert (finding.outcome, finding.needs) == (
        Outcome.NOT_ASSESSED,
        ("coordinates.unit.horizontal",),
    )


def test_gaps_are_metres_in_feet_too() -> None:
    """In a file in feet 10 units below the ground are 3 metres, which is nothing."""
    foot = INTERNATIONAL_FOOT
    for below, cries in ((10.0, False), (10 / 0.3048 + 6, True)):
        delivery = Delivery()
        delivery.add("tile.laz", make_tile([100 - below]), crs=make_crs(foot))
        assert bool(list_faults(list(delivery.drive(NoiseClassed())))) is cries


def test_scattered_points_are_inconclusive(monkeypatch: pytest.MonkeyPatch) -> None:
    """Points in more places than are kept are not counted, and that is said."""
    monkeypatch.setattr(height_bins, "_MOST_PLACES", 10)
    (finding,) = judge(make_tile([10.0 * n for n in range(20)]))
    assert finding.outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize("short", [1, 1 << 14])
@pytest.mark.parametrize("top", [0.0, 150.0, 1e7, float("nan")])
def test_the_tally_keeps_the_laws(top: float, short: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cutting, order, merging and pickling leave the counts, whatever box the header states."""
    monkeypatch.setattr(height_bins, "_SHORT_ROW", short)
    tile = make_tile([0.0, 90.0, 300.0, 5e6], count=300, classification=[2, 7, 2, 1])
    header = make_header((ORIGIN[0], ORIGIN[1], ORIGIN[0] + 60, ORIGIN[1] + 80))
    header = replace(header, maximum=(*header.maximum[:2], top))
    check_tally_laws(NoiseClassed(), [tile], file=make_file(header=header, crs=make_crs()))


def test_the_box_of_the_header_changes_nothing() -> None:
    """What a broken header states costs time, not the answer."""
    tile = make_tile([60.0, 80.0])
    answers = set()
    for top in (0.0, 101.0, 1e9):
        header = make_header((ORIGIN[0], ORIGIN[1], ORIGIN[0] + 80, ORIGIN[1] + 80), count=4002)
        delivery = Delivery()
        header = replace(header, maximum=(*header.maximum[:2], top))
        delivery.add("tile.laz", tile, header=header)
        answers.add(tuple(delivery.drive(NoiseClassed())))
    assert len(answers) == 1


def test_heights_are_told_as_a_general_library_counts_them() -> None:
    """Each step has as many points as numpy's histogram with the same ends."""
    heights = np.random.default_rng(3).uniform(90.0, 140.0, 500)
    tile = make_tile(tuple(heights), classification=np.full(500, 5))
    delivery = Delivery()
    delivery.add("tile.laz", tile)
    check, evidence = NoiseClassed(), delivery.make_evidence()
    plan = prepare_check(check, evidence, None)
    kept = fill_tally(check, plan, delivery.files["tile.laz"], [tile]).close()
    (told,) = [f for f in check.finish(plan, {"tile.laz": kept}, evidence) if isinstance(f, Figure)]
    require_figure(check.id, told)
    assert float(told.step) == pytest.approx(STEP)
    first = round(float(told.value) / STEP)
    ends = [STEP * each for each in range(first, first + len(told.values) + 1)]
    counts, _ = np.histogram(tile.z / evidence.lattice.steps_z, ends)
    assert [int(each) for each in told.values] == counts.tolist()
    assert told.count == GROUND + 500
    assert told.unit == "m"
    assert told.is_inner


def test_many_steps_of_height_are_joined() -> None:
    """A site of many kilometres of height still gives a bounded list, and no point is lost."""
    counts = {(0, 0, up): 1 for up in range(-3000, 3000)}
    told = tell_heights([height_bins.HeightBins(6000, counts, scattered=False)], 0.5, 0.3048)
    assert told is not None
    assert len(told.values) <= MOST_STEPS
    assert sum(map(int, told.values)) == 6000
    assert (told.value, told.step, told.unit) == ("-1504.0000", "32.0000", "ft")
    assert tell_heights([], 0.5, 1.0) is None
