"""The fingerprint of files: the same points, however they are stored, and no others.

Held against: a reading of the bytes by LAS 1.4 R15 alone (`records`), and pairs of files in which
other software stored the same points in two ways.
"""

from __future__ import annotations

import math
import random
import shutil
import struct
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import laspy
import numpy as np
import pytest
from open_data import PointFacts
from plain import Row, compute_value, read_table
from records import FORMATS, read_place, read_records

from ledger.errors import ShortFileError
from ledger.fingerprint import DIMENSIONS, Fingerprint, combine
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.artefact import FingerprintValue
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder
from ledger.testing.scene import Points

TABLE: tuple[Row, ...] = read_table()
SMALL = Scene(columns=1, density=1.0)
REAL = Path(__file__).resolve().parents[1] / "real"
NOTHING = "0" * 32


def read_value(path: Path, dimensions: frozenset[str] = DIMENSIONS) -> FingerprintValue:
    """Return the fingerprint of a file, as an audit takes it."""
    header = read_las_header(path)
    lattice = choose_lattice(header)
    fingerprint = Fingerprint(lattice)
    for chunk in read_points(path, header, lattice, dimensions, chunk_size=257):
        fingerprint.add(chunk)
    return fingerprint.value()


def make_survey(folder: Path, layout: Layout, **fields: float) -> SurveyBuilder:
    """Return one small tile on whole millimetres with whole degrees, and fields as given."""
    survey = SurveyBuilder(folder, layout, SMALL)

    def settle(points: Points) -> None:
        for axis in "xyz":
            points[axis] = np.round(points[axis].astype(np.float64), 3)
        points["scan_angle"] = np.rint(points["scan_angle"].astype(np.float64))
        count = len(points["x"])
        points["user_data"] = (np.arange(count) % 251).astype(np.uint8)
        points["withheld"] = (np.arange(count) % 7 == 0).astype(np.uint8)
        points["scan_direction_flag"] = (np.arange(count) % 2).astype(np.uint8)
        for name, value in fields.items():
            points[name] = np.full(count, value)

    return survey.edit_points(0, settle)


# The bytes themselves.


@pytest.mark.parametrize("point_format", FORMATS)
def test_every_bit_of_every_format_is_read_as_the_page_says(
    tmp_path: Path, point_format: int
) -> None:
    """Records of random bits give what their bytes give by the standard's tables and the page."""
    version = "1.4" if point_format >= 6 else "1.3"
    layout = Layout(version, point_format, compressed=False, extra={"Lift": "3int16"})
    survey = SurveyBuilder(tmp_path, layout, Scene(columns=1, density=0.2))
    survey.damage(0, scramble_records)
    extra = [(f"Lift/i2/{place}", "H") for place in range(3)]
    points = list(read_records(survey.path(), extra))
    assert len(points) > 80
    value = read_value(survey.path())
    assert value.count == len(points)
    expected = compute_value(points, TABLE)
    assert {level: getattr(value, level) for level in expected} == expected


def scramble_records(path: Path) -> None:
    """Overwrite all records with random bits; coordinates keep the upper byte they had."""
    content = bytearray(path.read_bytes())
    offset, _, length, count = read_place(bytes(content))
    noise = random.Random(11).randbytes(length * count)
    for start in range(0, length * count, length):
        record = bytearray(noise[start : start + length])
        for axis in (3, 7, 11):
            record[axis] = content[offset + start + axis]
        content[offset + start : offset + start + length] = record
    path.write_bytes(content)


def test_undescribed_extra_bytes_are_one_dimension(tmp_path: Path) -> None:
    """Extra bytes that no record describes count as bytes of `ExtraBytes`, as the page says."""
    layout = Layout(compressed=False, extra={"Lift": "int16"})
    survey = make_survey(tmp_path, layout, Lift=300)
    described = read_value(survey.path())
    content = survey.path().read_bytes()
    assert content.count(b"LASF_Spec\0") == 1
    survey.path().write_bytes(content.replace(b"LASF_Spec\0", b"Someone_s\0"))
    extra = [("ExtraBytes/u1/0", "B"), ("ExtraBytes/u1/1", "B")]
    expected = compute_value(read_records(survey.path(), extra), TABLE)
    undescribed = read_value(survey.path())
    assert undescribed.full == expected["full"] != described.full
    assert undescribed.pulse == described.pulse


def test_second_dimension_of_a_name_is_told_apart(tmp_path: Path) -> None:
    """Two dimensions of one name are two words, the second with a sign behind its name."""
    layout = Layout(compressed=False, extra={"Lift": "int16", "Lifu": "uint8"})
    survey = make_survey(tmp_path, layout, Lift=300, Lifu=7)
    content = survey.path().read_bytes()
    assert content.count(b"Lifu\0") == 1
    survey.path().write_bytes(content.replace(b"Lifu\0", b"Lift\0"))
    points = list(read_records(survey.path(), [("Lift/i2/0", "H"), ("Lift+/u1/0", "B")]))
    assert points[0]["extra:Lift+/u1/0"] == 7
    assert read_value(survey.path()).full == compute_value(points, TABLE)["full"]


# The same points, stored otherwise.


@pytest.mark.parametrize("point_format", FORMATS)
def test_compression_makes_no_difference(tmp_path: Path, point_format: int) -> None:
    """LAS and LAZ of the same points have the same value, in every format."""
    version = "1.4" if point_format >= 6 else "1.3"
    survey = make_survey(tmp_path, Layout(version, point_format, extra={"Lift": "float32"}), Lift=2)
    compressed = read_value(survey.path())
    survey.set_layout(0, compressed=False)
    assert survey.path().suffix == ".las"
    assert read_value(survey.path()) == compressed
    assert compressed.count == survey.count_points()


@pytest.mark.parametrize(
    ("old", "new", "fields"),
    [
        (0, 6, {"gps_time": 0.0}),
        (0, 1, {"gps_time": 0.0}),
        (1, 6, {}),
        (2, 7, {"gps_time": 0.0}),
        (3, 7, {}),
        (3, 8, {"nir": 0}),
        (1, 3, dict.fromkeys(("red", "green", "blue"), 0)),
        (4, 9, {}),
        (5, 10, {"nir": 0}),
        (1, 4, {}),
    ],
)
def test_formats_that_hold_the_same_fields_agree(
    tmp_path: Path, old: int, new: int, fields: dict[str, float]
) -> None:
    """Points in another format have the same value where both formats hold what is not zero."""
    survey = make_survey(tmp_path, Layout("1.4", old), **fields)
    before = read_value(survey.path())
    survey.set_layout(0, point_format=new)
    assert read_las_header(survey.path()).point_format == new
    assert read_value(survey.path()) == before


@pytest.mark.parametrize(
    ("name", "value", "changed"),
    [
        ("scan_angle", 3.3, {"full"}),
        ("overlap", 1, {"full"}),
        ("scanner_channel", 2, {"full"}),
        ("classification", 8, set()),
    ],
)
def test_what_another_format_cannot_hold_is_seen(
    tmp_path: Path, name: str, value: float, changed: set[str]
) -> None:
    """A field that is lost on the way to an older format changes the full level alone."""
    survey = make_survey(tmp_path, Layout(), **{name: value})
    new = read_value(survey.path())
    survey.set_layout(0, point_format=1)
    old = read_value(survey.path())
    assert {level for level in ("full", "pulse") if getattr(old, level) != getattr(new, level)} == (
        changed
    )
    assert old.geometry == new.geometry


@pytest.mark.parametrize("scale", [0.001, 0.0005, 0.0001, 0.00025])
@pytest.mark.parametrize("offset", [(500_000.0, 3_100_000.0, 5.0), (499_000.25, 3.0995e6, -10.0)])
def test_scale_and_offset_make_no_difference(
    tmp_path: Path, scale: float, offset: tuple[float, float, float]
) -> None:
    """Points that stay where they are have the same value under any scale and offset."""
    survey = make_survey(tmp_path, Layout())
    before = read_value(survey.path())
    survey.set_layout(0, scale=scale, offset=offset)
    assert read_value(survey.path()) == before
    assert not before.rounded


def test_coarser_scale_is_seen(tmp_path: Path) -> None:
    """Points that were rounded to centimetres are other points."""
    survey = make_survey(tmp_path, Layout())
    before = read_value(survey.path())
    survey.set_layout(0, scale=0.01)
    assert read_value(survey.path()).geometry != before.geometry


def test_moves_below_the_lattice_are_not_seen_and_rounding_is_said(tmp_path: Path) -> None:
    """A move of 0.02 mm leaves the value as it was, and the value says that it was rounded."""
    survey = make_survey(tmp_path, Layout(scale=0.00001))
    before = read_value(survey.path())
    assert not before.rounded
    survey.edit_points(0, lambda points: points | {"z": points["z"].astype(float) + 0.00002})
    after = read_value(survey.path())
    assert after.rounded
    assert (after.geometry, after.full) == (before.geometry, before.full)


def test_headers_and_records_make_no_difference(tmp_path: Path) -> None:
    """Another CRS, unit, software, date or version leaves the value as it was."""
    survey = make_survey(tmp_path, Layout())
    before = read_value(survey.path())
    survey.crs(0, "EPSG:2264").software(0, "Other 1").created(0, None).time_flag(0, adjusted=False)
    assert read_value(survey.path()) == before
    assert read_value(survey.no_crs(0).path()) == before


def test_tiles_and_order_make_no_difference(tmp_path: Path) -> None:
    """Files cut anywhere, with an empty one among them, add up to the whole, in any order."""
    survey = make_survey(tmp_path, Layout())
    whole = read_value(survey.path())
    assert read_value(survey.shuffle(0).path()) == whole
    points = survey.tile(0).points
    edges = [500_000.0, 500_004.0, 500_004.5, 500_013.0, 500_020.0, 500_030.0]
    for number, (west, east) in enumerate(pairwise(edges)):
        x = points["x"].astype(np.float64)
        inside = (x >= west) & (x < east)
        part = {name: array[inside] for name, array in points.items()}
        survey.add_tile(f"part_{number}.laz", part)
    values = [read_value(path) for path in survey.paths if path.name.startswith("part")]
    assert [value.count == 0 for value in values].count(True) == 1
    assert combine(values) == combine(reversed(values)) == whole


@pytest.mark.parametrize("compressed", [True, False])
@pytest.mark.parametrize("point_format", [1, 6])
def test_file_without_points(tmp_path: Path, point_format: int, *, compressed: bool) -> None:
    """A file that holds no points has zeros at every level and a count of zero."""
    survey = make_survey(tmp_path, Layout("1.4", point_format, compressed=compressed))
    value = read_value(survey.empty_tile(0).path())
    assert (value.version, value.count, value.rounded) == ("1/10000/10000", 0, False)
    assert (value.geometry, value.pulse, value.full) == (NOTHING, NOTHING, NOTHING)


# Degrees.


def make_degrees(folder: Path, scale: float) -> SurveyBuilder:
    """Return one tile whose X and Y are degrees, on steps of 1e-8."""
    survey = SurveyBuilder(folder, Layout(scale=scale, scale_z=0.001), SMALL)

    def to_degrees(points: Points) -> None:
        points["x"] = np.round(-81.0 + (points["x"].astype(np.float64) - 500_000.0) * 1e-5, 8)
        points["y"] = np.round(28.0 + (points["y"].astype(np.float64) - 3_100_000.0) * 9e-6, 8)
        points["z"] = np.round(points["z"].astype(np.float64), 3)

    return survey.edit_points(0, to_degrees)


def test_degrees_have_a_lattice_of_their_own(tmp_path: Path) -> None:
    """A cloud in degrees is on steps of 1e-9, whatever its fine scale; its version says so."""
    survey = make_degrees(tmp_path, 1e-8)
    before = read_value(survey.path())
    assert before.version == "1/1000000000/10000"
    steps = (10**9, 10**9, 10**4)
    survey.set_layout(0, compressed=False)
    assert compute_value(read_records(survey.path(), steps=steps), TABLE)["full"] == before.full
    survey.set_layout(0, scale=5e-9)
    assert read_value(survey.path()) == before
    survey.set_layout(0, scale=1e-9)
    assert read_value(survey.path()) == before
    survey.edit_points(0, lambda points: points | {"x": points["x"].astype(float) + 1e-9})
    assert read_value(survey.path()).geometry != before.geometry


# Changes to files.


CHANGES: dict[str, tuple[Callable[[SurveyBuilder], object], str]] = {
    "one height": (lambda s: s.move_point(0, 5, dz=0.001), "geometry"),
    "a lost point": (lambda s: s.drop_points(0, 1), "geometry"),
    "a doubled point": (lambda s: s.duplicate_points(0, 1), "geometry"),
    "times by a second": (lambda s: s.shift_times(0, 1.0), "pulse"),
    "returns zeroed": (lambda s: s.zero_returns(0), "pulse"),
    "another class": (lambda s: s.reclassify(0, 5, 6), "full"),
    "withheld": (lambda s: s.set_flag(0, "synthetic"), "full"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_change_of_a_file_is_seen_in_its_level(tmp_path: Path, change: str) -> None:
    """A change of a file's points shows in the lowest level that holds it and in those above."""
    survey = make_survey(tmp_path, Layout())
    before = read_value(survey.path())
    alter, level = CHANGES[change]
    alter(survey)
    after = read_value(survey.path())
    levels = ("geometry", "pulse", "full")
    changed = [name for name in levels if getattr(before, name) != getattr(after, name)]
    assert changed == list(levels[levels.index(level) :])


def test_partly_decoded_file_has_its_geometry(tmp_path: Path) -> None:
    """A pass that decodes some fields gives the geometry of the whole, and no other level."""
    path = make_survey(tmp_path, Layout()).path()
    whole, part = read_value(path), read_value(path, frozenset({"classification", "gps_time"}))
    assert part.geometry == whole.geometry
    assert (part.pulse, part.full) == ("", "")


def test_short_file_gives_no_value(tmp_path: Path) -> None:
    """A file that ends too early gives an error and no value of a part."""
    survey = make_survey(tmp_path, Layout(compressed=False)).cut_on_record(0, 1)
    with pytest.raises(ShortFileError):
        read_value(survey.path())


# What other software wrote.


def test_file_and_its_conversion_by_other_software() -> None:
    """A LAS 1.2 file of format 3 and its COPC conversion to format 7 by another program agree.

    Other files that hold the same pulses with other attributes agree up to the pulse.
    """
    original = read_value(REAL / "1.2-with-color.las")
    assert read_value(REAL / "1.2-with-color.copc.laz") == original
    for name in ("extrabytes.las", "simple1_1.las"):
        other = read_value(REAL / name)
        assert (other.count, other.geometry) == (original.count, original.geometry)
        assert other.pulse == original.pulse
        assert other.full != original.full


def test_different_clouds_differ(point_facts: PointFacts) -> None:
    """Open files of different points all have different values; of the same points, the same."""
    values: dict[tuple[int, float], set[str]] = {}
    for path, facts in point_facts.items():
        if facts["points_counted"] != (facts["point_count_1_4"] or facts["legacy_point_count"]):
            continue  # damaged
        value, las = read_value(path), laspy.read(path)
        assert value.count == len(las.points)
        values.setdefault((value.count, round(math.fsum(las.x), 3)), set()).add(value.geometry)
    assert len(values) > 20
    assert all(len(found) == 1 for found in values.values())
    assert len(set.union(*values.values())) == len(values)


def test_pairs_of_real_files() -> None:
    """Two real files of the same points, LAS and layered LAZ, agree at every level."""
    assert read_value(REAL / "test1_4.las") == read_value(REAL / "1_4_w_evlr.laz")


def test_conversion_by_a_library(tmp_path: Path) -> None:
    """A real file that a general library converts to other formats and scales keeps its value."""
    path = REAL / "srs_vertcs.las"
    before = read_value(path)
    las = laspy.read(path)
    las.write(tmp_path / "same.laz")
    assert read_value(tmp_path / "same.laz") == before
    # The library copies whole degrees as if they were steps: they are put right by hand.
    newer = laspy.convert(las, point_format_id=6)
    newer.scan_angle = np.rint(np.array(las.scan_angle_rank) / 0.006).astype(np.int16)
    newer.change_scaling(scales=[0.001, 0.0005, 0.002], offsets=[289_000.0, 4_320_000.0, 0.0])
    newer.write(tmp_path / "newer.las")
    assert read_value(tmp_path / "newer.las") == before


def test_stored_scale_counts_and_not_its_float(tmp_path: Path) -> None:
    """The printed decimal of a scale counts: its neighbour among the floats is another one."""
    survey = make_survey(tmp_path, Layout(compressed=False))
    copy = tmp_path / "copy.las"
    shutil.copy(survey.path(), copy)
    content = bytearray(copy.read_bytes())
    content[131:139] = struct.pack("<d", np.nextafter(0.001, 1.0))
    copy.write_bytes(content)
    assert read_value(copy).rounded
    assert not read_value(survey.path()).rounded
