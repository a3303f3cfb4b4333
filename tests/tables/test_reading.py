"""Tables in every hand: separators, decimal marks, headers, encodings, orders of axes, comments.

The expected numbers are those that stand in each text; GeoJSON as in RFC 7946.
"""

from __future__ import annotations

import contextlib
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import MalformedFileError
from ledger.model.known import KnownBy, KnownValue
from ledger.model.surveypoints import PointTable
from ledger.tables.numbers import find_decimal_mark, read_number
from ledger.tables.reading import build_table, read_table, read_what_it_says
from ledger.tables.rows import decode_text, take_apart

EAST, NORTH, HEIGHT = Decimal("552031.123"), Decimal("4272044.456"), Decimal("214.100")

WRITTEN = {
    "commas": "id,easting,northing,height\nC1,552031.123,4272044.456,214.100\n",
    "semicolons": "id;easting;northing;height\nC1;552031.123;4272044.456;214.100\n",
    "tabs": "id\teasting\tnorthing\theight\nC1\t552031.123\t4272044.456\t214.100\n",
    "blanks": "id easting northing height\nC1  552031.123   4272044.456  214.100\n",
    "decimal commas, semicolons": "Punkt;Rechtswert;Hochwert;Höhe\n"
    "C1;552031,123;4272044,456;214,100\n",
    "decimal commas, tabs": "punto\teste\tnorte\tcota\nC1\t552031,123\t4272044,456\t214,100\n",
    "decimal commas, blanks": "id e n h\nC1 552031,123 4272044,456 214,100\n",
    "northing first": "Point,Northing,Easting,Elevation\nC1,4272044.456,552031.123,214.100\n",
    "units in the names": "ID,Easting (m),Northing [m],Elev_m\nC1,552031.123,4272044.456,214.100\n",
    "quotes": '"id","easting","northing","height"\n"C1","552031.123","4272044.456","214.100"\n',
    "blanks round cells": "id , easting , northing , height\n"
    " C1 , 552031.123 , 4272044.456 , 214.100\n",
    "header in a comment": "# id easting northing height\nC1 552031.123 4272044.456 214.100\n",
    "comma at the end": "id,easting,northing,height,\nC1,552031.123,4272044.456,214.100,\n",
    "blank lines": "\nid,easting,northing,height\n\nC1,552031.123,4272044.456,214.100\n\n",
    "other columns": "id,code,easting,northing,height,crew\n"
    "C1,GRD,552031.123,4272044.456,214.100,west\n",
    "exponents": "id,easting,northing,height\nC1,5.52031123E+05,4.272044456E+06,2.14100E+02\n",
    "French": "Matricule;X;Y;Altitude\nC1;552031,123;4272044,456;214,100\n",
    "Polish": "Nr punktu;x;y;Wysokość\nC1;552031.123;4272044.456;214.100\n",
}


def write(folder: Path, text: str, encoding: str = "utf-8", name: str = "points.csv") -> Path:
    """Return a file with a text in it."""
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def read(path: Path, **said: str) -> PointTable:
    """Return a table as its own names and comments say, and what was said of it."""
    table = read_table(path)
    values = read_what_it_says(table, path.name)
    values |= {f"points.{name}": KnownValue(value) for name, value in said.items()}
    return build_table(table, values, path.name, "0" * 64)


@pytest.mark.parametrize("hand", WRITTEN)
def test_the_same_point_in_every_hand(tmp_path: Path, hand: str) -> None:
    """However it is written, it is the same point, with the digits that it has."""
    (point,) = read(write(tmp_path, WRITTEN[hand])).points
    assert (point.id, point.east, point.north, point.height) == ("C1", EAST, NORTH, HEIGHT)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "latin-1", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, end: str) -> None:
    """A name with an umlaut comes through in each of them."""
    text = "Punkt;Rechtswert;Hochwert;Höhe\nMüller 7;1,5;2,5;3,25\n".replace("\n", end)
    (point,) = read(write(tmp_path, text, encoding)).points
    assert (point.id, point.height) == ("Müller 7", Decimal("3.25"))


def test_names_with_blanks_and_separators(tmp_path: Path) -> None:
    """What stands in quotes is one name, whatever is in it."""
    text = 'id,easting,northing,height\n"A 1, north",1.5,2.5,3.5\n'
    assert read(write(tmp_path, text)).points[0].id == "A 1, north"
    text = 'id e n h\n"A 1" 1.5 2.5 3.5\n'
    assert read(write(tmp_path, text)).points[0].id == "A 1"


@pytest.mark.parametrize(
    "text",
    [
        "id\te\tn\th\nC 01\t1.5\t2.5\t3.5\nC 02\t1.5\t2.5\t3.5\n",
        "C 01\t1,5\t2,5\t3,5\nC 02\t1,5\t2,5\t3,5\n",
        "id;e;n;h\nC 01; 1,5; 2,5; 3,5\nC 02; 1,5; 2,5; 3,5\n",
        "id, e, n, h\nC 01, 1.5, 2.5, 3.5\nC 02, 1.5, 2.5, 3.5\n",
        "; from the field\nid,e,n,h\nC 01,1.5,2.5,3.5\nC 02,1.5,2.5,3.5\n",
    ],
)
def test_names_of_a_letter_and_a_number(tmp_path: Path, text: str) -> None:
    """Blanks inside names part no columns, though more cells would be numbers with them."""
    said = {f"column_{name}": str(i) for i, name in enumerate(("id", "east", "north", "height"), 1)}
    points = read(write(tmp_path, text), **said).points
    assert [each.id for each in points] == ["C 01", "C 02"]
    assert points[0].height == Decimal("3.5")


def test_a_title_above_the_header_is_told(tmp_path: Path) -> None:
    """A first line in words is not taken for names of columns, and it is said what to do."""
    with pytest.raises(MalformedFileError, match="line 1 looks like a title"):
        read(write(tmp_path, "Pit, 12 May\nid,e,n,h\nC1,1.5,2.5,3.5\n"))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("id;e;n;h\nC1;552.031,12;4.272.044,45;214,1\n", "552.031,12"),
        ("id;e;n;h\nC1;552,031.12;4,272,044.45;214.1\n", "552,031.12"),
        ("id;e;n;h\nC1;552 031,12;4 272 044,45;214,1\n", "552 031,12"),
        ("id;e;n;h\nC1;552'031.12;4'272'044.45;214.1\n", "552'031.12"),
        ('id,e,n,h\nC1,"552,031.12","4,272,044.45",214.1\n', "552,031.12"),
        ("id;e;n;h\nC1;552.031.120;4272044;214\n", "552.031.120"),
    ],
)
def test_marks_between_thousands_are_refused(tmp_path: Path, text: str, found: str) -> None:
    """552.031 and 552,031 are lengths a thousand times apart: one line says so, with the number."""
    with pytest.raises(MalformedFileError, match="thousands") as caught:
        read(write(tmp_path, text))
    assert found in str(caught.value)
    assert "line 2" in str(caught.value)


def test_a_comma_that_may_be_either_is_asked_about(tmp_path: Path) -> None:
    """Three digits behind every comma may be a decimal or thousands; the person says which."""
    path = write(tmp_path, "id;e;n;h\nC1;52,123;13,456;214,100\n")
    with pytest.raises(MalformedFileError, match="decimal mark or stand between thousands"):
        read(path)
    assert read(path, decimal_mark="comma").points[0].height == Decimal("214.100")


def test_points_and_commas_in_one_table_are_refused(tmp_path: Path) -> None:
    """A table has one decimal mark."""
    with pytest.raises(MalformedFileError, match="decimal points"):
        read(write(tmp_path, "id;e;n;h\nC1;552031,12;4272044.45;214.1\n"))


def test_decimal_commas_between_commas_are_told(tmp_path: Path) -> None:
    """Rows twice as wide as the header come of decimal commas that are separators, too."""
    with pytest.raises(MalformedFileError, match="semicolons or tabs"):
        read(write(tmp_path, "id,e,n,h\nC1,552031,12,4272044,45,214,1\n"))
    with pytest.raises(MalformedFileError, match="give every column a name"):
        read(write(tmp_path, "id,e,n\nC1;1,5;2,5;3,5;4\n".replace(",n", ";n").replace(",e", ";e")))


def test_rows_that_hold_no_point_are_named(tmp_path: Path) -> None:
    """Each is left out with its line and the reason; none is made up."""
    rows = ("C1,1.5,2.5,3.5", "C2,,2.5,3.5", "C3,1.5,x,3.5", "C4,1.5,2.5", "C5,1.5,2.5,")
    text = "\n".join(["id,e,n,h", *rows, "C6,1,2,high", ""])
    table = read(write(tmp_path, text))
    assert [(point.id, point.height) for point in table.points] == [
        ("C1", Decimal("3.5")),
        ("C5", None),
    ]
    assert table.skipped == (
        (3, "the easting is blank"),
        (4, 'the northing is no number: "x"'),
        (5, "3 columns instead of 4"),
        (7, 'height is no number: "high"'),
    )


def test_two_points_of_one_name_are_refused(tmp_path: Path) -> None:
    """Nobody could say which of them was meant."""
    with pytest.raises(MalformedFileError, match="C1, lines 2 and 3"):
        read(write(tmp_path, "id,e,n,h\nC1,1.5,2.5,3.5\nC1,1.6,2.5,3.5\n"))


def test_without_names_nothing_is_guessed(tmp_path: Path) -> None:
    """A table without a header is refused until somebody says which column is which."""
    path = write(tmp_path, "C1,4272044.456,552031.123,214.100\n")
    with pytest.raises(MalformedFileError, match="nobody said which column") as caught:
        read(path)
    assert "column 1 (C1 …), column 2 (4272044.456 …), column 3 (" in str(caught.value)
    said = {"column_id": "1", "column_east": "column 3", "column_north": "2"}
    (point,) = read(path, **said, column_height="4").points
    assert (point.id, point.east, point.north) == ("C1", EAST, NORTH)


def test_two_columns_of_one_meaning_are_nobodys(tmp_path: Path) -> None:
    """With X and Easting in one table, which one it is has to be said."""
    path = write(tmp_path, "id,x,easting,northing,height\nC1,1.5,2.5,3.5,4.5\n")
    with pytest.raises(MalformedFileError, match="which column is the easting"):
        read(path)
    assert read(path, column_east="easting").points[0].east == Decimal("2.5")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"column_east": "nowhere"}, "no such column"),
        ({"column_east": "northing"}, "two things"),
        ({"column_east": "id", "column_id": "none"}, "no row of the table holds a point"),
    ],
)
def test_columns_that_cannot_be(tmp_path: Path, said: dict[str, str], told: str) -> None:
    """A column that is not there, is taken, or holds no numbers is refused in one line."""
    path = write(tmp_path, WRITTEN["commas"])
    with pytest.raises(MalformedFileError, match=told):
        read(path, **said)


def test_what_comments_declare(tmp_path: Path) -> None:
    """Frame, epoch, heights, geoid, unit and base are read from comment lines, with their place."""
    text = (
        "# frame: NAD83(2011) epoch 2010.0; coordinate system: EPSG:6346\n"
        "# heights: orthometric, GEOID18; unit: US survey feet\n"
        "# base = network service; kind: checkpoints\n" + WRITTEN["commas"]
    )
    table = read(write(tmp_path, text))
    said = {name: known.value for name, known in table.declared.items()}
    assert said == {
        "horizontal": "EPSG:6346",
        "epoch": "2010.0",
        "vertical": "orthometric",
        "geoid": "GEOID18",
        "unit_horizontal": "us-survey-foot",
        "unit_vertical": "us-survey-foot",
        "base": "network service",
    }
    known = table.declared["unit_vertical"]
    assert (known.known_by, known.where) == (KnownBy.READ, "points.csv line 2")
    assert table.kind == "checkpoints"


@pytest.mark.parametrize(
    ("line", "declared"),
    [
        ("# crs: EPSG:6346+5703", {"horizontal": "EPSG:6346", "vertical": "EPSG:5703"}),
        ("# EPSG: 25832", {"horizontal": "EPSG:25832"}),
        ("// vertical: EPSG:5773", {"vertical": "EPSG:5773"}),
        ("# heights: ellipsoid", {"vertical": "ellipsoidal"}),
        ("# unit: feet", {}),
        ("# heights: as usual", {}),
        ("# surveyed by two of us: in the rain", {}),
    ],
)
def test_declarations_in_other_words(tmp_path: Path, line: str, declared: dict[str, str]) -> None:
    """Codes and kinds are understood; a foot without its kind, and prose, are left to be asked."""
    table = read(write(tmp_path, f"{line}\n{WRITTEN['commas']}"))
    assert {name: known.value for name, known in table.declared.items()} == declared


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("id,Easting (ftUS),Northing (ftUS),Elev (m)", ("us-survey-foot", "metre")),
        ("id,e_m,n_m,h_ift", ("metre", "international-foot")),
        ("id,Easting (ft),Northing (ft),Elev (ft)", ("", "")),
    ],
)
def test_units_beside_the_names(tmp_path: Path, header: str, unit: tuple[str, str]) -> None:
    """A unit in a column's name is read; "ft" may be either foot and is left to be asked."""
    table = read(write(tmp_path, f"{header}\nC1,1.5,2.5,3.5\n"))
    found = (table.declared.get(name) for name in ("unit_horizontal", "unit_vertical"))
    assert tuple("" if each is None else each.value for each in found) == unit


def test_strata_sigmas_times_and_picked_targets(tmp_path: Path) -> None:
    """Further columns of the trade fill the point; what is in no order of dates stays blank."""
    text = (
        "id,e,n,h,surface,sigma_z,hrms,date,cloud_x,cloud_y,cloud_z\n"
        "C1,1.5,2.5,3.5,NVA,0.012,0.008,2026-05-12 14:03,1.52,2.49,3.51\n"
        "C2,1.5,2.6,3.5,Tall grass,,,12/05/2026,,,\n"
    )
    first, second = read(write(tmp_path, text)).points
    assert (first.stratum, second.stratum) == ("nonvegetated", "vegetated")
    assert (first.sigma_vertical_m, first.sigma_horizontal_m) == (
        Decimal("0.012"),
        Decimal("0.008"),
    )
    assert (first.surveyed, second.surveyed) == ("2026-05-12T14:03:00", "")
    assert first.measured == (Decimal("1.52"), Decimal("2.49"), Decimal("3.51"))
    assert second.measured is None


def test_geojson_points(tmp_path: Path) -> None:
    """Positions are longitude, latitude and height on WGS 84 (RFC 7946), with every digit."""
    text = """{"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"name": "C1", "surface": "NVA"},
         "geometry": {"type": "Point", "coordinates": [-80.400123456789, 38.5961, 214.10]}},
        {"type": "Feature", "properties": {"name": "line"},
         "geometry": {"type": "LineString", "coordinates": [[0, 0], [1, 1]]}}]}"""
    table = read(write(tmp_path, text, name="points.geojson"))
    (point,) = table.points
    assert (point.id, point.east, point.north) == (
        "C1",
        Decimal("-80.400123456789"),
        Decimal("38.5961"),
    )
    assert (point.height, point.stratum) == (Decimal("214.10"), "nonvegetated")
    assert table.declared["horizontal"].value == "EPSG:4326"
    assert table.declared["horizontal"].where == "RFC 7946"
    assert table.skipped == ((2, "LineString is no point"),)


@pytest.mark.parametrize(
    "text",
    [
        "{",
        "{}",
        '{"type": "FeatureCollection", "features": []}',
        '{"type": "FeatureCollection", "features": 7}',
        '{"type": "Feature", "geometry": {"type": "Point", "coordinates": "here"}}',
        '{"type": "Feature", "geometry": {"type": "Point", "coordinates": [[1], 2]}}',
        "[" * 100_000,
    ],
)
def test_what_is_no_geojson_point(tmp_path: Path, text: str) -> None:
    """Whatever it is, it is refused in one line."""
    with pytest.raises(MalformedFileError):
        read(write(tmp_path, text, name="points.geojson"))


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    """No bytes whatever end in anything but a table or a refusal."""
    with contextlib.suppress(MalformedFileError):
        table = take_apart(decode_text(content, "t.csv"), "t.csv")
        build_table(table, read_what_it_says(table, "t.csv"), "t.csv", "0" * 64)


@given(st.decimals(allow_nan=False, allow_infinity=False, places=4, min_value=-1e7, max_value=1e7))
def test_numbers_keep_their_digits(number: Decimal) -> None:
    """Written with either mark a number is the same decimal, to the last digit."""
    text = f"{number:f}"
    assert read_number(text, "point") == number
    assert read_number(text.replace(".", ","), "comma") == number


@given(st.text(max_size=20))
def test_no_cell_is_half_a_number(cell: str) -> None:
    """A cell is a whole number in the table's hand, or none."""
    for mark in ("point", "comma"):
        number = read_number(cell, mark)
        assert number is None or number.is_finite()


def test_the_mark_of_whole_numbers_is_a_point() -> None:
    """Where no number has a mark, either will do."""
    assert find_decimal_mark([(1, "552031"), (1, "4272044")], "t.csv") == "point"
