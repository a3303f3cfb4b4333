"""The same points in other files have the same fingerprint."""

from __future__ import annotations

from pathlib import Path

import laspy
import numpy as np
import pytest

from ledger.fingerprint import DIMENSIONS, Fingerprint, combine
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.artefact import FingerprintValue
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder

SMALL = Scene(columns=2, density=2.0)
PLAIN_FORMATS = [("1.2", 1), ("1.2", 3), ("1.4", 1), ("1.4", 6), ("1.4", 7), ("1.4", 8)]


def fingerprint(path: Path, dimensions: frozenset[str] = DIMENSIONS) -> FingerprintValue:
    """Return the fingerprint of a file."""
    header = read_las_header(path)
    lattice = choose_lattice(header)
    value = Fingerprint(lattice)
    for chunk in read_points(path, header, lattice, dimensions):
        value.add(chunk)
    return value.value()


def whole(survey: SurveyBuilder) -> FingerprintValue:
    """Return the fingerprint of all tiles together."""
    return combine(fingerprint(path) for path in survey.paths)


def build(folder: Path, **layout: object) -> SurveyBuilder:
    """Return the same scene, stored in some way, without colour."""
    survey = SurveyBuilder(folder, Layout(**layout), SMALL)
    for path in survey.paths:
        # Whole degrees, which every point format can hold, each in its own way.
        angles = np.rint(survey.tile(path.name).points["scan_angle"])
        survey.set_field(path.name, "scan_angle", angles)
        for colour in ("red", "green", "blue", "nir"):
            survey.set_field(path.name, colour, 0)
    return survey


def test_las_and_laz_are_equal(tmp_path: Path) -> None:
    """Compression makes no difference, bytes do differ."""
    plain, packed = build(tmp_path / "a", compressed=False), build(tmp_path / "b")
    assert plain.path().read_bytes() != packed.path().read_bytes()
    assert whole(plain) == whole(packed)


@pytest.mark.parametrize(("version", "point_format"), PLAIN_FORMATS)
def test_point_formats_are_equal(tmp_path: Path, version: str, point_format: int) -> None:
    """The same fields in any format with GPS time give all three levels alike."""
    reference = whole(build(tmp_path / "a"))
    other = whole(build(tmp_path / "b", version=version, point_format=point_format))
    assert other == reference
    assert reference.full not in {"", reference.pulse}


def test_format_without_time_is_a_format_with_zero_times(tmp_path: Path) -> None:
    """Format 0 equals format 6 with every GPS time zero; the geometry equals that of any."""
    timeless, timed = build(tmp_path / "a", point_format=0), build(tmp_path / "b")
    assert whole(timeless).geometry == whole(timed).geometry
    assert whole(timeless).pulse != whole(timed).pulse
    for place in range(2):
        timed.all_times_zero(place)
    assert whole(timeless) == whole(timed)


@pytest.mark.parametrize(
    ("scale", "scale_z", "offset"),
    [
        (0.001, None, (0.0, 3_000_000.0, -100.0)),
        (0.001, 0.0005, (500_000.5, 3_100_000.25, 12.3)),
        (0.0005, 0.0001, None),
        (0.0001, None, (500_000.1234, 3_100_000.0, 0.0)),
    ],
)
def test_scale_and_offset_make_no_difference(
    tmp_path: Path, scale: float, scale_z: float | None, offset: tuple[float, float, float] | None
) -> None:
    """Coordinates on whole millimetres have the same fingerprint at any scale that holds them."""
    reference = build(tmp_path / "a")
    other = build(tmp_path / "b", scale=scale, scale_z=scale_z, offset=offset)
    for survey in (reference, other):
        for path in survey.paths:
            points = survey.tile(path.name).points
            survey.edit_points(
                path.name, lambda edited, kept=points: {**edited, **on_millimetres(kept)}
            )
    assert read_las_header(other.path()).offset != read_las_header(reference.path()).offset or (
        scale != 0.001
    )
    assert whole(other) == whole(reference)
    assert not whole(other).rounded


def on_millimetres(points: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the coordinates rounded to whole millimetres."""
    return {axis: np.round(points[axis], 3) for axis in "xyz"}


def test_steps_between_lattice_steps_are_told(tmp_path: Path) -> None:
    """A scale finer than the lattice is rounded, and the value says so."""
    survey = build(tmp_path, scale=0.00001)
    assert whole(survey).rounded
    survey = build(tmp_path, scale=0.0002)
    assert not whole(survey).rounded


def test_retiling_makes_no_difference(tmp_path: Path) -> None:
    """Two tiles, the same points in one file, and the same in shuffled thirds are equal."""
    survey = build(tmp_path / "a")
    tiles = [survey.tile(place).points for place in range(2)]
    joined = {name: np.concatenate([tile[name] for tile in tiles]) for name in tiles[0]}
    layout = Layout(offset=(500_000.0, 3_100_000.0, 0.0))
    one = SurveyBuilder(tmp_path / "b", layout, Scene(columns=0))
    one.add_tile("all.laz", joined, layout).shuffle(0)
    thirds = SurveyBuilder(tmp_path / "c", layout, Scene(columns=0))
    order = np.random.default_rng(4).permutation(len(joined["x"]))
    for part in range(3):
        chosen = {name: array[order[part::3]] for name, array in joined.items()}
        thirds.add_tile(f"part_{part}.laz", chosen, layout)
    assert whole(one) == whole(survey) == whole(thirds)


def test_labels_make_no_difference(tmp_path: Path) -> None:
    """CRS records, header texts, flags and dates are no part of the points."""
    survey = build(tmp_path)
    before = whole(survey)
    survey.crs(0, "EPSG:2903").software(0, "other").time_flag(0, adjusted=False).no_crs(1)
    assert whole(survey) == before


def test_partly_decoded_file_has_its_geometry(tmp_path: Path) -> None:
    """A pass that decodes some fields gives the geometry of the whole, and no other level."""
    path = build(tmp_path).path()
    part = fingerprint(path, frozenset({"classification", "gps_time"}))
    assert part.geometry == fingerprint(path).geometry
    assert (part.pulse, part.full) == ("", "")


def test_lost_tile_and_lost_class_are_seen(tmp_path: Path) -> None:
    """A reclassified point changes the full level alone; a lost point changes every level."""
    survey = build(tmp_path)
    before = whole(survey)
    survey.reclassify(0, 5, 1)
    after = whole(survey)
    assert (after.geometry, after.pulse) == (before.geometry, before.pulse)
    assert after.full != before.full
    survey.drop_points(0, 1)
    assert whole(survey).geometry != before.geometry


# Open data: files of the same points that other programs made (see tests of the shared data).


def test_copc_of_a_las_file_has_its_points(shared_data: Path) -> None:
    """LAS 1.2 format 3 and its COPC, format 7 in another order, are equal in all levels.

    PDAL test data 1.2-with-color: whole degrees of scan angle became steps of 0.006 degrees, the
    flags moved, and an octree reordered the points; both files are the work of other programs.
    """
    las = fingerprint(shared_data / "las" / "1.2-with-color.las")
    copc = fingerprint(shared_data / "las" / "1.2-with-color.copc.laz")
    assert las == copc
    assert las.full not in {"", las.pulse}
    assert las.count == 1065


def test_older_export_of_the_same_points_differs_where_it_does(shared_data: Path) -> None:
    """The same 1,065 points without colour or with extra bytes agree up to the pulse level."""
    names = ("1.2-with-color.las", "simple1_1.las", "extrabytes.las")
    values = [fingerprint(shared_data / "las" / name) for name in names]
    assert len({(value.count, value.geometry, value.pulse) for value in values}) == 1
    assert len({value.full for value in values}) == 3


def test_laz_of_a_las_file_has_its_points(shared_data: Path) -> None:
    """A LAS 1.4 file and the LAZ that somebody made of it, with records added, are equal."""
    las = fingerprint(shared_data / "las" / "test1_4.las")
    assert fingerprint(shared_data / "las" / "1_4_w_evlr.laz") == las


def test_different_clouds_differ(shared_data: Path) -> None:
    """Open files of different points all have different values on every level they have."""
    values = {}
    for path in sorted((shared_data / "las").glob("*.la[sz]")):
        value = fingerprint(path)
        las = laspy.read(path)
        assert value.count == len(las.points)
        if value.count:
            values.setdefault((value.count, float(np.sum(las.x))), set()).add(value.geometry)
    assert len(values) >= 24
    assert all(len(found) == 1 for found in values.values())
    assert len(set.union(*values.values())) == len(values)
