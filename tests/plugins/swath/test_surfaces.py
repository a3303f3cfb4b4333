"""Two surfaces in one swath, and how thick a surface is."""

from __future__ import annotations

import numpy as np
import pytest
from judged_flights import judge_flight, list_grades
from made_cloud import Floats
from made_flight import Flight, Shape

from ledger.contract.check import Grade
from lidar_checks.swath.double_surfaces import DoubleSurfaces
from lidar_checks.swath.surface_thickness import SurfaceThickness, compute_precision


def _ghost(share: float, apart: float, where: float) -> Shape:
    """Return a second surface for a share of the points west of a line."""

    def rise(x: Floats, _: Floats) -> Floats:
        chosen = np.random.default_rng(3).random(len(x)) < share
        return np.where(chosen & (x < where), apart, 0.0)

    return rise


@pytest.mark.parametrize(
    ("apart", "where", "found"), [(0.15, 80, 1), (0.15, 8, 1), (0.15, 1.0, 0), (0.07, 80, 0)]
)
def test_two_surfaces_in_one_swath_are_ghosting(apart: float, where: float, found: int) -> None:
    """Two surfaces in a tenth of the ground are found; in hardly any, or closer, they are not."""
    flight = Flight(passes=1, noise=0.01, tile=40, raise_by={1: _ghost(0.5, apart, where)})
    findings = judge_flight(DoubleSurfaces(), flight)
    assert len(list_grades(findings)) == found
    if found:
        (finding,) = findings
        assert finding.grade is Grade.MINOR
        assert "both of swath 1" in finding.sentence
        assert (finding.where.file in {"tile_0_0.laz", "tile_0_1.laz"}) or where > 40
        assert finding.where.xy is not None


@pytest.mark.parametrize(("apart", "found"), [(0.078, 0), (0.082, 1)])
def test_surfaces_have_to_lie_apart(apart: float, found: int) -> None:
    """Without noise the distance just inside of the criterion conforms."""
    flight = Flight(passes=1, noise=0.0, raise_by={1: _ghost(0.5, apart, 80)})
    findings = judge_flight(DoubleSurfaces(), flight, apart_min_m=0.08)
    assert len(list_grades(findings)) == found


@pytest.mark.parametrize(("step", "found"), [(1e-4, 0), (-1e-4, 1)])
def test_the_share_of_cells_is_the_criterion(step: float, found: int) -> None:
    """Against the share that is there, a criterion just above and just below it."""
    flight = Flight(passes=1, noise=0.01, tile=40, raise_by={1: _ghost(0.5, 0.15, 24)})
    (finding,) = judge_flight(DoubleSurfaces(), flight)
    share = float(finding.observed) / 100
    assert 0.07 < share < 0.3  # of three tenths a third is seen, see `two_surfaces`
    findings = judge_flight(DoubleSurfaces(), flight, max_share_of_cells=share + step)
    assert len(list_grades(findings)) == found


def test_the_published_cell_of_single_pass_precision() -> None:
    """USGS LBS 2025 rev. A: range 0.09 m, slope 0.02, cell 2 m give 0.03344 m [computed]."""
    precision = compute_precision(np.array([0.09, 0.01]), np.array([0.02, 0.02]), 2.0)
    assert precision == pytest.approx([0.03344, 0.0])


@pytest.mark.parametrize(("thick", "found"), [(0.059, 0), (0.061, 1)])
def test_the_thickness_of_a_pass_is_its_range(thick: float, found: int) -> None:
    """Points at the bottom and the top of a level sheet give its thickness as RMSD."""
    flight = Flight(density=40.0, noise=0.0, raise_by={i: _ghost(0.5, thick, 80) for i in (1, 2)})
    findings = judge_flight(SurfaceThickness(), flight, rmsd_max_m=0.06)
    assert list_grades(findings) == [Grade.MINOR] * found
    assert float(findings[0].observed) == pytest.approx(thick, abs=5e-4)


def test_thickness_takes_cells_of_another_size() -> None:
    """Cells of 1 m of a dense cloud are measured beside those of the other checks."""
    flight = Flight(width=40, height=40, density=40.0)
    (finding,) = judge_flight(SurfaceThickness(), flight, rmsd_max_m=0.2, cell_m=1.0)
    assert "cells of 1 m" in finding.sentence


def test_thickness_without_a_criterion_is_not_assessed() -> None:
    """Only the customer or a profile can say how thick a surface may be."""
    assert SurfaceThickness.criteria.model_fields["rmsd_max_m"].is_required()
