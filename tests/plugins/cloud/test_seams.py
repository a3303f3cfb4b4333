"""Seams from points to findings: a shifted tile is named, an unjudged seam is no pass."""

from __future__ import annotations

import numpy as np
import pytest
from made_cloud import Delivery, Floats, Site, make_header, make_points, measure_box
from made_seams import EAST, NORTH, judge_seams, list_accused, rolling

from ledger.contract.check import Grade, Outcome
from ledger.testing import check_tally_laws, take
from lidar_checks.cloud.seams import Seams


def test_a_good_delivery_conforms_and_says_how_well_it_was_seen() -> None:
    """Rolling ground with 2 cm of noise has no step, and the sentence tells the power."""
    (finding,) = judge_seams(Site(4, 3, 40.0, ground=rolling, noise=0.02))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.startswith("No tile stands off at 17 of 17 seams; half of them would")
    assert finding.catalogue == ("VD-08",)


@pytest.mark.parametrize("rise", [-31.9, 0.38, -0.12])
def test_a_shifted_tile_is_a_major_of_that_tile_alone(rise: float) -> None:
    """The tile is named with its step, its seams and its place; its neighbours are not."""
    findings = judge_seams(Site(3, 3, 40.0, ground=rolling, noise=0.02, raised={(1, 1): rise}))
    (finding,) = findings
    word = "above" if rise > 0 else "below"
    assert finding.grade is Grade.MAJOR
    assert finding.subject == finding.where.file == "tile_1_1.laz"
    assert f"lies {abs(rise):.2f} m {word} its neighbours along all 4 seams." in finding.sentence
    assert float(finding.observed) == pytest.approx(rise, abs=0.01)
    assert finding.where.xy == pytest.approx((EAST + 60, NORTH + 60), abs=0.2)
    assert finding.remedy


@pytest.mark.parametrize(("rise", "found"), [(0.0497, 0), (0.0503, 1)])
def test_the_least_step_that_counts_is_the_criterion(rise: float, found: int) -> None:
    """Without noise a step just inside 0.05 m conforms and one just outside is found."""
    assert len(list_accused(judge_seams(Site(raised={(1, 1): rise})))) == found


@pytest.mark.parametrize(("limit", "found"), [(0.29, 1), (0.31, 0)])
def test_the_specification_may_ask_for_another_step(limit: float, found: int) -> None:
    """The least step is the customer's to say."""
    findings = judge_seams(Site(raised={(1, 1): 0.3}), criteria={"step_max_m": limit})
    assert len(list_accused(findings)) == found


def test_noise_of_the_seam_itself_hides_a_small_step() -> None:
    """A step within four deviations of a rough seam is not claimed."""
    rough = Site(noise=0.3, raised={(1, 1): 0.2}, size=40.0)
    assert not list_accused(judge_seams(rough))


@pytest.mark.parametrize(("factor", "is_open"), [(4.0, False), (1.0, True)])
def test_a_step_that_grows_along_the_seam_is_below_its_own_scatter(
    factor: float, *, is_open: bool
) -> None:
    """A step from 0 to 0.8 m along one seam has a MAD of 0.2 m, four of which hide its median."""
    site = Site(2, 1, 40.0, ground=lambda x, y: 100 + 0.02 * (y - NORTH) * (x > EAST + 40))
    (finding,) = judge_seams(site, criteria={"mad_factor": factor})
    assert (finding.outcome is Outcome.INCONCLUSIVE) is is_open


@pytest.mark.parametrize(("share", "is_open"), [(0.6, False), (0.5, True)])
def test_a_step_has_to_run_along_enough_of_the_seam(share: float, *, is_open: bool) -> None:
    """A step of 3 m that is seen along 55 % of a seam, the rest too rough, is not claimed at 60."""

    def ground(x: Floats, y: Floats) -> Floats:
        rough = 12 * np.sin(1000 * x) * np.cos(777 * y) * (y > NORTH + 22)
        return 100 + 3.0 * (x > EAST + 40) + rough

    (finding,) = judge_seams(Site(2, 1, 40.0, ground=ground), criteria={"min_share_of_seam": share})
    assert (finding.outcome is Outcome.INCONCLUSIVE) is is_open


@pytest.mark.parametrize("buffer", [-0.8, -0.2, 0.5, 3.0, 5.0])
def test_gaps_and_overlaps_hide_nothing(buffer: float) -> None:
    """Tiles that leave a gap, touch or overlap show the same step."""
    site = Site(3, 3, 40.0, ground=rolling, noise=0.02, raised={(1, 1): 0.3}, buffer=buffer)
    (finding,) = judge_seams(site)
    assert finding.subject == "tile_1_1.laz"
    assert "along all 4 seams" in finding.sentence


def test_thin_clouds_still_show_a_step() -> None:
    """One point a square metre is enough for a step of a quarter metre."""
    for density in (1.0, 2.0, 4.0):
        findings = judge_seams(Site(3, 3, 80.0, density, rolling, 0.02, {(1, 1): 0.25}))
        assert list_accused(findings) == ["tile_1_1.laz"]
        assert "along all 4 seams" in findings[0].sentence


def test_one_tile_has_no_seam_and_conforms() -> None:
    """A single tile must not keep a delivery from being sent."""
    (finding,) = judge_seams(Site(1, 1))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "There is one tile only, so there is nothing to compare."


def test_tiles_that_do_not_touch_have_no_seam() -> None:
    """Islands further apart than the limit conform, and the sentence says why."""
    (finding,) = judge_seams(Site(2, 1, buffer=-5.0))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "No two of 2 tiles lie within 2 m, so there is no seam to compare."


def test_two_tiles_with_a_step_are_inconclusive() -> None:
    """One seam alone cannot tell a wrong height from a cliff."""
    (finding,) = judge_seams(Site(2, 1, raised={(1, 0): 31.9}))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "lies 31.90 m below tile_1_0.laz" in finding.sentence


def test_unread_tiles_leave_the_seams_open() -> None:
    """Where only one of several tiles could be read, no seam was compared, and that is no pass."""
    delivery = Site(3, 1).deliver()
    chunk = delivery.chunks["tile_0_0.laz"]
    (finding,) = Delivery({"tile_0_0.laz": chunk}, delivery.files).drive(Seams())
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert finding.sentence.startswith("Only one of 3 tiles could be read")


def test_empty_and_one_point_tiles_spoil_nothing() -> None:
    """A tile without points, and one of a single point, are passed over."""
    delivery = Site(3, 3, raised={(1, 1): 0.3}).deliver()
    delivery.add("empty.laz", make_points([], []))
    delivery.add("single.laz", make_points([EAST + 30.0], [NORTH + 70.0], 100.0))
    findings = list(delivery.drive(Seams()))
    assert list_accused(findings) == ["tile_1_1.laz"]
    assert len(findings) == 1


def test_a_tile_whose_borders_are_bare_is_named_as_not_judged() -> None:
    """A tile without points near its borders has seams that nobody could judge."""
    delivery = Site(2, 1, 40.0).deliver()
    chunk = delivery.chunks["tile_1_0.laz"]
    box = measure_box(chunk)
    x, y = chunk.x / 10_000, chunk.y / 10_000
    corners = (x == x.min()) | (x == x.max()) | (y == y.min()) | (y == y.max())
    delivery.add("tile_1_0.laz", take(chunk, (x > EAST + 45) | corners), box)
    findings = list(delivery.drive(Seams()))
    assert [f.outcome for f in findings] == [Outcome.INCONCLUSIVE] * 2
    assert "No seam of tile_0_0.laz could be judged" in findings[0].sentence


def test_a_wrong_header_box_is_told() -> None:
    """Where the stated box misses the points, the seams were looked for in the wrong place."""
    delivery = Site(3, 3).deliver()
    chunk = delivery.chunks["tile_1_1.laz"]
    box = measure_box(chunk)
    delivery.add("tile_1_1.laz", chunk, (box[0], box[1], box[2] + 100, box[3]))
    findings = list(delivery.drive(Seams()))
    assert findings[0].outcome is Outcome.INCONCLUSIVE
    assert "is 100.00 m off its points" in findings[0].sentence
    delivery.add("tile_1_1.laz", chunk, header=make_header((float("nan"), 0.0, 1.0, 1.0)))
    assert next(iter(delivery.drive(Seams()))).needs == ("header box",)


def test_no_points_are_no_pass() -> None:
    """Without any point read the check says so."""
    (finding,) = Delivery().drive(Seams())
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_half_of_the_tiles_shifted_leaves_it_to_the_records() -> None:
    """Where either half may be wrong, all are told with those words."""
    findings = judge_seams(Site(2, 2, raised={(0, 0): 0.3, (1, 1): 0.3}))
    assert len(list_accused(findings)) == 4
    assert "as many as lie the other way" in findings[0].sentence


def test_a_block_of_stale_tiles_names_the_one_in_its_middle() -> None:
    """A tile all of whose neighbours are shifted with it is named with the files round it."""
    block = {(c, r): -0.5 for c in (1, 2, 3) for r in (1, 2, 3)}
    findings = {f.subject: f for f in judge_seams(Site(6, 5, raised=block))}
    assert len(findings) == 9
    sentence = findings["tile_2_2.laz"].sentence
    assert sentence == (
        "tile_2_2.laz lies 0.50 m below the rest of the delivery, with the files round it; "
        "9 files lie so."
    )


@pytest.mark.parametrize("path", ["tile_1_1.laz", "tile_0_0.laz"])
def test_the_tally_keeps_the_laws(path: str) -> None:
    """Cutting, order, merging and pickling leave strips and box as they are."""
    delivery = Site(3, 3, ground=rolling, noise=0.1).deliver()
    evidence = delivery.make_evidence()
    check_tally_laws(Seams(), [delivery.chunks[path]], evidence=evidence, file=delivery.files[path])


def test_findings_do_not_depend_on_the_order_of_files() -> None:
    """Summaries handed over in any order give the same findings."""
    delivery = Site(3, 3, raised={(1, 1): 0.3}, noise=0.02).deliver()
    turned = Delivery(dict(reversed(delivery.chunks.items())), delivery.files)
    assert list(turned.drive(Seams())) == list(delivery.drive(Seams()))
