"""Heights of the cloud at surveyed points: against numpy, and on each side of every limit."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from ground_probe import Probe, find_residuals
from numpy.typing import NDArray

from ledger.crs import describe
from ledger.model.chunk import PointChunk
from ledger.model.specification import Specification
from ledger.model.surveypoints import PointTable
from ledger.testing import (
    METRES,
    Layout,
    Scene,
    SurveyBuilder,
    check_tally_laws,
    make_chunk,
    make_evidence,
    make_file,
    make_point,
    make_table,
    spread_points,
)
from ledger.testing.driver import fill_tally, prepare_check
from ledger.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT, Unit
from lidar_checks.ground.near_tally import KEPT, NearSummary

EAST, NORTH = 500_010.0, 3_100_010.0


def lay(
    folder: Path, slope: tuple[float, float] = (0.0, 0.0), noise: float = 0.0, density: float = 30.0
) -> SurveyBuilder:
    """Return a survey of one sloping plane that is 20 m high at the point of the tests."""
    scene = Scene(columns=1, relief=0.0, vegetation=0.0, density=density, noise=noise)
    survey = SurveyBuilder(folder / "out", Layout(), scene)
    points = survey.tile(0).points
    x, y, z = (points[name].astype(np.float64) for name in "xyz")
    survey.set_field(0, "z", z + slope[0] * (x - EAST) + slope[1] * (y - NORTH))
    return survey


def at(height: float = 20.0, **parts: Any) -> PointTable:
    """Return a table of one point in the middle of the tile."""
    return make_table([make_point("P", EAST, NORTH, height, **parts)])


def test_the_plane_is_that_of_numpy(tmp_path: Path) -> None:
    """Height, slopes and scatter equal those of numpy.linalg.lstsq over the same points.

    Tolerance: half a lattice step, 0.05 mm; the points are stored to a millimetre.
    """
    survey = lay(tmp_path, slope=(0.05, -0.03), noise=0.01)
    chunk = survey.chunk(0)
    x, y, z = (axis / 10_000 for axis in (chunk.x, chunk.y, chunk.z))
    near = np.hypot(x - EAST, y - NORTH) <= 0.5
    u, v, w = x[near] - EAST, y[near] - NORTH, z[near]
    design = np.column_stack([np.ones(len(u)), u, v])
    plane, left, _, _ = np.linalg.lstsq(design, w, rcond=None)
    (found,) = find_residuals(survey, at(19.9)).values()
    assert found.count == near.sum()
    assert found.dz == pytest.approx(plane[0] - 19.9, abs=5e-5)
    assert found.gradient == pytest.approx(tuple(plane[1:]), abs=2e-4)
    spread = math.sqrt(left[0] / (near.sum() - 3))
    assert found.roughness_m == pytest.approx(spread, abs=5e-5)


def test_the_nearest_point_has_no_say(tmp_path: Path) -> None:
    """On a slope the height is that of the plane at the point, wherever the cloud's points lie."""
    survey = lay(tmp_path, slope=(0.09, 0.0), density=8.0)
    (found,) = find_residuals(survey, at()).values()
    assert found.dz == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("error", [0.25, -0.031, 0.0])
def test_the_sign_is_cloud_less_survey(tmp_path: Path, error: float) -> None:
    """A cloud that lies too high by a length gives that length at every point."""
    scene = Scene(noise=0.0)
    survey = SurveyBuilder(tmp_path / "out", Layout(), scene)
    found = find_residuals(survey, make_table(spread_points(scene, error=error)))
    assert len(found) == 12
    for each in found.values():
        # The ground of the scene is no plane: its curve within a circle is below 5 mm.
        assert each.dz == pytest.approx(error, abs=0.005)


@pytest.mark.parametrize(
    ("slope", "told"),
    [
        ((0.0995, 0.0), ""),
        ((0.105, 0.0), "the ground slopes 10% there, more than 10%"),
        ((0.2, 0.15), "the ground slopes 25% there, more than 10%"),
    ],
)
def test_a_slope_is_refused(tmp_path: Path, slope: tuple[float, float], told: str) -> None:
    """Ground steeper than the limit gives no height, and says why; its slope stays known."""
    (found,) = find_residuals(lay(tmp_path, slope=slope), at()).values()
    assert (found.reason, found.dz is None) == (told, bool(told))
    assert found.gradient == pytest.approx(slope, abs=2e-3)


@pytest.mark.parametrize(("noise", "refused"), [(0.024, False), (0.037, True)])
def test_scatter_is_refused(tmp_path: Path, noise: float, *, refused: bool) -> None:
    """A cloud that scatters more than the limit about the plane gives no height."""
    (found,) = find_residuals(lay(tmp_path, noise=noise, density=100), at()).values()
    assert (found.dz is None) is refused
    assert ("scatters" in found.reason) is refused
    (grass,) = find_residuals(
        lay(tmp_path / "g", noise=noise, density=100), at(stratum="vegetated")
    ).values()
    assert grass.dz is not None, "rough ground is what a point in vegetation is for"


def test_a_circle_grows_where_the_cloud_is_thin(tmp_path: Path) -> None:
    """Ten points are sought in half a metre first, then further out, and not beyond two metres."""
    thick = find_residuals(lay(tmp_path / "a", density=30), at())["P"]
    thin = find_residuals(lay(tmp_path / "b", density=3), at())["P"]
    sparse = find_residuals(lay(tmp_path / "c", density=0.25), at())["P"]
    assert (thick.radius_m, thin.radius_m, sparse.radius_m) == (0.5, 1.0, 2.0)
    assert thin.count >= 10
    assert thin.dz == pytest.approx(0.0, abs=1e-3)
    assert sparse.dz is None
    assert sparse.reason == (f"{sparse.count} points of the ground class within 2 m, fewer than 10")


def test_points_of_two_tiles_count_together(tmp_path: Path) -> None:
    """A point on the edge of two tiles stands on both; one of them is one side only."""
    scene = Scene(columns=2, relief=0.0, vegetation=0.0, density=20)
    survey = SurveyBuilder(tmp_path / "out", Layout(), scene)
    edge = make_table([make_point("P", scene.origin[0] + scene.tile_size, NORTH, 20.0)])
    found = find_residuals(survey, edge)["P"]
    assert found.files == ("tile_0_0.laz", "tile_1_0.laz")
    assert found.dz == pytest.approx(0.0, abs=1e-3)
    survey.path(1).unlink()
    one = find_residuals(survey.folder, edge)["P"]
    assert one.dz is None or one.radius_m > 0.5
    beside = make_table([make_point("P", scene.origin[0] + scene.tile_size + 0.45, NORTH, 20.0)])
    assert find_residuals(survey.folder, beside)["P"].reason == (
        "the points of the cloud lie to one side of it"
    )


def test_a_point_off_the_cloud_is_told(tmp_path: Path) -> None:
    """Nothing of the cloud near is another answer than too little of it."""
    away = make_table([make_point("P", 499_000.0, NORTH, 20.0)])
    found = find_residuals(lay(tmp_path), away)["P"]
    assert found.is_off_cloud
    assert found.reason == "no point of the cloud within 2 m"


def test_other_classes_on_the_surface_are_told(tmp_path: Path) -> None:
    """Where most points of the surface are not of the ground class, its plane is a part of it."""
    survey = lay(tmp_path, density=60)
    points = survey.tile(0).points
    rng = np.random.default_rng(3)
    for share, told in ((0.4, False), (0.7, True)):
        other = rng.random(len(points["x"])) < share
        survey.set_field(0, "classification", np.where(other, 1, 2).astype(np.uint8))
        found = find_residuals(survey, at())["P"]
        assert (found.dz is None) is told
        assert ("not of the ground class" in found.reason) is told


def test_without_a_ground_class_the_lowest_surface_stands_in(tmp_path: Path) -> None:
    """Grass above the ground does not lift the height; the residual says what it was taken to."""
    survey = lay(tmp_path, slope=(0.03, 0.02), noise=0.01, density=80)
    points = survey.tile(0).points
    rng = np.random.default_rng(5)
    tall = rng.random(len(points["x"])) < 0.35
    z = points["z"].astype(np.float64)
    survey.set_field(0, "classification", 1)
    survey.set_field(0, "z", z + np.where(tall, rng.uniform(0.15, 1.0, len(z)), 0.0))
    found = find_residuals(survey, at())["P"]
    assert found.surface == "lowest surface"
    assert found.dz == pytest.approx(0.0, abs=0.01)
    dense = rng.random(len(z)) < 0.8
    survey.set_field(0, "z", z + np.where(dense, rng.uniform(0.15, 1.0, len(z)), 0.0))
    hidden = find_residuals(survey, at())["P"]
    assert hidden.dz is None


def test_noise_and_withheld_points_have_no_say(tmp_path: Path) -> None:
    """Classes 7 and 18 and withheld points are no surface (LAS 1.4 R15, table 17)."""
    survey = lay(tmp_path, density=60)
    points = survey.tile(0).points
    z = points["z"].astype(np.float64)
    rng = np.random.default_rng(2)
    noise, withheld = rng.random(len(z)) < 0.2, rng.random(len(z)) < 0.2
    survey.set_field(0, "z", z + np.where(noise | withheld, 5.0, 0.0))
    survey.set_field(0, "classification", np.where(noise, 7, 2).astype(np.uint8))
    survey.set_field(0, "withheld", withheld.astype(np.uint8))
    assert find_residuals(survey, at())["P"].dz == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("unit", [US_SURVEY_FOOT, INTERNATIONAL_FOOT])
def test_a_table_in_feet_is_converted_exactly(tmp_path: Path, unit: Unit) -> None:
    """Feet of either kind become metres by their exact factor: 2 ppm of a northing are 6 m here."""
    survey = lay(tmp_path)
    factor = float(unit.factor)
    table = make_table(
        [make_point("P", EAST / factor, NORTH / factor, 19.5 / factor)],
        declared={"unit_horizontal": unit.name, "unit_vertical": unit.name},
    )
    found = find_residuals(survey, table)["P"]
    assert found.east_m == pytest.approx(EAST, abs=1e-4)
    assert found.dz == pytest.approx(0.5, abs=1e-3)


def test_targets_picked_in_the_cloud_give_plan_residuals(tmp_path: Path) -> None:
    """Easting and northing of the picked target less those of the point, metres."""
    picked = make_point("picked", EAST + 0.03, NORTH - 0.02, 20.0)
    found = find_residuals(lay(tmp_path), at(measured=(picked.east, picked.north, None)))["P"]
    assert found.dx == pytest.approx(0.03)
    assert found.dy == pytest.approx(-0.02)


def make_patch(count: int) -> list[PointChunk]:
    """Return a dense patch of ground with other classes among it, in several chunks."""
    rng = np.random.default_rng(11)
    x, y = EAST + rng.uniform(-3, 3, count), NORTH + rng.uniform(-3, 3, count)
    fields: dict[str, NDArray[Any]] = {
        "x": x,
        "y": y,
        "z": 20 + rng.normal(0, 0.01, count),
        "classification": rng.choice([1, 2, 2, 2, 5, 7], count).astype(np.uint8),
        "return_number": np.ones(count, np.uint8),
        "number_of_returns": rng.choice([1, 2], count).astype(np.uint8),
        "point_source_id": rng.integers(1, 4, count).astype(np.uint16),
        "gps_time": rng.uniform(3e8, 3.1e8, count),
        "withheld": (rng.random(count) < 0.05).astype(np.uint8),
    }
    return [make_chunk({name: array[i::3] for name, array in fields.items()}) for i in range(3)]


@pytest.mark.parametrize("count", [300, 40_000])
def test_the_tally_keeps_the_laws(count: int) -> None:
    """Whatever the order, the chunks and the processes, and however dense the cloud."""
    near = [make_point("A", EAST, NORTH, 20.0), make_point("B", EAST + 0.3, NORTH, 20.0)]
    evidence = make_evidence(
        make_file(),
        lattice=METRES,
        tables=(make_table(near),),
        specification=Specification.model_validate_json(
            '{"coordinates": {"unit": {"horizontal": "metre", "vertical": "metre"}}}'
        ),
        specified_crs=describe("EPSG:6346"),
    )
    check_tally_laws(Probe(), make_patch(count), evidence=evidence)


def test_memory_does_not_grow_with_the_cloud() -> None:
    """Each place keeps so many of 40,000 points a ring and group, and counts them all."""
    probe = Probe()
    evidence = make_evidence(
        make_file(),
        tables=(make_table([make_point("A", EAST, NORTH, 20.0)]),),
        specification=Specification.model_validate_json(
            '{"coordinates": {"unit": {"horizontal": "metre"}}}'
        ),
        specified_crs=describe("EPSG:6346"),
    )
    plan = prepare_check(probe, evidence)
    chunks = make_patch(40_000)
    summary = cast("NearSummary", fill_tally(probe, plan, make_file(), chunks).close())
    assert len(summary.points) <= KEPT * 2 * 4
    whole = [
        np.count_nonzero(
            (np.hypot(c.x / 1e4 - EAST, c.y / 1e4 - NORTH) <= 0.5)
            & (c["classification"] == 2)
            & (c["withheld"] == 0)
        )
        for c in chunks
    ]
    assert summary.spots[0, 0].ground == sum(whole)
