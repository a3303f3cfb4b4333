"""All swath checks: honest flights are left alone, and what cannot be judged is not assessed."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from judged_flights import constant, judge_flight, list_grades
from made_cloud import Delivery, Floats, make_crs
from made_flight import Flight

from ledger.contract.check import Grade, Outcome
from ledger.model.georeferencing import CrsKind
from ledger.units import US_SURVEY_FOOT
from lidar_checks.swath.double_surfaces import DoubleSurfaces
from lidar_checks.swath.flyers import Flyers
from lidar_checks.swath.point_source_ids import PointSourceIds
from lidar_checks.swath.surface_thickness import SurfaceThickness
from lidar_checks.swath.swath_check import SwathCheck
from lidar_checks.swath.swath_overlap import SwathOverlap
from lidar_checks.swath.swath_step import SwathStep

CHECKS: tuple[tuple[SwathCheck, dict[str, Any]], ...] = (
    (SwathStep(), {}),
    (DoubleSurfaces(), {}),
    (SurfaceThickness(), {"rmsd_max_m": 0.06}),
    (Flyers(), {}),
    (SwathOverlap(), {"min_share": 0.5}),
    (PointSourceIds(), {}),
)


def rolling(x: Floats, y: Floats) -> Floats:
    """Return gentle hills."""
    return np.asarray(1.5 * np.sin(x / 15) * np.cos(y / 12))


HONEST: dict[str, Flight] = {
    "flat": Flight(),
    "rolling": Flight(ground=rolling),
    "8 degrees": Flight(ground=lambda x, y: 0.14 * x + 0 * y),
    "steep": Flight(ground=lambda x, y: 0.7 * x + 0 * y),
    "forest": Flight(canopy=0.8),
    "some trees": Flight(canopy=0.2),
    "quarry face inside a tile": Flight(ground=lambda x, _: np.where(x < 41, 0.0, -8.0)),
    "quarry face at a tile edge": Flight(ground=lambda x, _: np.where(x < 40, 0.0, -8.0), tile=40),
    "kerbs": Flight(ground=lambda x, _: np.asarray(0.12 * np.floor(x / 3.3), dtype=np.float64)),
    "low walls": Flight(ground=lambda x, _: np.asarray(0.4 * (x % 6.1 < 0.4), dtype=np.float64)),
    "rough fields": Flight(noise=0.05),
    "tiles": Flight(tile=20),
    "feet": Flight(unit=US_SURVEY_FOOT),
    "thin": Flight(density=2.0),
}


@pytest.mark.parametrize("name", HONEST)
def test_honest_flights_are_left_alone(name: str) -> None:
    """Whatever the ground does on its own, no swath check speaks against it."""
    for check, criteria in CHECKS:
        if isinstance(check, SurfaceThickness):
            criteria = {"rmsd_max_m": 0.25}  # noqa: PLW2901 - rough fields are thick by themselves
        findings = judge_flight(check, HONEST[name], **criteria)
        assert findings, check.id
        assert list_grades(findings) == [], (check.id, [f.sentence for f in findings])


def test_water_and_vegetation_are_no_surfaces() -> None:
    """A lake that rose between two passes is no step (LBS 2025 rev. A: water is left out)."""
    flight = Flight(raise_by={2: constant(0.5)})
    points = flight.make_points()
    points["classification"][:] = 9
    for check in (SwathStep(), DoubleSurfaces()):
        (finding,) = flight.deliver(points).drive(check)
        assert finding.outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize("density", [20.0, 600.0, 2000.0])
def test_dense_clouds_are_looked_at_as_others_are(density: float) -> None:
    """A step is found whether a file could keep one patch of all its points or hundreds."""
    flight = Flight(width=32, height=32, density=density, raise_by={2: constant(0.12)})
    (step,) = judge_flight(SwathStep(), flight)
    assert step.grade is Grade.MINOR
    assert "+0.120 m, nearly the same everywhere" in step.sentence
    (double,) = judge_flight(DoubleSurfaces(), flight)
    assert double.grade is Grade.MINOR
    (thick,) = judge_flight(SurfaceThickness(), flight, rmsd_max_m=0.15)
    assert thick.outcome is Outcome.CONFORMS
    assert 0.05 < float(thick.observed) < 0.15


@pytest.mark.parametrize(("check", "criteria"), CHECKS, ids=lambda each: getattr(each, "id", ""))
def test_degrees_and_no_points_are_not_assessed(
    check: SwathCheck, criteria: dict[str, Any]
) -> None:
    """Files in degrees have no lengths; without points nothing is said."""
    delivery = Flight(width=20, height=20, tile=20).deliver()
    path, file = next(iter(delivery.files.items()))
    crs = make_crs(None, CrsKind.GEOGRAPHIC)
    delivery.files[path] = dataclasses.replace(file, crs=crs)
    (finding,) = delivery.drive(check, criteria)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("projected coordinates",)
    (finding,) = Delivery().drive(check, criteria)
    assert finding.outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize(("check", "criteria"), CHECKS, ids=lambda each: getattr(each, "id", ""))
def test_the_order_of_files_leaves_no_trace(check: SwathCheck, criteria: dict[str, Any]) -> None:
    """Files handed over in another order give the same findings."""
    delivery = Flight(tile=40, raise_by={2: constant(0.1)}).deliver()
    turned = Delivery(dict(reversed(delivery.chunks.items())), delivery.files)
    assert list(delivery.drive(check, criteria)) == list(turned.drive(check, criteria))
