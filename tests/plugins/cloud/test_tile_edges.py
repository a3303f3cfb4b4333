"""Tile edges: gaps, overlaps and double points on either side of their gates."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from made_cloud import Delivery, Site, make_crs, make_points
from made_flight import Flight

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.georeferencing import CrsKind
from ledger.model.specification import Delivery as Tiling
from ledger.model.specification import Specification
from ledger.testing import check_tally_laws, join, take
from ledger.units import US_SURVEY_FOOT
from lidar_checks.cloud import edge_tally
from lidar_checks.cloud.tile_edges import TileEdges
from lidar_checks.header.tile_buffer import BUFFER_KEY


def list_grades(findings: list[Finding]) -> list[Grade]:
    """Return the grades of what is nonconforming."""
    return [finding.grade for finding in findings if finding.grade is not None]


def cut_back(delivery: Delivery, path: str, metres: float) -> Delivery:
    """Take a strip off the west side of a tile."""
    chunk = delivery.chunks[path]
    west = int(chunk.x.min())
    delivery.add(path, take(chunk, chunk.x - west > metres * 10_000))
    return delivery


def lend(delivery: Delivery, metres: float) -> Delivery:
    """Give the first tile the points of a strip of the second as well: a buffer."""
    first, second = delivery.chunks["tile_0_0.laz"], delivery.chunks["tile_1_0.laz"]
    west = int(second.x.min())
    strip = take(second, second.x - west <= metres * 10_000)
    delivery.add("tile_0_0.laz", join([first, strip]))
    return delivery


@pytest.mark.parametrize("density", [1.0, 6.0, 40.0])
def test_tiles_that_meet_conform(density: float) -> None:
    """Thin or dense, what the spacing of the points leaves is no gap."""
    (finding,) = Site(3, 2, 40.0, density).deliver().drive(TileEdges())
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "No gap, overlap or double point at 7 seams."


@pytest.mark.parametrize(("metres", "found"), [(0.85, 0), (1.1, 1)])
def test_a_white_line_is_a_gap(metres: float, found: int) -> None:
    """A strip without points just wider than a metre is told, one just narrower is not."""
    delivery = cut_back(Site(2, 1, 40.0, 40.0).deliver(), "tile_1_0.laz", metres)
    findings = list(delivery.drive(TileEdges()))
    assert list_grades(findings) == [Grade.MINOR] * found
    if found:
        assert findings[0].subject == "tile_0_0.laz and tile_1_0.laz"
        assert "holds no points" in findings[0].sentence
        assert findings[0].catalogue == ("FT-07",)


@pytest.mark.parametrize("metres", [0.3, 1.5, 8.0])
def test_a_buffer_is_points_in_two_tiles(metres: float) -> None:
    """Every lent point is counted, and how far the tiles reach over each other."""
    delivery = Site(2, 1, 40.0).deliver()
    chunk = delivery.chunks["tile_1_0.laz"]
    lent = int(np.count_nonzero(chunk.x - chunk.x.min() <= metres * 10_000))
    (finding,) = lend(delivery, metres).drive(TileEdges())
    assert finding.grade is Grade.MINOR
    if metres < 2:
        assert finding.observed == str(lent)
    assert 0 < int(finding.observed) <= lent


@pytest.mark.parametrize(("allowed", "found"), [(1, 0), (0, 1)])
def test_one_double_point_is_the_criterion(allowed: int, found: int) -> None:
    """One point in two tiles, allowed or not."""
    delivery = Site(2, 1, 40.0).deliver()
    first, second = delivery.chunks["tile_0_0.laz"], delivery.chunks["tile_1_0.laz"]
    delivery.add("tile_0_0.laz", join([first, take(second, np.argsort(second.x)[:1])]))
    findings = list(delivery.drive(TileEdges(), {"double_points_max": allowed}))
    assert len(list_grades(findings)) == found


@pytest.mark.parametrize(("buffer", "found"), [(0.02, 0), (0.4, 1)])
def test_an_overlap_of_other_points_is_an_observation(buffer: float, found: int) -> None:
    """Tiles that reach over each other with points of their own."""
    findings = list(Site(2, 1, 40.0, 40.0, buffer=buffer).deliver().drive(TileEdges()))
    assert list_grades(findings) == [Grade.OBSERVATION] * found
    if found:
        assert "though no point is in both" in findings[0].sentence


@pytest.mark.parametrize(
    ("agreed", "carried", "expected"),
    [
        (1.5, (), Outcome.CONFORMS),
        (1.5, (BUFFER_KEY,), Outcome.INCONCLUSIVE),
        (1.35, (), Grade.MINOR),
        (None, (), Grade.MINOR),
    ],
)
def test_points_in_two_tiles_are_those_of_the_agreed_buffer(
    agreed: float | None, carried: tuple[str, ...], expected: Grade | Outcome
) -> None:
    """Tiles that overlap by 3 m hold points of each other: with 1.5 m agreed that is right."""
    wishes = Specification(delivery=Tiling(tile_buffer_m=agreed), carried=carried)
    delivery = lend(Site(2, 1, 40.0, 40.0).deliver(), 3.0)
    (finding,) = delivery.drive(TileEdges(), specification=wishes)
    assert (finding.grade or finding.outcome) is expected
    if expected is Outcome.CONFORMS:
        assert "beyond the agreed buffer of 1.5 m" in finding.sentence


def test_flight_lines_and_islands_have_no_edges() -> None:
    """Files that lie on each other or far apart are not compared."""
    flight = Flight()
    points = flight.make_points()
    lines = Delivery()
    for line in (1, 2):
        chosen = points["point_source_id"] == line
        chunk = flight.make_chunk({name: each[chosen] for name, each in points.items()})
        lines.add(f"line_{line}.laz", chunk)
    for delivery in (lines, Site(2, 1, buffer=-5.0).deliver(), Site(1, 1).deliver()):
        (finding,) = delivery.drive(TileEdges())
        assert finding.outcome is Outcome.CONFORMS


def test_empty_and_one_point_tiles_spoil_nothing() -> None:
    """A tile without points, and one of a single point, are passed over."""
    delivery = Site(2, 2).deliver()
    delivery.add("empty.laz", make_points([], []))
    delivery.add("single.laz", make_points([552_030.0], [4_272_045.0], 100.0))
    assert [f.outcome for f in delivery.drive(TileEdges())] == [Outcome.CONFORMS]


def test_water_along_an_edge_is_no_gap() -> None:
    """Where one side has no point within the strip, there is nothing to compare."""
    delivery = cut_back(Site(2, 1, 40.0).deliver(), "tile_1_0.laz", 6.0)
    assert list_grades(list(delivery.drive(TileEdges()))) == []


def test_feet_are_feet() -> None:
    """A gap in feet is told in metres."""
    foot = float(US_SURVEY_FOOT.factor)
    delivery = Site(2, 1, 40 / foot, 40 * foot**2).deliver(crs=make_crs(US_SURVEY_FOOT))
    delivery = cut_back(delivery, "tile_1_0.laz", 1.5 / foot)
    file = delivery.files["tile_1_0.laz"]
    delivery.files["tile_1_0.laz"] = dataclasses.replace(file, crs=make_crs(US_SURVEY_FOOT))
    (finding,) = delivery.drive(TileEdges())
    assert float(finding.observed) == pytest.approx(1.5, abs=0.1)


def test_degrees_and_no_points_are_not_assessed() -> None:
    """Files in degrees have no lengths; without points nothing is said."""
    globe = Site(2, 1).deliver(crs=make_crs(None, CrsKind.GEOGRAPHIC))
    assert {f.outcome for f in globe.drive(TileEdges())} == {Outcome.NOT_ASSESSED}
    (finding,) = Delivery().drive(TileEdges())
    assert finding.outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize("most", [1 << 15, 64])
def test_the_tally_keeps_the_laws(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    """Cutting, order, merging and pickling leave no trace, thinned or not."""
    monkeypatch.setattr(edge_tally, "MOST_HASHES", most)
    delivery = lend(Site(2, 2, 40.0).deliver(), 3.0)
    path = "tile_0_0.laz"
    check_tally_laws(
        TileEdges(),
        [delivery.chunks[path]],
        evidence=delivery.make_evidence(),
        file=delivery.files[path],
    )


def test_many_doubles_are_an_estimate(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where only a share of the hashes is kept, the number is near the true one and said so."""
    monkeypatch.setattr(edge_tally, "MOST_HASHES", 256)
    delivery = Site(2, 1, 40.0, 60.0).deliver()
    chunk = delivery.chunks["tile_1_0.laz"]
    lent = int(np.count_nonzero(chunk.x - chunk.x.min() <= 15_000))
    (finding,) = lend(delivery, 1.5).drive(TileEdges())
    assert finding.sentence.startswith("About ")
    assert int(finding.observed) == pytest.approx(lent, rel=0.3)
