"""A table of points is recorded once, and carried to the next with the same columns."""

from __future__ import annotations

from typing import Any

import pytest
from job_bench import JobBench
from point_tables import DECLARED, PLAIN, ROWS, WISHES, set_words
from scripted import Scripted

from ledger.model.ask import NoProgress
from ledger.model.known import KnownBy
from ledger.record.card import CardOptions
from ledger.record.points import record_points
from ledger.store.reading import Book
from ledger.testing import SurveyBuilder


def values(bench: JobBench, name: str) -> dict[str, Any]:
    """Return what the book holds of a table, by the short name of the field."""
    with Book.open(bench.job) as book:
        card = book.card(name)
    assert card is not None
    return {key.removeprefix("points."): known for key, known in card.values.items()}


def test_what_the_file_says_is_read_and_entered(bench: JobBench) -> None:
    """Columns and comment lines are recorded as read, with their line; the file is registered."""
    bench.write("control/checks.csv", (DECLARED + PLAIN).encode())
    result = bench.ask("record", "points", "control/checks.csv", "--set", "role=checkpoints")
    assert (result["id"], result["kind"]) == ("P1", "points")
    known = values(bench, "P1")
    assert known["column_east"].value == "easting"
    assert known["column_east"].known_by is KnownBy.READ
    assert known["column_east"].where == "checks.csv line 2"
    assert known["horizontal"].where == "checks.csv line 1"
    assert (known["role"].known_by, known["file"].where) == (KnownBy.TYPED, "control/checks.csv")
    assert result["computed"] == [
        "2 points; the first, C1: easting 552031.12, northing 4272044.34, height 214.1."
    ]
    with Book.open(bench.job) as book:
        (use,) = book.uses(known["file"].value)
    assert use.file.role == "checkpoints"


def test_points_without_a_height_are_named_while_somebody_looks(bench: JobBench) -> None:
    """A row whose height is blank is a point and tests none; the audit says what to do of it."""
    rows = "C1;552031.12;4272044.34;214.1\nC2;552040;4272050;\nC3;552050;4272060;214.2\n"
    text = f"{DECLARED}id;easting;northing;height\n{rows}"
    bench.write("control/checks.csv", text.encode())
    result = bench.ask("record", "points", "control/checks.csv", "--set", "role=checkpoints")
    assert "1 point has no height in the table and will test none: C2." in result["notes"]


def test_a_table_of_which_nothing_is_said_is_no_checkpoints(bench: JobBench) -> None:
    """Without a role it is neither registered as one nor used, and the audit names the command."""
    bench.write("control/points.csv", PLAIN.encode())
    bench.ask("record", "points", "control/points.csv")
    assert "role" not in values(bench, "P1")
    SurveyBuilder(bench.job / "out")
    bench.write("job.toml", WISHES)
    result = bench.ask("audit", "out", status=None)
    (found,) = [f for f in result["findings"] if f["check"] == "checkpoint-patch"]
    assert found["outcome"] == "not assessed"
    assert "swathbook record points control/points.csv" in found["sentence"]


@pytest.mark.parametrize(
    ("header", "said", "told"),
    [
        ("id,east,north,Ellipsoid height", {"vertical": "orthometric"}, "says ellipsoidal"),
        ("id,east,north,Elev (US ft)", {"unit_vertical": "metre"}, "says us-survey-foot"),
        ("# role: control\nid,e,n,h", {"role": "checkpoints"}, "checks.csv line 1 says control"),
        ("id,east,north,Ellipsoid height", {"vertical": "ellipsoidal"}, ""),
        ("id,east,north,Ellipsoid height", {"vertical": "EPSG:5703"}, ""),
    ],
)
def test_what_is_typed_against_the_file_is_told(
    bench: JobBench, header: str, said: dict[str, str], told: str
) -> None:
    """What is typed counts, and where the file says otherwise of itself, that is said at once."""
    bench.write("checks.csv", f"{header}\n{ROWS}".encode())
    result = bench.ask("record", "points", "checks.csv", *set_words(said))
    notes = [each for each in result["notes"] if "look which is right" in each]
    assert [told in each for each in notes] == ([True] if told else [])


def test_two_columns_for_the_height_are_told(bench: JobBench) -> None:
    """None of them is taken in silence, and both are named."""
    bench.write("a.csv", b"id,easting,northing,h,elevation\nC1,552031.1,4272044.3,182.1,214.1\n")
    result = bench.ask("record", "points", "a.csv")
    assert any("h or elevation" in each for each in result["notes"])


@pytest.mark.parametrize(
    ("place", "is_told"),
    [("552031.15,4272044.34", True), ("552031.18,4272044.34", False)],
)
def test_one_spot_under_two_names_is_told_at_once(
    bench: JobBench, place: str, is_told: bool
) -> None:
    """C9 lies 0.03 m from C1: one spot; at 0.06 m it is another one."""
    bench.write("control/checks.csv", (DECLARED + PLAIN + f"C9,{place},214.9\n").encode())
    result = bench.ask("record", "points", "control/checks.csv", "--set", "role=checkpoints")
    told = " ".join(str(each) for each in (*result["computed"], *result["notes"]))
    assert ("C9 and C1 (0.03 m apart)" in told) is is_told


def test_one_spot_in_degrees_is_told(bench: JobBench) -> None:
    """Of longitude a degree is shorter: 4e-7 of it are 0.035 m at 38.6 N, and one spot."""
    head = "# coordinate system: EPSG:4326\nid,longitude,latitude,height\n"
    rows = "C1,-80.4,38.6,214.1\nC2,-80.3999996,38.6,214.1\nC3,-80.399998,38.6,214.1\n"
    bench.write("control/checks.csv", (head + rows).encode())
    result = bench.ask("record", "points", "control/checks.csv", "--set", "role=checkpoints")
    told = " ".join(str(each) for each in (*result["computed"], *result["notes"]))
    assert "1 point lies on the spot of another one: C2 and C1 (0.03 m apart)." in told


def test_the_same_columns_carry_what_was_said(bench: JobBench) -> None:
    """Of the next table with these columns, what was said of the last one is offered as carried."""
    bench.write("a.csv", PLAIN.encode())
    said = {"role": "checkpoints", "horizontal": "EPSG:6346", "vertical": "EPSG:5703"}
    said |= {"unit_vertical": "metre", "base": "QM1", "surveyed": "2026-05-03"}
    bench.ask("record", "points", "a.csv", *set_words(said))
    bench.write("b.csv", (PLAIN + "C3,552131.12,4272144.34,215.2\n").encode())
    bench.ask("record", "points", "b.csv")
    known = values(bench, "P2")
    carried = known["vertical"]
    assert (carried.known_by, carried.confirmed, carried.can_prove) == (
        KnownBy.CARRIED,
        False,
        False,
    )
    assert "surveyed" not in known, "the day is that of one survey"
    bench.write("c.csv", PLAIN.replace("height", "elevation").encode())
    bench.ask("record", "points", "c.csv")
    assert "vertical" not in values(bench, "P3"), "other columns are another kind of table"


def test_recording_a_file_again_adds_to_it(bench: JobBench) -> None:
    """The same file is the same table: what was typed before stays, what is new is added."""
    bench.write("a.csv", PLAIN.encode())
    bench.ask(
        "record", "points", "a.csv", *set_words({"column_east": "northing", "column_north": "2"})
    )
    again = bench.ask("record", "points", "a.csv", *set_words({"role": "control"}))
    assert again["id"] == "P1"
    known = values(bench, "P1")
    assert known["column_east"].value == "northing", "what a person said is not read over"
    assert known["role"].value == "control"
    assert bench.ask("record", "points", "p1", *set_words({"geoid": "GEOID18"}))["id"] == "P1"


def test_a_table_can_be_amended(bench: JobBench) -> None:
    """A wrong unit is struck through, with a reason, and the right one stands beside it."""
    bench.write("a.csv", PLAIN.encode())
    bench.ask("record", "points", "a.csv", *set_words({"unit_vertical": "metre"}))
    change = ("--set", "unit_vertical=us-survey-foot", "--reason", "read the rover's job again")
    bench.ask("amend", "P1", *change)
    assert values(bench, "P1")["unit_vertical"].value == "us-survey-foot"


@pytest.mark.parametrize(
    ("text", "said", "told"),
    [
        (ROWS, {}, "nobody said which column is the easting and northing"),
        (PLAIN.replace("552031.12", '"552,031.12"'), {}, "marks between its thousands"),
        (PLAIN, {"horizontal": "EPSG:999999"}, "EPSG:999999"),
        (PLAIN, {"horizontal": "EPSG:5703"}, "no system for easting and northing"),
        (PLAIN, {"vertical": "high"}, "neither a kind of heights nor the code"),
        (PLAIN, {"vertical": "EPSG:6346"}, "neither a kind of heights nor the code"),
        (PLAIN, {"unit_vertical": "feet"}, "unit_vertical"),
        (PLAIN, {"column_height": "depth"}, "no such column"),
        ("hello\n", {}, "not a table of points"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(
    bench: JobBench, text: str, said: dict[str, str], told: str
) -> None:
    """Nothing is entered, and the one line says what would do."""
    bench.write("a.csv", text.encode())
    (line,) = bench.refuse("record", "points", "a.csv", *set_words(said))
    assert told in line
    with Book.open(bench.job) as book:
        assert book.cards("points") == ()


@pytest.mark.parametrize("words", [(), ("P7",), ("nowhere.csv",), (".",)])
def test_a_table_that_is_not_there(bench: JobBench, words: tuple[str, ...]) -> None:
    """No table, an id that is not in the book, no file, a folder: one line each."""
    bench.refuse("record", "points", *words)


def test_exchanged_columns_are_doubted_at_once(bench: JobBench) -> None:
    """A point outside of the area of its system is told, and that exchanged axes would fit."""
    bench.write("a.csv", (DECLARED + PLAIN.replace("easting,northing", "y,x")).encode())
    result = bench.ask("record", "points", "a.csv")
    (note,) = result["notes"]
    assert "with easting and northing exchanged it would lie inside" in note


def test_a_person_is_asked_which_column_is_what(bench: JobBench) -> None:
    """Without names each column is offered by its number; what the file says is not asked."""
    path = bench.write("a.txt", (DECLARED + ROWS).encode())
    answers = {"points.column_id": "column 1", "points.column_east": "column 2"}
    answers |= {"points.column_north": "column 3", "points.column_height": "column 4"}
    person = Scripted({**answers, "points.role": "control"})
    result = record_points(bench.job, str(path), CardOptions(), person, NoProgress())
    assert person.told[0] == (
        "The first row has column 1: C1; column 2: 552031.12; column 3: 4272044.34; "
        "column 4: 214.1."
    )
    offered = {each.key: each.choices for each in person.asked}
    assert offered["points.column_east"] == ("column 1", "column 2", "column 3", "column 4")
    assert "points.horizontal" not in offered
    assert result.values["points.column_east"].value == "column 2"
    # The next one of this kind: all is shown in one question, and confirmed by leaving it.
    again = Scripted()
    other = bench.write("b.txt", (DECLARED + ROWS.replace("C", "D")).encode())
    result = record_points(bench.job, str(other), CardOptions(), again, NoProgress())
    known = result.values["points.column_east"]
    assert (known.value, known.known_by, known.confirmed) == ("column 2", KnownBy.CARRIED, True)
    assert {each.key for each in again.asked} <= {"shown", *_LATER}


_LATER = tuple(
    f"points.{name}" for name in ("epoch", "base", "surface", "surveyed", "sigma_vertical", "geoid")
)


@pytest.mark.parametrize(
    ("lines", "said", "told"),
    [
        ("# unit: metre\nid,E (ftUS),N (ftUS),Elev (ftUS)\n", {}, "line 2 says us-survey-foot"),
        ("id,E,N,Elev (ft)\n", {"unit_vertical": "metre"}, "line 1 says foot"),
        ("# units: feet\nid,E,N,H\n", {"unit_vertical": "metre"}, "line 1 says foot"),
        ("# role: control\n# kind: checks\nid,E,N,H\n", {}, "line 2 says checkpoints"),
    ],
)
def test_two_lines_that_cannot_both_be_right_are_told(
    bench: JobBench, lines: str, said: dict[str, str], told: str
) -> None:
    """One of them is taken; that the other says otherwise is never passed over."""
    bench.write("control/checks.csv", (lines + ROWS).encode())
    ran = bench.run("record", "points", "control/checks.csv", *set_words(said))
    assert f"{told}: look which is right." in " ".join(ran.out.split())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (ROWS, "found column 1 (C1 …), column 2 (552031.12 …)"),
        ("id E N H\nC 1 552031.1 4272044.3 214.1\n", "separate the columns by tabs"),
        ("", "found no rows, expected easting, northing and height"),
        ("one\ntwo\n", "found no three columns"),
    ],
)
def test_what_is_refused_says_what_to_do(bench: JobBench, text: str, told: str) -> None:
    """In one line, with what stands there: nobody opens the file to count its columns."""
    bench.write("control/checks.csv", text.encode())
    (line,) = bench.refuse("record", "points", "control/checks.csv")
    assert told in line


@pytest.mark.parametrize("unit", ["us-survey-foot", "international-foot"])
def test_a_foot_of_either_kind_fits_a_foot(bench: JobBench, unit: str) -> None:
    """Who says which foot it is contradicts nobody."""
    bench.write("control/checks.csv", ("id,E,N,Elev (ft)\n" + ROWS).encode())
    ran = bench.run("record", "points", "control/checks.csv", *set_words({"unit_vertical": unit}))
    assert "look which is right" not in " ".join(ran.out.split())


def test_a_geopackage_is_refused_with_what_to_do(bench: JobBench) -> None:
    """It is a database: its points are exported, not guessed at (OGC 12-128)."""
    bench.write("control/checks.gpkg", b"SQLite format 3\0" + bytes(84))
    (line,) = bench.refuse("record", "points", "control/checks.gpkg")
    assert "GeoPackage" in line
    assert "export its points as CSV or GeoJSON" in line
