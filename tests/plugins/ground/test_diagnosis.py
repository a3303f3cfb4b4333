"""Which cause is named, which are told as ties, and where nothing can be told.

The site and its numbers are the made-up ones of `ledger.demo`; what they are held against is
arithmetic: h = H + N, and the gate 3·sqrt(s²/n + σ_pred² + σ_survey²) beside each assertion.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from made_residuals import (
    ACCEPTED,
    ANTENNA_M,
    EAST,
    FRAME_SHIFT,
    GEOID_A,
    GEOID_B,
    GRADIENT,
    HEIGHT,
    NAMES,
    NORTH,
    REJECTED,
    make_facts,
    observe,
)
from scipy.stats import chi2

from lidar_checks.ground.causes.coincidence import find_coincidence
from lidar_checks.ground.causes.diagnosis import Diagnosis, Verdict, diagnose
from lidar_checks.ground.causes.matching import match_all
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.predict import predict
from lidar_checks.ground.causes.site_facts import Antenna, GridHeights, SiteFacts

NOWHERE = {"gradient": (0.0, 0.0)}


def find(dz: Floats, **parts: object) -> Diagnosis:
    """Return the diagnosis of the made-up job."""
    changes = parts.pop("facts", {})
    assert isinstance(changes, dict)
    doubted = parts.pop("doubted", ())
    assert isinstance(doubted, tuple)
    return diagnose(observe(dz, **parts), predict(make_facts(**changes)), doubted=doubted)


def name(found: Diagnosis) -> list[str]:
    """Return the ids of what is named."""
    return [each.candidate.id.split()[0] for each in found.named]


def test_ellipsoidal_heights_are_named() -> None:
    """The rejected run: its mean is the geoid height to 4 mm, inside 3·sqrt(0.024²/14 + 0.03²)."""
    found = find(REJECTED)
    assert name(found) == ["geoid-plus"]
    height = found.named[0].height
    assert height.observed == pytest.approx(-31.908, abs=0.0005)
    assert height.predicted == pytest.approx(-31.912, abs=0.0005)
    assert height.difference == pytest.approx(0.004, abs=0.001)
    assert height.gate == pytest.approx(3 * math.sqrt(0.024**2 / 14 + 0.03**2), abs=0.0005)
    assert found.rest.mean == pytest.approx(0.004, abs=0.0005)
    assert found.rest.s == pytest.approx(0.024, abs=0.0005)
    assert found.rest.rmse == pytest.approx(0.024, abs=0.0005)
    runner_up = next(each for each in found.ranked if each is not found.named[0])
    assert runner_up.distance > 1


def test_nothing_is_named_where_nothing_is_wrong() -> None:
    """The accepted run lies 1.5 cm high, less than what is looked into."""
    found = find(ACCEPTED)
    assert found.verdict is Verdict.NO_OFFSET
    assert not found.named
    assert not found.named_patterns


def test_another_geoid_is_possible() -> None:
    """Heights by geoid B lie N_A - N_B off: -0.382 m, found -0.367, inside 0.033.

    So small an offset equals some number of the job in far more than one of twenty cases; where
    the settings contradict each other about heights, it has its name.
    """
    dz = ACCEPTED + GEOID_A - GEOID_B
    found = find(dz)
    assert found.verdict is Verdict.POSSIBLE
    assert not found.named
    assert found.coincidence > 0.05
    assert [each.candidate.id.split()[0] for each in found.tied] == ["other-geoid"]
    doubted = diagnose(observe(dz), predict(make_facts()), doubted=("height-chain",))
    assert name(doubted) == ["other-geoid"]
    assert not find(dz, doubted=("base-height",)).named
    height = doubted.named[0].height
    assert height.predicted == pytest.approx(-0.382, abs=0.001)
    assert height.observed == pytest.approx(-0.367, abs=0.001)
    assert height.gate == pytest.approx(0.033, abs=0.001)


def test_the_gate_that_is_told_is_the_one_that_decides() -> None:
    """Plan and height together: 0.037 m of height are inside, though 3 sigma are 0.033 m.

    At the gate itself, and nowhere else, a height of the same plan would be at the joint limit:
    the quantile of chi-squared with three degrees of freedom that 3 sigma have with one.
    """
    found = find(ACCEPTED + GEOID_A - GEOID_B + 0.022)
    (match,) = found.tied
    told = match.decisive_height
    assert match.is_inside
    assert match.height.gate < match.height.difference < told.gate
    assert math.sqrt(told.gate**2 * 9 / match.height.gate**2 + match.plan_square) == (
        pytest.approx(math.sqrt(chi2.ppf(chi2.cdf(9, 1), 3)), rel=1e-3)
    )


def _shift(dz: Floats, shift: Floats) -> Floats:
    """Return height residuals of a cloud that is moved: on a slope, plan moves show."""
    return dz + shift[2] - GRADIENT @ shift[:2]


@pytest.mark.parametrize("by", ["targets", "slopes"])
def test_an_untransformed_frame_is_named(by: str) -> None:
    """ITRF delivered as NAD83(2011) shows in plan, by targets or on slopes; not the ellipsoid."""
    if by == "targets":
        noise = np.linspace(-0.02, 0.02, len(NAMES))
        plan = {"dx": FRAME_SHIFT[0] + noise, "dy": FRAME_SHIFT[1] - noise}
        found = find(ACCEPTED + FRAME_SHIFT[2], **NOWHERE, **plan)
    else:
        found = find(_shift(ACCEPTED, FRAME_SHIFT))
    assert name(found) == ["frame-kept"]
    assert found.named[0].candidate.clause == "ITRF2020 coordinates were delivered as NAD83(2011)"
    assert {"CR-02", "GN-06"} == set(found.named[0].candidate.readings[0].catalogue)
    ids = [each.candidate.id.split()[0] for each in found.ranked]
    assert ids[1] == "frame-of-heights"
    ellipsoid = next(each for each in found.ranked if each.candidate.id == "geoid-plus")
    assert ellipsoid.distance > 10


def test_frames_tie_on_flat_ground_without_targets() -> None:
    """Without plan nothing tells a frame that was kept from one that only the heights are in."""
    found = find(ACCEPTED + FRAME_SHIFT[2], **NOWHERE)
    assert found.verdict is Verdict.TIED
    assert {each.candidate.id.split()[0] for each in found.tied} == {
        "frame-kept",
        "frame-of-heights",
    }
    assert not found.sees_plan
    assert any("target" in each.candidate.separates for each in found.tied)


@pytest.mark.parametrize("offset", [0.0, 0.04])
def test_a_small_geoid_height_has_no_power(offset: float) -> None:
    """Where N is 4 cm nothing tells ellipsoidal heights from orthometric ones."""
    small = {"grid": GridHeights("geoid/here.tif", "c" * 64, np.full(len(NAMES), 0.04))}
    facts = {**small, "other_grids": (), "receiver_m": None}
    found = find(ACCEPTED - ACCEPTED.mean() + offset, facts=facts)
    assert found.verdict is (Verdict.NO_POWER if offset else Verdict.NO_OFFSET)
    assert "geoid-plus" in [each.candidate.id for each in found.blind]
    assert not found.named


def test_two_causes_together_are_named() -> None:
    """Ellipsoidal heights and an antenna height that was left out, which the settings doubt."""
    possible = find(REJECTED - ANTENNA_M)
    assert possible.verdict is Verdict.TIED
    assert [each.second.candidate.id.split()[0] for each in possible.pairs] == ["antenna-omitted"]
    found = find(REJECTED - ANTENNA_M, doubted=("base-height",))
    assert name(found) == ["geoid-plus", "antenna-omitted"]
    assert found.rest.rmse == pytest.approx(0.024, abs=0.001)


def test_a_share_of_like_offsets_is_counted() -> None:
    """Numbers 1 and 3, gates 0.1 wide each side: of -2 to 2 the gate of 1 covers a twentieth."""
    facts = SiteFacts(
        east=EAST, north=NORTH, height=HEIGHT, antennas=(Antenna("F1", 1.0), Antenna("F2", 3.0))
    )
    gate = 0.1
    sigma = math.sqrt((gate / 3) ** 2 - 0.007**2)
    noise = np.where(np.arange(len(NAMES)) % 2, 1.0, -1.0)
    spread = noise / noise.std(ddof=1) * sigma * math.sqrt(len(NAMES))
    predictions = predict(facts)
    rows = [each for each in predictions.candidates if each.id.startswith("antenna-doubled")]
    ranked = match_all(observe(1.0 + spread), rows)
    assert ranked[0].height.gate == pytest.approx(gate, abs=1e-4)
    assert find_coincidence(ranked[0], ranked) == pytest.approx(0.2 / 4, abs=1e-3)


def test_a_pair_with_a_rival_has_no_name() -> None:
    """Where two predictions take away as much, what the rest equals may be chance."""
    found = find(-GEOID_A - ANTENNA_M + ACCEPTED, facts={"receiver_m": -32.6})
    assert found.verdict is Verdict.TIED
    assert not found.named
    assert [each.lead.candidate.id for each in found.pairs] == ["geoid-minus"]


def test_what_a_named_cause_leaves_is_looked_at_again() -> None:
    """With a worldwide geoid, good to a decimetre, a lever arm may hide inside the gate."""
    world = {"grid": GridHeights("egm96.tif", "e" * 64, GEOID_A, is_worldwide=True)}
    found = find(REJECTED - 0.231, facts=world)
    assert name(found) == ["geoid-plus"]
    assert "arm-doubled" in [each.candidate.id.split()[0] for each in found.further]
    assert not find(REJECTED, facts=world).further


def test_heights_in_feet_are_named() -> None:
    """A height in feet that is taken for metres is 1/0.3048 times too large."""
    found = find(HEIGHT * (1 / 0.3048 - 1) + ACCEPTED)
    assert name(found) == ["heights-times-3.28"]
    assert not found.outliers


def test_the_other_foot_is_named() -> None:
    """2 ppm of a northing of 4272 km are 8.54 m, of an easting of 552 km 1.10 m."""
    shift = -2.000004e-6 * np.array([552_240.0, 4_272_160.0, 0.0])
    found = find(_shift(ACCEPTED, shift), dx=shift[0] + ACCEPTED, dy=shift[1] - ACCEPTED)
    assert name(found) == ["foot-kind"]
    assert "US survey feet were read as international" in found.named[0].candidate.clause


def test_some_points_off_by_the_geoid_height_are_told_apart() -> None:
    """Five of the points lie in tiles of the rejected run: they are named, the others are clean."""
    found = find(np.where(np.arange(len(NAMES)) < 5, REJECTED, ACCEPTED))
    assert found.verdict is Verdict.PARTS
    answers = {part.ids: answer for part, answer in found.parts}
    assert name(answers[NAMES[:5]]) == ["geoid-plus"]
    assert answers[NAMES[5:]].verdict is Verdict.NO_OFFSET


def test_an_outlier_is_named_and_left_out() -> None:
    """One point that is 2 m off says nothing of the others."""
    dz = ACCEPTED.copy()
    dz[3] += 2.0
    found = find(dz)
    assert found.outliers == ("C04",)
    assert found.verdict is Verdict.NO_OFFSET


def test_exchanged_heights_carry_no_slope_and_are_left_out() -> None:
    """C01 and C06 stand in each other's rows, on ground where the others lie nearly level.

    The fit of heights would follow the two to a slope of nearly minus a metre a metre of height.
    """
    height = np.full(len(NAMES), 25.0) + np.linspace(-0.01, 0.01, len(NAMES))
    height[0], height[5] = 24.2, 25.9
    dz = ACCEPTED.copy()
    dz[[0, 5]] -= height[[0, 5]] - height[[5, 0]]
    observed = replace(observe(dz), height=height)
    before = diagnose(observed, predict(make_facts()))
    assert any(each.name == "height_scale" for each in before.parameters)
    found = diagnose(observed, predict(make_facts()), blunders=("C01", "C06"))
    assert found.outliers == ("C01", "C06")
    assert not found.parameters
    assert found.verdict is Verdict.NO_OFFSET


def test_a_blunder_that_lies_where_the_others_say_is_none() -> None:
    """On a tilt of 5 mm a metre the farthest point is what the tilt makes it: it stays in."""
    dz = ACCEPTED + 0.005 * (EAST - EAST.mean())
    last = NAMES[int(np.argmax(EAST))]
    found = diagnose(observe(dz), predict(make_facts()), blunders=(last,))
    assert not found.outliers
    assert any(each.name == "tilt_east" for each in found.parameters)


def test_an_offset_that_nothing_explains_stays_without_a_name() -> None:
    """0.7 m is near no prediction of this job but that of the receiver, which no log states."""
    found = find(ACCEPTED + 0.9, facts={"receiver_m": None})
    assert found.verdict is Verdict.UNEXPLAINED
    assert not found.named
    assert found.ranked[0].distance > 1


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_few_points(count: int) -> None:
    """Two points have no cause; three have constants, and no slopes below five."""
    mask = np.arange(len(NAMES)) < count
    predictions = predict(make_facts()).take(mask)
    found = diagnose(observe(REJECTED).take(mask), predictions)
    assert (found.verdict is Verdict.TOO_FEW) == (count < 3)
    assert bool(found.named) == (count >= 3)
    assert not found.parameters
    assert not found.patterns


def test_turn_and_stretch_are_named_from_targets() -> None:
    """True north for grid north: 0.374 degrees, and a cloud at ground scale: 395 ppm."""
    places = np.column_stack([observe(ACCEPTED).plan])
    noise = ACCEPTED - ACCEPTED.mean()
    turned = 0.00653 * np.column_stack([places[:, 1], -places[:, 0]])
    found = find(ACCEPTED, dx=turned[:, 0] + noise, dy=turned[:, 1] + noise)
    assert [each.pattern.id for each in found.named_patterns] == ["true-north"]
    stretched = (1 / 0.99960502 - 1) * places
    found = find(ACCEPTED, dx=stretched[:, 0] + noise, dy=stretched[:, 1] + noise)
    assert [each.pattern.id for each in found.named_patterns] == ["ground-scale"]


def test_a_tilt_of_the_geoid_tells_where_it_shows() -> None:
    """A constant equal to a strongly tilted geoid's mean is not that geoid: its slope is absent."""
    tilted = GEOID_A + 4e-4 * (np.array(observe(ACCEPTED).east) - 552_240.0)
    facts = {"grid": GridHeights("geoid/steep.tif", "d" * 64, tilted), "other_grids": ()}
    with_slope = find(ACCEPTED + tilted, facts=facts)
    assert name(with_slope) == ["geoid-plus"]
    without = find(ACCEPTED + tilted.mean(), facts=facts)
    assert "geoid-plus" not in name(without)
    wrong = next(each for each in without.ranked if each.candidate.id == "geoid-plus")
    assert wrong.slope_contradicts


def test_survey_error_widens_the_gate() -> None:
    """A survey that is only good to 5 cm makes the gate 3·sqrt(s²/n + 0.03² + 0.05²)."""
    found = find(REJECTED, sigma_vertical_m=0.05)
    expected = 3 * math.sqrt(0.024**2 / 14 + 0.03**2 + 0.05**2)
    assert found.named[0].height.gate == pytest.approx(expected, abs=0.001)
