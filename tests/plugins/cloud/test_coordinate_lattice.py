"""Coordinate lattice: 32-bit floats and coarse rounding are found, fine steps are left alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made_cloud import Delivery, make_crs, make_points

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws
from ledger.units import INTERNATIONAL_FOOT
from lidar_checks.cloud.coordinate_lattice import CoordinateLattice

EAST, NORTH = 552_000.0, 4_272_000.0


def make_places(count: int = 2000, east: float = EAST, north: float = NORTH) -> Any:
    """Return places at random, stored to the millimetre."""
    random = np.random.default_rng(3)
    x, y = random.uniform(0, 300, (2, count))
    return np.round(east + x, 3), np.round(north + y, 3), np.round(random.uniform(90, 99, count), 3)


def judge(x: Any, y: Any, z: Any, **parts: Any) -> Finding:
    """Return what the check finds in one tile."""
    criteria = parts.pop("criteria", None)
    delivery = Delivery()
    delivery.add("a.laz", make_points(x, y, z), **parts)
    (found,) = delivery.drive(CoordinateLattice(), criteria)
    return found


def as_float(values: Any) -> Any:
    """Return values sent through a 32-bit float and rounded to the millimetre."""
    return np.round(values.astype(np.float32).astype(np.float64), 3)


def test_fine_coordinates_conform() -> None:
    """Millimetres are as fine as the file stores, and are said to be."""
    found = judge(*make_places())
    assert found.outcome is Outcome.CONFORMS
    assert "X 0.001 m, Y 0.001 m, Z 0.001 m" in found.sentence


@pytest.mark.parametrize(
    ("axis", "step"),
    [("X", 0.0625), ("Y", 0.5)],  # IEEE 754: 2^19 < 552,000 < 2^20, and 2^22 < 4,272,000 < 2^23
)
def test_32_bit_floats_are_named_with_their_step(axis: str, step: float) -> None:
    """One axis alone that went through a float is enough."""
    x, y, z = make_places()
    found = judge(as_float(x) if axis == "X" else x, as_float(y) if axis == "Y" else y, z)
    assert found.grade is Grade.MAJOR
    assert found.sentence == (
        f"a.laz: every {axis} is a 32-bit float, which moves in steps of {step:g} m."
    )


def test_one_point_beside_the_steps_is_no_float() -> None:
    """Every point has to lie on them."""
    x, y, z = make_places()
    y = as_float(y)
    y[1234] += 0.123
    assert judge(x, y, z).outcome is Outcome.CONFORMS


def test_floats_round_a_local_origin_do_no_harm() -> None:
    """Near the origin a float is finer than a millimetre."""
    x, y, z = make_places(east=0.0, north=0.0)
    assert judge(as_float(x), as_float(y), z).outcome is Outcome.CONFORMS


@pytest.mark.parametrize(("step", "outcome"), [(0.01, "conforms"), (0.02, "nonconforming")])
def test_rounding_just_inside_and_just_outside(step: float, outcome: str) -> None:
    """Two centimetres are coarser than the limit of one."""
    x, y, z = make_places()
    found = judge(x, y, np.round(z / step) * step)
    assert found.outcome == outcome
    assert found.grade is (Grade.MINOR if step > 0.01 else None)


def test_whole_metres_are_rounding_and_no_float() -> None:
    """They fit a float too, but its own steps of half a metre are not seen."""
    x, y, z = make_places()
    found = judge(x, np.round(y), z)
    assert found.grade is Grade.MINOR
    assert "whole multiple of 1 m" in found.sentence


def test_feet_are_judged_in_metres() -> None:
    """A step of 0.03 ft is 9 mm."""
    x, y, z = make_places()
    feet = make_crs(INTERNATIONAL_FOOT)
    assert judge(x, y, np.round(z / 0.03) * 0.03, crs=feet).outcome is Outcome.CONFORMS
    assert judge(x, y, np.round(z / 0.04) * 0.04, crs=feet).outcome is Outcome.NONCONFORMING


def test_degrees_and_few_points_are_not_judged() -> None:
    """Neither is a pass."""
    x, y, z = make_places()
    assert judge(x, y, z, crs=make_crs(None, CrsKind.GEOGRAPHIC)).outcome is Outcome.NOT_ASSESSED
    assert judge(x[:50], y[:50], z[:50]).outcome is Outcome.INCONCLUSIVE
    assert judge([], [], []).outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize("step", [0.001, 0.5])
def test_the_laws(step: float) -> None:
    """Any slice, order, split and merge gives the same steps, whichever point came first."""
    x, y, z = make_places(400)
    points = make_points(x, np.round(y / step) * step, z)
    check_tally_laws(CoordinateLattice(), [points])
