"""Both records of a file are read apart: absent, unreadable, understood, contradictory.

Held against the real files of `tests/real` and the open data, whose truth is told in their tables:
where their points lie on the ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from open_data import OpenFile, PointFacts
from pyproj import CRS

from ledger.crs import CrsReader, compare, describe, read_crs, to_lonlat
from ledger.errors import CrsError
from ledger.lasheader import read_las_header
from ledger.model.georeferencing import Crs, CrsKind, CrsReading
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT

ReadReal = Callable[[str], CrsReading]
ReadMade = Callable[..., CrsReading]


def understood(reading: CrsReading) -> Crs:
    """Return the system that counts, which must be there."""
    crs = reading.governing.crs
    assert crs is not None, reading.governing.fault
    return crs


def test_absent_unreadable_and_understood_are_three_results(read_made: ReadMade) -> None:
    """No record, an empty one, rubbish and a good one are told apart."""
    absent = read_made()
    assert not absent.wkt.present
    assert not absent.governing.present
    assert (absent.governing.crs, absent.governing.fault) == (None, "")
    empty = read_made("").wkt
    assert (empty.present, empty.crs, empty.fault) == (True, None, "the WKT record is empty")
    for rubbish in (
        "no system at all",
        'PROJCS["cut',
        "+proj=utm +zone=17",
        "[" * 5000,
        "\x00\x01",
    ):
        record = read_made(rubbish).wkt
        assert record.present
        assert record.crs is None
        assert record.fault.startswith("the WKT text cannot be understood (")
        assert record.text == rubbish
    assert read_made(CRS.from_epsg(6346).to_wkt()).wkt.crs is not None


def test_the_flag_decides_which_record_counts(read_made: ReadMade) -> None:
    """With the WKT bit the WKT record counts, even if absent; without it the keys, if present."""
    wkt, keys = CRS.from_epsg(6346).to_wkt(), {1024: 1, 3072: 32617}
    both = read_made(wkt, keys, flag=True)
    assert both.governing is both.wkt
    old = read_made(wkt, keys)
    assert old.governing is old.geotiff
    assert understood(read_made(wkt)).code == "EPSG:6346"
    assert not read_made(None, keys, flag=True).governing.present


def test_an_empty_real_record_is_present_and_unreadable(read_real: ReadReal) -> None:
    """A real file with an empty WKT record has a record, and no system."""
    reading = read_real("5points_14.las")
    assert reading.governing.present
    assert reading.governing.fault == "the WKT record is empty"


def test_a_vertical_system_inside_the_projected_one_is_recovered(read_real: ReadReal) -> None:
    """Two real files nest it where libraries pass over it, with a foot of one metre."""
    for name in ("test1_4.las", "1_4_w_evlr.laz"):
        record = read_real(name).governing
        crs = record.crs
        assert crs is not None
        assert crs.vertical is not None
        assert crs.vertical.datum == "North American Vertical Datum 1988"
        assert crs.vertical.unit is US_SURVEY_FOOT
        assert record.notes == (
            "the vertical system is written inside the projected one, not beside it",
            "the unit of height is called US survey foot but its size is written as 1 m",
            (
                "its heights bear the code EPSG:5703 but their vertical unit is us-survey-foot, "
                "not metre"
            ),
        )
        assert CRS.from_wkt(crs.wkt).is_compound


def test_the_unit_key_beats_a_metre_code(read_real: ReadReal) -> None:
    """US survey feet under a metre code lie in Pennsylvania; as metres they lie in the Atlantic."""
    record = read_real("point-version-1-point-wise.laz").governing
    crs = record.crs
    assert crs is not None
    assert crs.unit is US_SURVEY_FOOT
    assert crs.code == ""
    assert crs.dialect == "GeoTIFF"
    assert record.notes == ("EPSG:32128 is in metre, key 3076 says US survey foot",)
    # The file's own middle; the place is that of the table of open data.
    header = read_las_header(Path(__file__).parents[1] / "real" / "point-version-1-point-wise.laz")
    x, y = ((header.minimum[i] + header.maximum[i]) / 2 for i in (0, 1))
    lon, lat = to_lonlat(crs, x, y)
    assert (round(lon, 2), round(lat, 2)) == (-75.88, 41.16)
    assert compare(crs, describe("EPSG:2271")) == ()


def test_both_kinds_of_foot_in_one_system_stay_apart(read_real: ReadReal) -> None:
    """International feet across and US survey feet up are legal and kept."""
    crs = understood(read_real("autzen.copc.laz"))
    assert crs.unit is INTERNATIONAL_FOOT
    assert crs.vertical is not None
    assert crs.vertical.unit is US_SURVEY_FOOT
    assert crs.vertical.code == "EPSG:6360"


def test_a_wrong_but_readable_system_is_read_as_written(read_real: ReadReal, real: Path) -> None:
    """A file that declares metres and holds feet lands in British Columbia, as it says."""
    crs = understood(read_real("1.2-with-color.copc.laz"))
    header = read_las_header(real / "1.2-with-color.copc.laz")
    x, y = ((header.minimum[i] + header.maximum[i]) / 2 for i in (0, 1))
    lon, lat = to_lonlat(crs, x, y)
    assert (round(lon, 1), round(lat, 1)) == (-117.2, 49.4)


def test_vertical_keys_are_kept(read_real: ReadReal) -> None:
    """GeoTIFF keys with a vertical part give a system with a vertical part."""
    crs = understood(read_real("srs_vertcs.las"))
    assert crs.code == "EPSG:32617"
    assert crs.vertical is not None
    assert (crs.vertical.code, crs.vertical.unit) == ("EPSG:5703", METRE)


def test_axis_order_of_an_authority_is_told(read_real: ReadReal) -> None:
    """EPSG:4326 is latitude first by definition; a projected system in feet is not."""
    assert understood(read_real("test_epsg_4326_axis.las")).axes_reversed
    assert not describe("EPSG:6346").axes_reversed


def read_open(open_file: OpenFile, name: str) -> CrsReading:
    """Return both records of an open file."""
    return read_crs(read_las_header(open_file(f"las/{name}")))


def test_the_open_files_are_understood_as_their_table_says(open_file: OpenFile) -> None:
    """What is known of the coordinate systems of the open files comes out of their headers."""
    read = partial(read_open, open_file)
    misplaced = read("simple1_3.las").governing
    assert misplaced.crs is None
    assert "key 3076, which is for the unit, holds 32632" in misplaced.fault

    plane = understood(read("plane.laz"))
    # RGF93 / CC45 has these parameters (EPSG:3945).
    assert [d.part for d in compare(plane, describe("EPSG:3945"))] == ["datum"]

    florida = understood(read("lots_of_vlr.las"))
    assert florida.projection == "Transverse Mercator"
    assert florida.unit is US_SURVEY_FOOT

    mixed = understood(read("autzen-bmx-2023.las"))
    assert (mixed.unit, mixed.vertical and mixed.vertical.unit) == (METRE, US_SURVEY_FOOT)

    texas = understood(read("1815.las"))
    assert (texas.code, texas.vertical and texas.vertical.code) == ("EPSG:6580", "EPSG:5703")


def test_keys_that_are_swapped_are_put_right(open_file: OpenFile) -> None:
    """A datum where the vertical system belongs, and the other way round, is told and mended."""
    swapped = read_open(open_file, "4_6_crop.las").governing
    assert swapped.notes == (
        "keys 4096 and 4098 are swapped: 5103 is a datum, EPSG:5703 the system",
        "EPSG:5703 is in metre, key 4099 says US survey foot",
    )
    assert swapped.crs is not None
    assert swapped.crs.vertical is not None
    assert swapped.crs.vertical.datum == "North American Vertical Datum 1988"
    assert swapped.crs.vertical.unit is US_SURVEY_FOOT


def test_both_records_of_one_file_are_read(open_file: OpenFile) -> None:
    """A WKT and GeoTIFF keys that disagree are both understood, each for itself."""
    both = read_open(open_file, "file_with_both_wkt_and_geotiff_vlrs.las")
    assert both.wkt.crs is not None
    assert both.geotiff.crs is not None
    assert compare(both.wkt.crs, describe("EPSG:6880")) == ()
    assert [d.part for d in compare(both.wkt.crs, both.geotiff.crs)] == ["datum"]


def test_the_newer_dialect_is_understood(open_file: OpenFile) -> None:
    """A WKT2 text, as a drone scanner exports it, is read as well."""
    drone = understood(read_open(open_file, "fullwave.laz"))
    assert (drone.dialect, drone.utm_zone, drone.code) == ("WKT2", "23S", "EPSG:32723")


def test_no_open_file_makes_reading_fail(point_facts: PointFacts) -> None:
    """Every record of every open file is absent, understood, or unreadable with a reason."""
    for path in point_facts:
        reading = read_crs(read_las_header(path))
        for record in (reading.wkt, reading.geotiff):
            assert record.present == bool(record.crs or record.fault), path.name
            assert "\n" not in record.fault


def test_a_code_that_contradicts_its_text_is_a_note(read_made: ReadMade) -> None:
    """A template header, relabelled by its code alone, is told part by part."""
    text = CRS.from_epsg(26917).to_wkt("WKT1_GDAL").replace('"26917"', '"6346"')
    assert read_made(text).wkt.notes == (
        (
            "it bears the code EPSG:6346 but its datum is North American Datum 1983, "
            "not NAD83 (National Spatial Reference System 2011)"
        ),
    )
    other = (
        CRS.from_epsg(6346)
        .to_wkt("WKT1_GDAL")
        .replace('central_meridian",-81', 'central_meridian",-87')
    )
    notes = read_made(other).wkt.notes
    assert (
        "it is called NAD83(2011) / UTM zone 17N but its parameters are those of zone 16N" in notes
    )
    assert "it bears the code EPSG:6346 but its zone is 16N, not 17N" in notes


def test_a_code_that_is_not_known_is_a_note(read_made: ReadMade) -> None:
    """A code that no registry has does not make the text unreadable."""
    text = CRS.from_epsg(6346).to_wkt("WKT1_GDAL").replace('"6346"', '"999999"')
    record = read_made(text).wkt
    assert record.notes == ("the code EPSG:999999 is not known",)
    assert record.crs is not None
    assert compare(record.crs, describe("EPSG:6346")) == ()


def test_a_foot_called_by_the_other_name_is_a_note(read_made: ReadMade) -> None:
    """Where name and size of a foot disagree, the size was computed with and counts."""
    text = (
        CRS.from_epsg(2992)
        .to_wkt("WKT1_GDAL")
        .replace('UNIT["foot",0.3048', 'UNIT["US survey foot",0.3048')
    )
    record = read_made(text).wkt
    assert record.crs is not None
    assert record.crs.unit is INTERNATIONAL_FOOT
    assert record.notes == (
        "the unit is called US survey foot but its size is written as 0.3048 m",
    )


@pytest.mark.parametrize("version", ["WKT1_GDAL", "WKT1_ESRI", "WKT2_2019", "WKT2_2015"])
@pytest.mark.parametrize(
    "code", ["EPSG:6346", "EPSG:2271", "EPSG:2992", "EPSG:26931", "EPSG:2154", "EPSG:4326"]
)
def test_every_dialect_says_the_same(read_made: ReadMade, code: str, version: str) -> None:
    """A system written in any dialect differs in no part from its code."""
    crs = understood(read_made(CRS.from_user_input(code).to_wkt(version)))
    assert crs.dialect == version[:4]
    assert compare(crs, describe(code)) == ()


def test_a_shift_written_beside_a_system_changes_nothing(read_made: ReadMade) -> None:
    """TOWGS84 inside the 2001 dialect does not hide the system that bears it."""
    text = (
        CRS.from_epsg(6346)
        .to_wkt("WKT1_GDAL")
        .replace('AUTHORITY["EPSG","1116"]', 'TOWGS84[0,0,0,0,0,0,0],AUTHORITY["EPSG","1116"]')
    )
    assert "TOWGS84" in text
    crs = understood(read_made(text))
    assert (crs.code, crs.utm_zone) == ("EPSG:6346", "17N")


@pytest.mark.parametrize(
    ("name", "geoid"),
    [
        ("NAVD88 height (ftUS) - GEOID18", "GEOID18"),
        ("NAVD88 - Geoid12B (US Feet)", "GEOID12B"),
        ("NAVD88 height", ""),
        ("EGM96 height", "EGM96"),
    ],
)
def test_a_geoid_in_the_name_of_heights_is_found(
    read_made: ReadMade, name: str, geoid: str
) -> None:
    """The geoid stands in the name of the vertical system, as the USGS specification asks."""
    vertical = (
        f'VERT_CS["{name}",VERT_DATUM["North American Vertical Datum 1988",2005],'
        'UNIT["US survey foot",0.304800609601219]]'
    )
    text = f'COMPD_CS["made",{CRS.from_epsg(6346).to_wkt("WKT1_GDAL")},{vertical}]'
    crs = understood(read_made(text))
    assert crs.vertical is not None
    assert crs.vertical.geoid == geoid


def test_codes_texts_and_parts_can_be_described() -> None:
    """A code, a compound code, a vertical code and WKT all give their parts."""
    crs = describe("EPSG:6346")
    assert (crs.kind, crs.datum_code, crs.utm_zone, crs.unit) == (
        CrsKind.PROJECTED,
        "EPSG:1116",
        "17N",
        METRE,
    )
    assert crs.area is not None
    assert (crs.area.west, crs.area.east) == (-84.0, -78.0)
    joined = describe("EPSG:6346+5703")
    assert (joined.code, joined.vertical and joined.vertical.code) == ("EPSG:6346", "EPSG:5703")
    height = describe("EPSG:5703")
    assert (height.kind, height.vertical and height.vertical.unit) == (CrsKind.NONE, METRE)
    solid = describe("EPSG:6319")
    assert solid.vertical is not None
    assert solid.vertical.is_ellipsoidal
    assert describe("EPSG:7789").kind is CrsKind.GEOCENTRIC
    assert describe('LOCAL_CS["site",UNIT["metre",1]]').kind is CrsKind.ENGINEERING
    assert describe(CRS.from_epsg(6346).to_wkt()).code == "EPSG:6346"


@pytest.mark.parametrize("text", ["EPSG:99999", "rubbish", "", "+proj=utm +zone=17", "NAD83:x:y"])
def test_what_is_no_system_is_refused_with_a_remedy(text: str) -> None:
    """An unknown code and rubbish are one line, with what to write instead."""
    with pytest.raises(CrsError, match="give an EPSG code") as raised:
        describe(text)
    assert "\n" not in str(raised.value)


def test_a_reader_of_many_headers_reads_each_as_it_is_read_alone(real: Path) -> None:
    """Files with the same records get one reading; another flag, or another record, its own."""
    reader = CrsReader()
    headers = [read_las_header(path) for path in sorted(real.glob("*.la[sz]"))]
    flagged = [replace(each, global_encoding=each.global_encoding ^ 0x10) for each in headers]
    for header in (*headers, *flagged, *headers):
        assert reader.read(header) == read_crs(header)
    assert reader.read(headers[0]) is reader.read(replace(headers[0], point_count=7))
