"""Scan angles: lost, impossible, cut off and one-sided; honest ranges stay silent."""

from __future__ import annotations

import numpy as np
import pytest
from made_cloud import Delivery, make_header, make_points

from ledger.contract.check import Finding, Grade, Outcome
from lidar_checks.cloud.scan_angles import ScanAngles

MANY = 20_000


def judge(*tiles: object, point_format: int = 6) -> list[Finding]:
    """Return what the check finds in tiles with these stored angles."""
    name = "scan_angle" if point_format > 5 else "scan_angle_rank"
    delivery = Delivery()
    for number, angles in enumerate(tiles):
        stored = np.asarray(angles)
        points = make_points(np.zeros(len(stored)), np.zeros(len(stored)), **{name: stored})
        header = make_header(point_format=point_format)
        delivery.add(f"tile_{number}.laz", points, header=header)
    return list(delivery.drive(ScanAngles()))


def list_faults(findings: list[Finding]) -> list[tuple[str, str]]:
    """Return subject and sentence of each observation; nothing is ever worse."""
    told = [f for f in findings if f.outcome is Outcome.NONCONFORMING]
    assert all(f.grade is Grade.OBSERVATION for f in told)
    return [(f.subject, f.sentence) for f in told]


def spread(
    low: float, high: float, count: int = MANY
) -> np.ndarray[tuple[int], np.dtype[np.int16]]:
    """Return angles evenly over a range of degrees, in steps of 0.006 degrees."""
    return np.rint(np.linspace(low, high, count) / 0.006).astype(np.int16)


@pytest.mark.parametrize(
    "ranges",
    [
        [(-30, 30)],
        [(-180, 180)],
        [(-20, 0), (0, 20)],  # one tile on either side of the line
        [(10, 20), (-5, 5)],
    ],
)
def test_honest_ranges_stay_silent(ranges: list[tuple[float, float]]) -> None:
    """A gate of any width, all round, and tiles on one side each."""
    (finding,) = judge(*(spread(*each) for each in ranges))
    assert finding.outcome is Outcome.CONFORMS
    assert f"{max(high for _, high in ranges):.1f}°" in finding.sentence


def test_a_natural_end_stays_silent() -> None:
    """A range that thins out or ends at a wall is no cut."""
    random = np.random.default_rng(3)
    assert not list_faults(judge(np.clip(random.normal(0, 3000, MANY), -30000, 30000)))
    assert not list_faults(judge(random.triangular(-5000, 4900, 5000, MANY).astype(np.int16)))


@pytest.mark.parametrize(
    ("point_format", "limit", "shown"), [(6, 30_000, "±180°"), (3, 90, "±90°")]
)
def test_the_limit_is_that_of_the_point_format(point_format: int, limit: int, shown: str) -> None:
    """The last angle of the range is possible, the next is not, on either side."""
    assert not list_faults(judge([-limit, limit], point_format=point_format))
    for beyond in (limit + 1, -limit - 1):
        ((_, sentence),) = list_faults(judge([0, beyond], point_format=point_format))
        assert f"1 of 2 points has a scan angle beyond {shown}" in sentence


def test_all_zero_is_observed_where_there_are_enough_points() -> None:
    """Zero in every point is lost angles; in fewer points than the criterion it is nothing."""
    ((subject, sentence),) = list_faults(judge(np.zeros(10_000)))
    assert subject == "tile_0.laz"
    assert "every scan angle is 0°" in sentence
    assert not list_faults(judge(np.zeros(9_999)))


def test_a_cut_range_is_observed() -> None:
    """Angles cut to an end pile up there: found above a share of 2 %, not at it."""
    for share, cries in ((0.0195, False), (0.0205, True)):
        piled = int(share * MANY)
        angles = np.concatenate([spread(-40, 41.9, MANY - piled), np.full(piled, 7000)])
        faults = list_faults(judge(angles))
        assert bool(faults) is cries
        assert not cries or "a scan angle of exactly 42.0°" in faults[0][1]


def test_a_range_cut_to_a_byte_is_observed() -> None:
    """A scanner that sees all round, stored in whole degrees, piles up at 90 on both sides."""
    around = np.clip(np.linspace(-180, 180, MANY), -90, 90).astype(np.int8)
    ((_, sentence),) = list_faults(judge(around, point_format=3))
    assert "-90.0° and 90.0°" in sentence


def test_one_side_is_observed_in_the_whole_delivery_only() -> None:
    """A lost sign is found just below 0.1 % on the other side, and not just above."""
    for other, cries in ((19, True), (21, False)):
        right = spread(0.1, 30, MANY - other)
        faults = list_faults(judge(right, spread(-9, -1, other)))
        assert bool(faults) is cries
        assert not cries or (faults[0][0] == "delivery" and "point to the right" in faults[0][1])


def test_without_angles_nothing_is_passed() -> None:
    """Without any point the check says that no angle was read."""
    (finding,) = judge([])
    assert finding.outcome is Outcome.NOT_ASSESSED
