"""The step at a seam: exact on planes, blind to slopes, not fooled by banks beside the border."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from lidar_checks.cloud.seam_step import Side, Step, measure_step

Floats = NDArray[np.float64]
LIMIT = 0.05


def make_sides(
    ground: Callable[[Floats, Floats], Floats],
    raised: float = 0.0,
    *,
    length: float = 40.0,
    noise: float = 0.0,
    seed: int = 1,
) -> tuple[Side, Side]:
    """Return both sides of a border at 0, one point in each cell of 0.5 m, the low one raised."""
    random = np.random.default_rng(seed)
    sides = []
    for sign, lift in ((-1, raised), (1, 0.0)):
        cells = np.stack(np.meshgrid(np.arange(4), np.arange(int(length * 2))), -1).reshape(-1, 2)
        place = (cells + random.uniform(0.05, 0.95, cells.shape)) * 0.5
        across, along = sign * place[:, 0], place[:, 1]
        height = ground(across, along) + random.normal(0, 1, len(across)) * noise + lift
        sides.append(Side(across, along, height))
    return sides[0], sides[1]


def measure(sides: tuple[Side, Side]) -> Step:
    """Return the step with windows of 2 m."""
    return measure_step(*sides, 2.0, LIMIT)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(-1.5, 1.5),
    st.floats(-1.5, 1.5),
    st.floats(-40, 40),
    st.floats(-100, 3000),
)
def test_a_step_on_a_plane_is_found_to_the_millimetre(
    across_slope: float, along_slope: float, raised: float, height: float
) -> None:
    """On any slope up to 56 degrees the step is what was put in."""
    sides = make_sides(lambda u, v: height + across_slope * u + along_slope * v, raised)
    step = measure(sides)
    assert step.windows == 20
    assert step.delta_m == pytest.approx(raised, abs=1e-6)
    assert step.mad_m == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("raised", [0.0499, 0.0501])
def test_windows_step_above_the_limit_alone(raised: float) -> None:
    """A step just inside the limit steps in no window, one just outside in all."""
    step = measure(make_sides(lambda u, v: 100 + 0.2 * u - 0.1 * v, raised))
    assert step.stepping == (1.0 if raised > LIMIT else 0.0)


@pytest.mark.parametrize(
    ("name", "ground"),
    [
        ("ridge", lambda u, v: 100 - np.abs(u)),
        ("ditch", lambda u, v: 100 + 0.7 * np.abs(u)),
        ("one-sided bank", lambda u, v: 100 + np.where(u > 0, 1.2 * u, 0.0)),
        ("bend", lambda u, v: 100 + 0.02 * u**2),
    ],
)
def test_ground_that_bends_at_the_border_is_no_step(
    name: str, ground: Callable[[Floats, Floats], Floats]
) -> None:
    """A ridge, a ditch, a bank or a bend along the border leaves no step."""
    assert abs(measure(make_sides(ground)).delta_m) < 0.01, name


@pytest.mark.parametrize("place", [0.4, 0.6, 1.0, 1.4, 1.6])
@pytest.mark.parametrize("height", [-8.0, 0.3, 8.0])
def test_a_wall_inside_the_strip_is_no_step_at_the_border(place: float, height: float) -> None:
    """A cliff beside the border spoils the plane, which is seen, and few windows step."""
    sides = make_sides(lambda u, v: np.where(u > place, 100 + height, 100.0))
    assert measure(sides).stepping < 0.3


def test_a_wall_on_the_border_steps() -> None:
    """A cliff exactly on the border cannot be told from a raised tile by one seam."""
    step = measure(make_sides(lambda u, v: np.where(u > 0, 108.0, 100.0)))
    assert (step.delta_m, step.stepping) == pytest.approx((-8.0, 1.0))


def test_a_tree_or_a_wall_across_the_seam_moves_nothing() -> None:
    """A quarter of the seam under canopy changes neither the median nor the MAD much."""

    def ground(across: Floats, along: Floats) -> Floats:
        canopy = (along > 10) & (along < 20)
        return 100 + np.where(canopy, 5 * np.sin(across * 40) ** 2, 0.0)

    step = measure(make_sides(ground, 0.2, noise=0.01))
    assert step.delta_m == pytest.approx(0.2, abs=0.02)
    assert step.mad_m < 0.02
    assert step.stepping >= 0.6


@pytest.mark.parametrize("seed", range(20))
def test_noise_alone_makes_no_step(seed: int) -> None:
    """Heights with a noise of 5 cm and no step stay below four deviations."""
    step = measure(make_sides(lambda u, v: 100 + 0.3 * u, noise=0.05, seed=seed))
    assert abs(step.delta_m) <= max(LIMIT, 4 * step.mad_m)
    assert step.stepping < 0.3


def test_too_few_points_carry_no_plane() -> None:
    """Five points, points in one line, and points far from the border give no window."""
    low, high = make_sides(lambda u, v: 100 + 0 * u)
    few = Side(low.across[:5], low.along[:5], low.height[:5])
    line = Side(np.full_like(low.across, -1.0), low.along, low.height)
    narrow = Side(-1.9 + low.across * 0.01, low.along, low.height)
    none = Side(*np.empty((3, 0)))
    for side in (few, line, narrow, none):
        assert measure_step(side, high, 2.0, LIMIT) == Step(0, 0.0, 0.0, 0.0)
        assert measure_step(high, side, 2.0, LIMIT).windows == 0


@pytest.mark.parametrize(("level", "is_told"), [(10.0, True), (8.0, False)])
def test_a_pit_that_ends_on_the_border_leaves_a_level_stretch(
    level: float, *, is_told: bool
) -> None:
    """Five windows of 2 m that do not step are told beside the step of the others."""
    step = measure(make_sides(lambda u, v: np.where((u > 0) & (v > level), -4.0, 0.0)))
    assert step.delta_m == pytest.approx(4.0)
    assert (step.level_m <= LIMIT) is is_told


def test_a_step_that_grows_along_the_seam_has_no_level_stretch() -> None:
    """A tilted tile meets its neighbour at one end, and is wrong all the same."""
    assert measure(make_sides(lambda u, v: 0.02 * v * (u > 0))).level_m == np.inf
