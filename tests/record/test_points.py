"""A table of points is recorded once, carried to the next with the same columns, and audited."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from job_bench import JobBench

from ledger.model.ask import NoProgress, Question
from ledger.model.known import KnownBy
from ledger.record.card import CardOptions
from ledger.record.points import record_points
from ledger.store.reading import Book
from ledger.testing import Layout, Scene, SurveyBuilder, spread_points

DECLARED = "# coordinate system: EPSG:6346; heights: orthometric, GEOID18; unit: metre\n"
ROWS = "C1,552031.12,4272044.34,214.1\nC2,552131.12,4272144.34,215.2\n"
PLAIN = "id,easting,northing,height\n" + ROWS
SCENE = Scene(noise=0.005)
WISHES = b"""
[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
vertical_crs = "EPSG:5703"
unit = { horizontal = "metre", vertical = "metre" }
"""


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
    result = bench.ask("record", "points", "checks.csv", *_set(said))
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
    bench.ask("record", "points", "a.csv", *_set(said))
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
    bench.ask("record", "points", "a.csv", *_set({"column_east": "northing", "column_north": "2"}))
    again = bench.ask("record", "points", "a.csv", *_set({"role": "control"}))
    assert again["id"] == "P1"
    known = values(bench, "P1")
    assert known["column_east"].value == "northing", "what a person said is not read over"
    assert known["role"].value == "control"
    assert bench.ask("record", "points", "p1", *_set({"geoid": "GEOID18"}))["id"] == "P1"


def test_a_table_can_be_amended(bench: JobBench) -> None:
    """A wrong unit is struck through, with a reason, and the right one stands beside it."""
    bench.write("a.csv", PLAIN.encode())
    bench.ask("record", "points", "a.csv", *_set({"unit_vertical": "metre"}))
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
    (line,) = bench.refuse("record", "points", "a.csv", *_set(said))
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


@dataclass
class Person:
    """Answers by the key of the question; leaves the others blank."""

    answers: dict[str, str]
    asked: list[Question] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    interactive = True

    def answer(self, question: Question) -> str:
        """Give the answer to a question, what stands there, or a blank."""
        self.asked.append(question)
        return self.answers.get(question.key, question.default)

    def confirm(self, question: Question) -> bool:
        """Say yes."""
        self.asked.append(question)
        return True

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick nothing: all that is shown is right."""
        self.asked.append(question)
        return ()

    def tell(self, line: str) -> None:
        """Keep what is said."""
        self.told.append(line)


def test_a_person_is_asked_which_column_is_what(bench: JobBench) -> None:
    """Without names each column is offered by its number; what the file says is not asked."""
    path = bench.write("a.txt", (DECLARED + ROWS).encode())
    answers = {"points.column_id": "column 1", "points.column_east": "column 2"}
    answers |= {"points.column_north": "column 3", "points.column_height": "column 4"}
    person = Person({**answers, "points.role": "control"})
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
    again = Person({})
    other = bench.write("b.txt", (DECLARED + ROWS.replace("C", "D")).encode())
    result = record_points(bench.job, str(other), CardOptions(), again, NoProgress())
    known = result.values["points.column_east"]
    assert (known.value, known.known_by, known.confirmed) == ("column 2", KnownBy.CARRIED, True)
    assert {each.key for each in again.asked} <= {"shown", *_LATER}


_LATER = tuple(
    f"points.{name}" for name in ("epoch", "base", "surface", "surveyed", "sigma_vertical", "geoid")
)


def lay_out(bench: JobBench, error: float = 0.02) -> str:
    """Deliver a survey and return the text of a table on its ground."""
    SurveyBuilder(bench.job / "out", Layout(), SCENE)
    bench.write("job.toml", WISHES)
    points = spread_points(SCENE, 12, error=error)
    rows = [f"{each.id},{each.east},{each.north},{each.height}" for each in points]
    return "\n".join(["id,e,n,h", *rows, ""])


def find_patch(result: dict[str, Any]) -> dict[str, Any]:
    """Return the one answer about the ground at the checkpoints that is no observation."""
    found = [f for f in result["findings"] if f["check"] == "checkpoint-patch" and not f["grade"]]
    return found[0] if found else {"outcome": "conforms"}


def test_an_audit_reads_the_table_as_it_was_recorded(bench: JobBench) -> None:
    """Recorded it is used; changed afterwards it is not, until it is recorded again."""
    bench.write("control/checks.csv", (DECLARED + lay_out(bench)).encode())
    bench.ask("record", "points", "control/checks.csv", *_set({"role": "checkpoints"}))
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "conforms"
    bench.write("control/checks.csv", (DECLARED + lay_out(bench, error=0.5)).encode())
    found = find_patch(bench.ask("audit", "out", status=None))
    assert found["outcome"] == "not assessed"
    assert "it changed after it was recorded" in found["sentence"]
    (bench.job / "control" / "checks.csv").unlink()
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "not assessed"


def test_what_was_carried_passes_nothing(bench: JobBench) -> None:
    """Heights whose kind nobody confirmed may fail and never pass."""
    text = lay_out(bench)
    bench.write("first.csv", text.encode())
    said = {"horizontal": "EPSG:6346", "vertical": "orthometric", "unit_vertical": "metre"}
    bench.ask("record", "points", "first.csv", *_set({**said, "role": "control"}))
    bench.write("second.csv", text.replace("C0", "D0").encode())
    bench.ask("record", "points", "second.csv", *_set({"role": "checkpoints"}))
    found = find_patch(bench.ask("audit", "out", status=None))
    assert found["outcome"] == "inconclusive"
    assert "carried over and not confirmed" in found["sentence"]
    bench.ask("record", "points", "second.csv", *_set(said))
    assert find_patch(bench.ask("audit", "out", status=None))["outcome"] == "conforms"


def test_a_table_that_came_later(bench: JobBench, tmp_path: Path) -> None:
    """It is read as its comment lines say; one that says nothing is not held against the cloud."""
    text = lay_out(bench)
    later = tmp_path / "later.csv"
    later.write_text(DECLARED + text, encoding="utf-8")
    result = bench.ask("audit", "out", "--with-checkpoints", later, status=None)
    assert find_patch(result)["outcome"] == "conforms"
    later.write_text(text, encoding="utf-8")
    found = find_patch(bench.ask("audit", "out", "--with-checkpoints", later, status=None))
    assert found["outcome"] == "not assessed"
    assert "does not say in what coordinate system" in found["sentence"]
    later.write_text(ROWS, encoding="utf-8")
    (line,) = bench.refuse("audit", "out", "--with-checkpoints", later)
    assert "which column is the easting" in line


def _set(said: dict[str, str]) -> list[str]:
    return [word for key, value in said.items() for word in ("--set", f"{key}={value}")]


def test_what_the_file_says_otherwise_is_told_at_each_audit(bench: JobBench) -> None:
    """Not only when it was recorded: a wrong kind of heights waits in the table for years."""
    bench.write("control/checks.csv", (DECLARED + lay_out(bench)).encode())
    said = {"role": "checkpoints", "vertical": "ellipsoidal"}
    bench.ask("record", "points", "control/checks.csv", *_set(said))
    told = [
        f
        for f in bench.ask("audit", "out", status=None)["findings"]
        if f["check"] == "checkpoint-systems" and "contradict each other" in f["sentence"]
    ]
    assert [f["grade"] for f in told] == ["minor"]
    assert "Vertical is ellipsoidal here" in told[0]["sentence"]
    assert "says orthometric" in told[0]["sentence"]


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
    ran = bench.run("record", "points", "control/checks.csv", *_set(said))
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
    ran = bench.run("record", "points", "control/checks.csv", *_set({"unit_vertical": unit}))
    assert "look which is right" not in " ".join(ran.out.split())


def test_a_table_that_is_edited_after_an_audit_ends_it(bench: JobBench) -> None:
    """The numbers of the audit are of other points then; nothing is handed over on them."""
    text = DECLARED + lay_out(bench)
    bench.write("control/checks.csv", text.encode())
    bench.ask("record", "points", "control/checks.csv", *_set({"role": "checkpoints"}))
    bench.ask("audit", "out", status=None)
    ended = "control/checks.csv is not the one that it was held against"
    assert ended not in " ".join(bench.run("recheck").out.split())
    bench.write("control/checks.csv", text.replace("C01", "X01").encode())
    assert ended in " ".join(bench.run("recheck").out.split())
    ran = bench.run("handover", "out", "--to", "client", "--use", "design")
    assert ran.status == 1
    assert "was not handed over" in ran.out
    assert ended in " ".join(ran.out.split())


def test_a_geopackage_is_refused_with_what_to_do(bench: JobBench) -> None:
    """It is a database: its points are exported, not guessed at (OGC 12-128)."""
    bench.write("control/checks.gpkg", b"SQLite format 3\0" + bytes(84))
    (line,) = bench.refuse("record", "points", "control/checks.gpkg")
    assert "GeoPackage" in line
    assert "export its points as CSV or GeoJSON" in line
