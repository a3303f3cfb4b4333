"""Each command prints its documented object in every outcome, and numbers as numbers."""

from __future__ import annotations

import contextlib
import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from documented import list_disguises, require
from job_bench import JobBench, read_json

from ledger.content import read_facts
from ledger.model.artefact import MEASURED_FACTS
from ledger.report.jsonvalues import make_number, make_value
from ledger.testing import Layout, Scene, SurveyBuilder

REAL = Path(__file__).resolve().parents[1] / "real"
FIT = """
[job]
reference = "QM-0412"
[coordinates]
horizontal = "EPSG:6346"
unit.horizontal = "metre"
geoid.name = "made-up"
[criteria.point-density]
min_pts_per_m2 = 0.5
[criteria.classification]
allowed = [1, 2, 5]
[checks]
off = { seams = "single strip", height-chain = "no geoid here" }
"""


def make_survey(bench: JobBench, folder: str = "out/R1", columns: int = 1) -> SurveyBuilder:
    """Make a small survey in a folder of the job."""
    return SurveyBuilder(bench.job / folder, Layout(), Scene(columns=columns, density=2.0))


@pytest.fixture
def job(bench: JobBench) -> JobBench:
    """Return a job with a flight, a rig with a lever arm, and an accepted run of one tile."""
    make_survey(bench)
    bench.write("raw/scan.bin", bytes(99))
    bench.write("job.toml", FIT.encode())
    bench.ask("register", "raw", "--flight", "F1")
    bench.ask("record", "rig", "--set", "lever_arm_aircraft=0.112 0.004 -0.231")
    bench.ask("record", "flight", "F1", "--set", "base_height=1.50", "--set", "rig=G1")
    words = ["--set", "version=4.10", "--set", "geoid_applications=1", "--set", "zone=17"]
    bench.ask("record", "out/R1", "--input", "F1", *words)
    bench.ask("record", "decision", "R1", "accepted", "--reason", "looked at")
    return bench


# Commands that can be carried out, by what was made of the job before.


def test_an_empty_job(bench: JobBench) -> None:
    """A job that was only begun has something to say to every command that needs nothing else."""
    require("swathbook", bench.ask())
    require("checks", bench.ask("checks"))
    require("find", bench.ask("find"))
    require("find", bench.ask("find", "nothing"))
    require("recheck", bench.ask("recheck"))
    require("recheck", bench.ask("recheck", "--book-only"))
    require("trace", bench.ask("trace", "entry:1"))
    require("trace", bench.ask("trace", "entry:99", status=1))
    require("record", bench.ask("record", "rig", "--set", "bracket=B-1"))


def test_outside_of_a_job(bench: JobBench) -> None:
    """Without a job the commands that need none have their object all the same."""
    for words, command in (
        ([], "swathbook"),
        (["checks"], "checks"),
        (["record", "--blank"], "record --blank"),
        (["record", "rig", "--card", "rig.html"], "record --card"),
        (["--version"], "swathbook --version"),
    ):
        ran = bench.run(*words, "--json", cwd=bench.base)
        assert (ran.status, ran.err) == (0, ""), words
        require(command, read_json(ran.out))


@pytest.mark.parametrize("kind", ["run", "flight", "rig", "step"])
def test_the_empty_form(bench: JobBench, kind: str) -> None:
    """The empty form is an object with its text and its questions, and fills in as it stands."""
    words = ["record", *([] if kind == "run" else [kind]), "--blank"]
    form = bench.ask(*words)
    require("record --blank", form)
    assert form["kind"] == kind
    assert form["form"] == bench.run(*words).out
    assert {field["key"].split(".")[0] for field in form["fields"]} == {form["kind"]}


@pytest.mark.parametrize(
    ("fault", "quick", "verdict", "status"),
    [
        ("none", False, "fit to send", 0),
        ("none", True, "incomplete", 3),
        ("box", False, "send only with acceptance", 1),
        ("cut", False, "do not send", 1),
    ],
)
def test_every_verdict(job: JobBench, fault: str, quick: bool, verdict: str, status: int) -> None:
    """Whatever the verdict, and for a file that cannot be read, the object is as documented."""
    survey = make_survey(job, "deliver")
    if fault == "box":
        survey.wrong_box(0)
    if fault == "cut":
        survey.cut_share(0, 0.5)
    told = job.ask("audit", "deliver", *(["--quick"] if quick else []), status=status)
    require("audit", told)
    assert told["verdict"] == verdict, [f["sentence"] for f in told["findings"]]
    assert (told["points"] is None) == quick


def test_what_is_switched_off_is_in_the_json(job: JobBench) -> None:
    """Which check did not run, why, and who entered the job.toml that says so."""
    job.ask("recheck")
    job.write("job.toml", (FIT + "# changed\n").encode())
    told = job.ask("audit", "out/R1", "--by", "site engineer", status=None)
    entry = next(each.seq for each in reversed(job.read_journal()) if each.kind == "specification")
    again = job.ask("audit", "out/R1", "--by", "technician", status=None)
    for each in (told, again):
        assert each["switched_off"] == [
            {
                "check": "height-chain",
                "reason": "no geoid here",
                "by": "site engineer",
                "entry": entry,
            },
            {"check": "seams", "reason": "single strip", "by": "site engineer", "entry": entry},
        ]
    screen = " ".join(job.run("audit", "out/R1").out.split())
    assert f"Switched off in job.toml, as the site engineer entered it (entry {entry})" in screen
    assert "seams: single strip" in screen


def test_traces_of_every_kind(job: JobBench) -> None:
    """What the book knows, and what it does not: an entry is a number or null, never 0."""
    job.ask("audit", "out/R1", status=None)
    job.write("elsewhere/strange.laz", b"LASF")
    known = ["out/R1/tile_0_0.laz", "raw/scan.bin", "R1", "F1", "G1", "D1", "job.toml"]
    for target in (*known, "elsewhere/strange.laz", "ab" * 32, "R9", "F9", "entry:3"):
        for words in ([], ["--onward"]):
            told = job.ask("trace", target, *words, status=None)
            require("trace", told)
            for node in (*told["chain"], *told["onward"]):
                assert node["entry"] is None or node["entry"] > 0, (target, node)
    unknown = job.ask("trace", "elsewhere/strange.laz", status=1)
    assert unknown["known"] is False


def test_rechecks_of_every_kind(job: JobBench) -> None:
    """All as recorded, changed, missing, and a book that is broken."""
    job.ask("audit", "out/R1", status=None)
    require("recheck", job.ask("recheck", "--all"))
    job.write("raw/scan.bin", b"changed")
    require("recheck", job.ask("recheck", status=1))
    (job.job / "raw" / "scan.bin").unlink()
    require("recheck", job.ask("recheck", status=1))
    with contextlib.closing(sqlite3.connect(job.job / "swathbook.sqlite")) as tables, tables:
        tables.execute("DROP TRIGGER journal_keeps_entries")
        tables.execute("UPDATE journal SET body = body || ' ' WHERE seq = 2")
    broken = job.ask("recheck", status=1)
    require("recheck", broken)
    assert (broken["book"], broken["first_broken_entry"]) == ("broken", 2)


# Errors.


@pytest.mark.parametrize(
    "words",
    [
        ["register", "raw"],
        ["record"],
        ["amend", "R1", "--set", "version=1", "--reason", "x"],
        ["audit", "out"],
        ["accept", "abcd", "--by", "x", "--reason", "y"],
        ["trace", "R1"],
        ["find", "x"],
        ["compare", "R1", "R2"],
        ["recheck"],
    ],
    ids=" ".join,
)
def test_every_command_without_a_job(bench: JobBench, words: list[str]) -> None:
    """A command that needs a job is refused outside of one, with the documented object."""
    ran = bench.run(*words, "--json", cwd=bench.base)
    assert ran.status == 2
    value = read_json(ran.out)
    require("errors", value)
    assert [error["kind"] for error in value["errors"]] == ["no-book"]
    assert len(ran.lines) == 1


@pytest.mark.parametrize(
    ("content", "kind"), [(b"no database at all", "foreign-book"), (b"", "foreign-book")]
)
def test_a_book_that_cannot_be_used(bench: JobBench, content: bytes, kind: str) -> None:
    """What is wrong with a book is an object, too."""
    (bench.job / "swathbook.sqlite").write_bytes(content)
    for words in (["recheck"], ["trace", "R1"], []):
        ran = bench.run(*words, "--json")
        value = read_json(ran.out)
        require("errors", value)
        assert (ran.status, {error["kind"] for error in value["errors"]}) == (2, {kind}), words


def test_several_faults_are_several_errors(bench: JobBench) -> None:
    """Each fault of a job.toml is an error of its own, with its line as a number."""
    bench.write("job.toml", b"[job]\nreference = 3\ntitel = 'x'\n")
    for words in (["audit", "raw"], ["checks"]):
        value = read_json(bench.run(*words, "--json").out)
        require("errors", value)
        assert [error["line"] for error in value["errors"]] == [2, 3]


def test_an_interruption_is_an_object(bench: JobBench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C leaves one object, one line and status 130."""

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("ledger.cli.recheck.recheck", stop)
    ran = bench.run("recheck", "--json")
    assert ran.status == 130
    value = read_json(ran.out)
    require("errors", value)
    (error,) = value["errors"]
    assert error["kind"] == "interrupted"
    assert ran.lines[-1] == f"swathbook: {error['what']}"


# Numbers.


def test_recorded_numbers_are_numbers(job: JobBench) -> None:
    """A height, a lever arm and a count are numbers with their unit; a version is a name."""
    values = _list_values(job.ask("trace", "R1"))
    assert (values["flight.base_height"]["value"], values["flight.base_height"]["unit"]) == (
        1.5,
        "m",
    )
    assert values["rig.lever_arm_aircraft"]["value"] == [0.112, 0.004, -0.231]
    assert values["run.geoid_applications"]["value"] == 1
    assert values["run.version"]["value"] == "4.10"
    assert values["run.zone"]["value"] == "17"
    words = ["--set", "base_height=1.523", "--reason", "read again"]
    (amended,) = job.ask("amend", "F1", *words)["values"]
    assert (amended["before"]["value"], amended["after"]["value"]) == (1.5, 1.523)
    assert amended["after"]["unit"] == "m"


def test_numbers_that_differ_are_numbers(job: JobBench) -> None:
    """What two runs do not share is told with numbers, each with its unit."""
    make_survey(job, "out/R2")
    words = ["--set", "version=4.10", "--set", "lever_arm=0.1 0 0", "--set", "range_max=90"]
    job.ask("record", "out/R2", "--input", "F1", *words)
    make_survey(job, "out/R3")
    job.ask("record", "out/R3", "--input", "F1", *words[:2], "--set", "range_max=80.5")
    told = job.ask("compare", "R2", "R3")
    require("compare", told)
    (ranges,) = [each for each in told["differences"] if each["field"] == "range_max"]
    assert (ranges["a"]["value"], ranges["b"]["value"]) == (90, 80.5)
    assert ranges["a"]["unit"] == "m"


def _list_values(traced: dict[str, Any]) -> dict[str, Any]:
    return {key: value for node in traced["chain"] for key, value in node["values"].items()}


def test_criteria_and_what_was_found_are_numbers(job: JobBench) -> None:
    """Criteria are numbers, and so is what was found against what was asked where it has a unit."""
    job.write("job.toml", FIT.replace("0.5", "900.5").encode())
    told = job.ask("audit", "out/R1", status=None)
    criteria = {(each["check"], each["field"]): each["value"] for each in told["criteria"]}
    assert criteria["point-density", "min_pts_per_m2"] == 900.5
    assert criteria["classification", "allowed"] == [1, 2, 5]
    assert criteria["point-density", "counted"] is not None
    numbers = [each for each in told["findings"] if isinstance(each["observed"], float | int)]
    assert all(each["unit"] for each in numbers)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1.50", 1.5),
        ("-0.001", -0.001),
        ("17", 17),
        ("1e-07", 1e-7),
        ("-32768", -32768),
        (["0.1", "2"], [0.1, 2]),
        ("nan", "nan"),
        ("inf", "inf"),
        ("1e999", "1e999"),
        (str(2**53 - 1), 2**53 - 1),
        (str(2**53), str(2**53)),
        ("within 0.05", "within 0.05"),
        ("1,065", "1,065"),
        ("", ""),
        (None, None),
        (True, True),
    ],
)
def test_what_is_no_number_stays_text(text: object, number: object) -> None:
    """Texts become numbers only where JSON can hold them exactly."""
    made = make_number(text)
    assert (made, type(made)) == (number, type(number))
    json.dumps(made, allow_nan=False)


def list_real_files() -> list[Path]:
    """Return the real files that lie with the tests."""
    return sorted(path for path in REAL.iterdir() if path.is_file())


def test_no_fact_is_a_number_in_disguise() -> None:
    """Of every real file, what looks like a number becomes one, but for versions and names."""
    names = {"version", "software", "system", "marker", "receiver", "antenna", "created"}
    seen = set()
    for path in list_real_files():
        for key, value in read_facts(path).values.items():
            made = make_value(f"file.{key}", value)
            seen |= {key} if made != value else set()
            if key not in names:
                assert list(list_disguises(made, key)) == [], (path.name, key, value)
    assert seen <= MEASURED_FACTS
    assert len(seen) > 8


def test_registered_facts_are_numbers(bench: JobBench) -> None:
    """What a point file and a base log say of themselves comes as numbers."""
    for name in ("5points_14.las", "demo.10o"):
        shutil.copy(REAL / name, bench.job / "raw" / name)
    told = bench.ask("register", "raw")
    require("register", told)
    by_name = {Path(each["path"]).name: each["facts"] for each in told["files"]}
    cloud, log = by_name["5points_14.las"], by_name["demo.10o"]
    assert all(isinstance(number, float) for number in cloud["scale"])
    assert cloud["version"] == "1.4"
    assert all(isinstance(number, float | int) for number in log["position_m"])


@pytest.mark.parametrize("profile", ["asprs-2-5cm", "usgs-lbs-1-3-ql2", "fgdc-nssda"])
def test_a_published_profile(job: JobBench, profile: str) -> None:
    """The list of checks by a document says what of it is not tested."""
    text = f'[criteria]\nprofile = "{profile}"\n'
    job.write("job.toml", text.encode())
    told = job.ask("checks")
    require("checks", told)
    assert told["profile"]["id"] == profile
    assert told["profile"]["not_tested"]
