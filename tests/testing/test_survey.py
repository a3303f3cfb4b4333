"""Tiny surveys: what is asked for is in the file, and each fault is there and nothing else."""

from __future__ import annotations

import struct
from collections.abc import Callable
from datetime import date
from pathlib import Path

import laspy
import numpy as np
import pytest

from ledger.testing import Layout, Scene, SurveyBuilder

SMALL = Scene(columns=2, density=1.0)


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Two small tiles in LAZ, version 1.4, format 6."""
    return SurveyBuilder(tmp_path / "out", scene=SMALL)


@pytest.fixture
def plain(tmp_path: Path) -> SurveyBuilder:
    """Two small tiles in LAS, version 1.4, format 6."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False), SMALL)


def read_header(path: Path, offset: int, form: str) -> tuple[float, ...]:
    """Return numbers of the public header block, by offset (ASPRS LAS 1.4 R15, table 3)."""
    return struct.unpack_from("<" + form, path.read_bytes(), offset)


@pytest.mark.parametrize("compressed", [True, False])
@pytest.mark.parametrize(
    ("version", "point_format"),
    [
        *[("1.1", number) for number in range(2)],
        *[("1.2", number) for number in range(4)],
        *[("1.3", number) for number in range(6)],
        *[("1.4", number) for number in range(11)],
    ],
)
def test_every_version_and_format_reads_back(
    tmp_path: Path, version: str, point_format: int, *, compressed: bool
) -> None:
    """A survey in any version and format holds the points of the scene and the CRS asked for."""
    layout = Layout(version, point_format, compressed=compressed, crs="EPSG:32617")
    survey = SurveyBuilder(tmp_path, layout, Scene(columns=1, density=0.5))
    las = laspy.read(survey.path())
    assert str(las.header.version) == version
    assert las.header.point_format.id == point_format
    assert las.header.are_points_compressed == compressed
    assert las.header.point_count == survey.count_points() > 100
    assert las.header.parse_crs().to_epsg() == 32617
    assert np.allclose(las.x, survey.tile().points["x"], atol=0.0006)
    assert set(np.unique(las.classification)) == {2, 5}
    if "gps_time" in las.point_format.dimension_names:
        assert np.array_equal(las.gps_time, survey.tile().points["gps_time"])


def test_same_scene_gives_same_bytes(tmp_path: Path) -> None:
    """Two surveys of one scene are equal byte for byte."""
    first, second = (SurveyBuilder(tmp_path / name, scene=SMALL) for name in "ab")
    assert [path.read_bytes() for path in first.paths] == [
        path.read_bytes() for path in second.paths
    ]


def test_ground_points_lie_on_the_formula(survey: SurveyBuilder) -> None:
    """Without noise every last return lies on the ground formula, within the stored scale."""
    las = laspy.read(survey.path())
    ground = las.classification == 2
    truth = survey.scene.compute_ground(np.array(las.x), np.array(las.y))
    assert np.abs(np.array(las.z) - truth)[ground].max() < 0.001
    assert (np.array(las.z) - truth)[~ground].min() > 0.9


def test_ground_slope_is_gentle() -> None:
    """The ground formula stays below 10 degrees, so that swaths may be compared on it."""
    scene = Scene()
    x, y = np.meshgrid(np.arange(0, 40, 0.25), np.arange(0, 20, 0.25))
    z = scene.compute_ground(x + scene.origin[0], y + scene.origin[1])
    slope = np.hypot(*np.gradient(z, 0.25))
    assert np.degrees(np.arctan(slope.max())) < 10


def test_header_texts_and_dates(tmp_path: Path) -> None:
    """Software, system, creation date, scale and time flag are those of the layout."""
    layout = Layout(software="Suite 9", system="MERGE", created=date(2025, 2, 1), scale=0.01)
    survey = SurveyBuilder(tmp_path, layout, SMALL)
    header = laspy.read(survey.path()).header
    assert header.generating_software == "Suite 9"
    assert header.system_identifier == "MERGE"
    assert header.creation_date == date(2025, 2, 1)
    assert list(header.scales) == [0.01, 0.01, 0.01]
    assert read_header(survey.path(), 6, "H") == (17,)
    survey.created(0, None).time_flag(0, adjusted=False).scale(0, 0.001, 0.01)
    assert read_header(survey.path(), 90, "2H") == (0, 0)
    assert read_header(survey.path(), 6, "H") == (16,)
    assert list(laspy.read(survey.path()).header.scales) == [0.001, 0.001, 0.01]


def test_crs_records(survey: SurveyBuilder) -> None:
    """Each choice of CRS records is what is found in the file, keys with the units of the code."""

    def record_ids() -> list[int]:
        return [vlr.record_id for vlr in laspy.read(survey.path()).header.vlrs]

    assert record_ids()[:1] == [2112]
    assert "COMPD_CS" in laspy.read(survey.path()).header.vlrs[0].string
    survey.no_crs(0)
    assert not {2112, 34735} & set(record_ids())
    survey.wkt_text(0, "LOCAL_CS[]")
    assert laspy.read(survey.path()).header.vlrs[0].string == "LOCAL_CS[]"
    survey.both_crs_records(0, {1024: 1, 1026: "named", 3072: 32104, 3076: 9003, 3092: 0.9996})
    assert {2112, 34735, 34736, 34737} <= set(record_ids())
    survey.geo_keys(0, {}).crs(0, "EPSG:6438+6360")
    keys = {key.id: key.value_offset for key in laspy.read(survey.path()).header.vlrs[0].geo_keys}
    assert keys == {1024: 1, 1025: 1, 3072: 6438, 3076: 9003, 4096: 6360, 4099: 9003}


def test_crs_without_code_needs_keys() -> None:
    """GeoTIFF keys are not made up for a system without a code."""
    layout = Layout(crs="+proj=tmerc +lon_0=9 +ellps=GRS80 +type=crs", records="geotiff")
    with pytest.raises(ValueError, match="give geo_keys"):
        layout.make_geo_keys()


POINT_FAULTS: dict[str, tuple[Callable[[SurveyBuilder], object], set[str]]] = {
    "shift_heights": (lambda s: s.shift_heights(0, 0.25), {"z"}),
    "shift": (lambda s: s.shift(0, dx=2.0, dy=1.0), {"x", "y"}),
    "shift_swath": (lambda s: s.shift_swath(2, 0.1), {"z"}),
    "move_point": (lambda s: s.move_point(0, 5, dz=80.0), {"z"}),
    "all_times_zero": (lambda s: s.all_times_zero(0), {"gps_time"}),
    "shift_times": (lambda s: s.shift_times(0, 18.0), {"gps_time"}),
    "week_times": (lambda s: s.week_times(0), {"gps_time"}),
    "coarse_times": (lambda s: s.coarse_times(0), {"gps_time"}),
    "zero_returns": (lambda s: s.zero_returns(0), {"return_number", "number_of_returns"}),
    "reclassify": (lambda s: s.reclassify(0, 5, 6), {"classification"}),
    "reclassify all": (lambda s: s.reclassify(0, None, 0), {"classification"}),
    "set_flag": (lambda s: s.set_flag(0, "withheld", 0.5), {"withheld"}),
    "set_field": (lambda s: s.set_field(0, "user_data", 7), {"user_data"}),
}


@pytest.mark.parametrize("fault", POINT_FAULTS)
def test_point_fault_alters_its_fields_alone(survey: SurveyBuilder, fault: str) -> None:
    """A fault in the points alters the fields it names, in the tile it names, and no other."""
    spoil, altered = POINT_FAULTS[fault]
    before = laspy.read(survey.path(0))
    other = survey.path(1).read_bytes()
    spoil(survey)
    after = laspy.read(survey.path(0))
    names = set(before.point_format.dimension_names) - {"X", "Y", "Z"} | {"x", "y", "z"}
    found = {
        name for name in names if not np.array_equal(np.array(before[name]), np.array(after[name]))
    }
    assert found == altered
    assert (survey.path(1).read_bytes() == other) == (fault != "shift_swath")


def test_stretch_and_swap(survey: SurveyBuilder) -> None:
    """Coordinates can be multiplied, as a wrong unit does, or have their axes swapped."""
    before = laspy.read(survey.path(0))
    survey.stretch(0, horizontal=3.0, vertical=2.0).swap_axes(1)
    after = laspy.read(survey.path(0))
    assert np.allclose(after.x, np.array(before.x) * 3.0, atol=0.003)
    assert np.allclose(after.z, np.array(before.z) * 2.0, atol=0.003)
    assert laspy.read(survey.path(1)).x.min() == pytest.approx(3_100_000, abs=20)


def test_points_lost_and_doubled(survey: SurveyBuilder) -> None:
    """Points can be dropped, thinned, cut out, doubled, shuffled or all left out."""
    total = len(survey.tile(0).points["x"])

    def count() -> int:
        return int(laspy.read(survey.path(0)).header.point_count)

    survey.drop_points(0, 3)
    assert count() == total - 3
    survey.duplicate_points(0, 10).shuffle(0)
    assert count() == total + 7
    assert len(np.unique(laspy.read(survey.path(0)).points.array)) == total - 3
    survey.thin(0, 0.5)
    assert count() == pytest.approx(total / 2, rel=0.15)
    west, south = survey.scene.origin
    survey.cut_hole(0, west + 10.0, south + 10.0, radius=5.0)
    las = laspy.read(survey.path(0))
    east, north = (np.array(axis) for axis in (las.x - 500_010, las.y - 3_100_010))
    assert np.hypot(east, north).min() > 4.99
    survey.empty_tile(0)
    assert count() == 0


def test_header_faults(plain: SurveyBuilder) -> None:
    """Each fault of the header stands in the bytes where the standard puts that field."""
    path, total = plain.path(0), len(plain.tile(0).points["x"])
    box = read_header(path, 179, "d")[0]
    plain.wrong_count(0, total + 9).wrong_return_counts(0, 5, 6).wrong_box(0, 40.0)
    plain.legacy_count(0, 77).huge_vlr_count(0).point_format_byte(0, 99).offset_to_points(0, 12)
    plain.stored_scale(0, 0.1, 0.2, 0.3).wkt_flag(0, on=False)
    assert read_header(path, 247, "Q") == (total + 9,)
    assert read_header(path, 255, "2Q") == (5, 6)
    assert read_header(path, 179, "d")[0] == pytest.approx(box + 40.0)
    assert read_header(path, 107, "I") == (77,)
    assert read_header(path, 100, "I") == (0xFFFF_FFF0,)
    assert read_header(path, 104, "B") == (99,)
    assert read_header(path, 96, "I") == (12,)
    assert read_header(path, 131, "3d") == (0.1, 0.2, 0.3)
    assert read_header(path, 6, "H") == (1,)


def test_counts_of_older_headers(tmp_path: Path) -> None:
    """In a header before 1.4 the wrong counts stand in the 32-bit fields."""
    survey = SurveyBuilder(tmp_path, Layout(version="1.2", point_format=1), SMALL)
    survey.wrong_count(0, 3).wrong_return_counts(0, 1, 2)
    assert read_header(survey.path(), 107, "3I") == (3, 1, 2)


def test_cut_and_damaged_files(plain: SurveyBuilder) -> None:
    """Files are cut where the fault says: inside the header, on a record, inside a record."""
    path, total = plain.path(0), len(plain.tile(0).points["x"])
    size = path.stat().st_size
    plain.cut_on_record(0, 2)
    assert path.stat().st_size == size - 60
    assert len(laspy.read(path).points) == total - 2
    plain.cut_mid_record(1)
    with pytest.raises(ValueError, match="buffer size"):
        laspy.read(plain.path(1))
    plain.append_bytes(0, b"xyz").flip_byte(0, -1)
    assert path.read_bytes().endswith(b"xy\x85")
    plain.cut_share(0, 0.5)
    assert path.stat().st_size == (size - 57) // 2
    plain.cut_inside_header(0)
    assert path.stat().st_size == 200
    plain.bad_signature(0)
    assert path.read_bytes()[:4] == b"XXXX"
    plain.empty_file(0)
    assert path.read_bytes() == b""


def test_corrupt_laz_cannot_be_read_alike(survey: SurveyBuilder) -> None:
    """Inverted bytes in the compressed points give an error or other points, never the same."""
    before = np.array(laspy.read(survey.path()).points.array)
    survey.corrupt_laz(0)
    try:
        after = np.array(laspy.read(survey.path()).points.array)
    except Exception as error:  # noqa: BLE001 - any refusal of the decoder will do
        assert "laz" in type(error).__module__.lower() or isinstance(error, RuntimeError)  # noqa: PT017
    else:
        assert not np.array_equal(before, after)


def test_damage_outlives_a_rewrite(plain: SurveyBuilder) -> None:
    """A tile that is written again after its bytes were damaged is damaged again."""
    plain.wrong_count(0, 5)
    plain.shift_heights(0, 1.0).scale(0, 0.01)
    assert read_header(plain.path(0), 247, "Q") == (5,)


def test_tiles_by_name_and_place(survey: SurveyBuilder) -> None:
    """A tile is found by name, by name without suffix and by place; a wrong name is an error."""
    assert survey.path("tile_1_0") == survey.path("tile_1_0.laz") == survey.path(1)
    with pytest.raises(KeyError):
        survey.path("tile_9_9")
    survey.set_layout(0, compressed=False)
    assert [path.name for path in survey.paths] == ["tile_0_0.las", "tile_1_0.laz"]
    assert sorted(path.name for path in survey.folder.iterdir()) == ["tile_0_0.las", "tile_1_0.laz"]
    survey.remove(0)
    assert [path.name for path in survey.folder.iterdir()] == ["tile_1_0.laz"]


def test_tiles_and_documents_can_be_added(survey: SurveyBuilder) -> None:
    """Hand-made points and other files can be put beside the tiles."""
    survey.add_tile("one.laz", {name: np.array([7.0]) for name in "xyz"})
    assert laspy.read(survey.path("one")).x[0] == 7.0
    path = survey.add_document("report/site.txt", b"hello")
    assert path.read_bytes() == b"hello"


def test_extra_dimensions(tmp_path: Path) -> None:
    """Extra dimensions of the layout stand in the file and in the chunk, under their own name."""
    survey = SurveyBuilder(tmp_path, Layout(extra={"Deviation": "uint16"}), SMALL)
    survey.set_field(0, "Deviation", 9)
    chunk = survey.chunk()
    assert set(np.unique(chunk["extra:Deviation"])) == {9}
    assert len(chunk) == len(survey.tile().points["x"])
    assert abs(chunk.x[0] / 10_000 - survey.tile().points["x"][0]) < 0.0006
