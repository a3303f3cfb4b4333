"""The sample of patches that the files of a delivery share."""

from __future__ import annotations

import pytest
from made_cloud import Delivery, make_header
from made_flight import Flight

from ledger.contract.check import Finding, Grade, Outcome
from ledger.testing import check_tally_laws
from lidar_checks.swath import sample_share, swath_family
from lidar_checks.swath.sample_share import FEWEST_POINTS, MOST_PATCHES, choose_level
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep

SIDE = 8.0
# A square kilometre in hundred tiles, 8 points a m²: 15,625 patches of 64 m².
TILES = [
    make_header((x, y, x + 100.0, y + 100.0), count=80_000)
    for x in range(0, 1000, 100)
    for y in range(0, 1000, 100)
]


@pytest.mark.parametrize(("copies", "level"), [(1, 1), (2, 2), (16, 5), (100, 8)])
def test_patches_of_a_delivery_are_bounded(copies: int, level: int) -> None:
    """The level is the least one at which no more patches stay than may."""
    assert choose_level(TILES * copies, SIDE) == level
    patches = copies * 1000**2 / SIDE**2
    assert patches / 2**level <= MOST_PATCHES < patches / 2 ** (level - 1)


def test_the_order_of_headers_leaves_no_trace() -> None:
    """Tiles of several densities give one level, whichever comes first."""
    mixed = [*TILES, *(make_header((0, 0, 50, 50), count=n) for n in range(0, 90_000, 1_000))]
    assert choose_level(mixed, SIDE) == choose_level(mixed[::-1], SIDE) > 0


def test_a_box_that_one_point_widened_thins_out_nothing() -> None:
    """One header that reaches to the origin, or to nowhere, is outvoted by the others."""
    far = make_header((0.0, 0.0, 500_000.0, 4_000_000.0), count=80_000)
    none = make_header((0.0, 0.0, float("inf"), float("nan")), count=80_000)
    assert choose_level([*TILES, far, none], SIDE) == 1


@pytest.mark.parametrize("count", [0, 1, 100_000, 10_000_000])
def test_as_many_points_stay_as_a_file_alone_may_keep(count: int) -> None:
    """A box of nonsense leaves of one file what its own limit would, and not less."""
    level = choose_level([make_header((0, 0, 1e9, 1e9), count=count)], SIDE)
    assert level == 0 or count >> level >= FEWEST_POINTS
    assert choose_level([], SIDE) == 0


def _make_sparse(monkeypatch: pytest.MonkeyPatch) -> Delivery:
    """Return a delivery in four tiles that is looked at in one patch of four."""
    monkeypatch.setattr(sample_share, "MOST_PATCHES", 64)
    monkeypatch.setattr(sample_share, "FEWEST_POINTS", 1 << 10)
    monkeypatch.setattr(swath_family, "_LEAST_KEPT", 1 << 17)
    flight = Flight(width=128, height=128, tile=64, raise_by={2: lambda x, _: 0 * x + 0.1})
    return flight.deliver()


def _judge(delivery: Delivery) -> tuple[Finding, Finding]:
    (step,) = delivery.drive(SwathStep())
    (overlap,) = delivery.drive(SwathOverlap(), {"min_share": 0.9})
    return step, overlap


def test_a_shared_sample_sees_what_all_patches_show(monkeypatch: pytest.MonkeyPatch) -> None:
    """A step of 0.1 m is found in a quarter of the patches; order of files leaves no trace."""
    delivery = _make_sparse(monkeypatch)
    step, overlap = _judge(delivery)
    assert step.grade is Grade.MINOR
    assert float(step.observed) == pytest.approx(0.1, abs=0.01)
    assert overlap.outcome is Outcome.CONFORMS
    assert "in one patch of 4" in overlap.sentence
    turned = Delivery(dict(reversed(delivery.chunks.items())), delivery.files)
    assert _judge(turned) == (step, overlap)


def test_a_sparse_tally_keeps_the_laws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cutting, order, merging and pickling leave a tally that began sparse as it is."""
    delivery = _make_sparse(monkeypatch)
    path = "tile_0_0.laz"
    check_tally_laws(
        SwathStep(),
        [delivery.chunks[path]],
        evidence=delivery.make_evidence(),
        file=delivery.files[path],
    )
