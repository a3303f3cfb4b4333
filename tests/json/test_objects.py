"""What `--json` prints is the documented object, to the last key and type, and nothing else.

Held against the `TypedDict` of each command, from which `docs/reference/json.md` is made.
"""

from __future__ import annotations

import math
import shutil
from typing import Any

import pytest
from documented import list_faults, require
from generate import JSON_OBJECTS, load_json_object
from job_bench import JobBench, read_json

from ledger.testing import Layout, Scene, SurveyBuilder


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> JobBench:
    """Return a job that has gone all the way, with a fault or two on it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        bench = JobBench(tmp_path_factory.mktemp("work"))
    survey = SurveyBuilder(bench.job / "out" / "R1", Layout(), Scene(rows=2, density=2.0))
    survey.wrong_box(0).no_crs(1)
    survey.add_document("notes.txt", b"notes")
    bench.write("raw/card/scan.bin", bytes(99))
    bench.write("raw/broken.laz", b"LASF")
    wishes = (
        '[job]\nreference = "QM-0412"\n'
        '[coordinates]\nhorizontal = "EPSG:6346"\nvertical = "orthometric"\n'
        "[criteria.point-density]\nmin_pts_per_m2 = 1.0\n"
        '[checks]\noff = { seams = "single strip" }\n'
    )
    bench.write("job.toml", wishes.encode())
    return bench


def test_every_command_is_among_those_tried() -> None:
    """A new command has to be tried here, too."""
    assert set(JSON_OBJECTS) == {
        "swathbook",
        "start",
        "register",
        "register --from-book",
        "record",
        "record --blank",
        "record --card",
        "amend",
        "compare",
        "compare of files",
        "compare of jobs",
        "repeat",
        "find",
        "audit",
        "accept",
        "trace",
        "recheck",
        "checks",
        "demo",
        "swathbook --version",
        "handover",
        "seal",
        "seal --request",
        "seal --timestamp",  # in tests/timestamp
        "receipt",
        "support",
        "find --everywhere",
        "find --recall",
        "find --ask --everywhere",
        "sitecard",
        "record deletion",
        "errors",
    }


def test_the_walker_finds_what_is_wrong() -> None:
    """Missing and additional keys, wrong types, true for a number and NaN are all found."""
    kind = load_json_object("checks")
    assert list(list_faults({"schema": 1}, kind, "x"))
    bad: tuple[tuple[Any, Any], ...] = (
        ("1", int),
        (True, int),
        (1, bool),
        (None, str),
        (math.nan, float),
        ([1, "2"], list[int]),
        ({"a": "b"}, dict[str, int]),
        (1.5, int | None),
        (math.inf, Any),
        ("4.5", str),
        ({"a": ["17"]}, Any),
        ({}, list[int]),
    )
    for value, hint in bad:
        assert list(list_faults(value, hint, "x")), (value, hint)
    good: tuple[tuple[Any, Any], ...] = (
        (1, float),
        (None, int | None),
        ({"a": 1}, dict[str, int]),
        ([], list[str]),
    )
    for value, hint in good:
        assert list(list_faults(value, hint, "x")) == []
    assert list(list_faults("4.10", str, "x.version")) == []


def test_the_whole_job(worked: JobBench) -> None:
    """Each command of the job, in the order of the job, prints its documented object."""
    started = read_json(worked.run("start", worked.base / "other", "--json").out)
    require("start", started)
    carried = worked.run("start", worked.base / "third", "--like", worked.job, "--json")
    require("start", read_json(carried.out))
    require("swathbook", worked.ask())
    require("register", worked.ask("register", "raw", "--flight", "F1"))
    require("register", worked.ask("register", "raw"))
    require("record", worked.ask("record", "rig", "--set", "rig.scanner_serial=S-1"))
    require("record", worked.ask("record", "flight", "F1", "--set", "flight.mount_mode=drone"))
    run = worked.ask("record", "out/R1", "--input", "F1", "--together", "--set", "run.version=3.2")
    require("record", run)
    assert run["outputs"]
    require("record", worked.ask("record", "decision", run["id"], "accepted"))
    words = ["--set", "mount_mode=drone", "--reason", "typed from the photo"]
    require("amend", worked.ask("amend", run["id"], *words))
    require("compare", worked.ask("compare", run["id"], run["id"]))
    require("compare of files", worked.ask("compare", run["id"], "out/R1/tile_0_0.laz"))
    require("compare of files", worked.ask("compare", "out/R1", "raw/card"))
    require("repeat", worked.ask("repeat", run["id"]))
    require("compare of jobs", worked.ask("compare", ".", worked.base / "other"))
    for words in ([], ["3.2"], ["--ask", "2"], ["--ask", "1"]):
        require("find", worked.ask("find", *words))
    require("audit", worked.ask("audit", "out/R1", "--quick", status=None))
    audited = worked.ask("audit", "out/R1", status=None)
    require("audit", audited)
    assert audited["findings"]
    assert audited["conforming"]
    assert audited["blanks"]
    minor = next(f for f in audited["findings"] if f["grade"] == "minor")
    words = ["--by", "site engineer", "--reason", "agreed"]
    require("accept", worked.ask("accept", minor["id"], *words))
    again = worked.ask("audit", "out/R1", status=None)
    require("audit", again)
    assert any(f["accepted"] for f in again["findings"])
    for target in ("out/R1/tile_0_0.laz", "raw/card/scan.bin", "R1", "F1", "G1", "D1", "entry:3"):
        require("trace", worked.ask("trace", target))
        require("trace", worked.ask("trace", target, "--onward"))
    require("trace", worked.ask("trace", "R9", status=1))
    require("trace", worked.ask("trace", "ab" * 32, status=1))
    require("recheck", worked.ask("recheck"))
    require("recheck", worked.ask("recheck", "--all"))
    require("recheck", worked.ask("recheck", "--book-only"))
    try_keeping(worked)
    (worked.job / "out" / "R1" / "tile_0_0.laz").unlink()
    worked.write("raw/card/scan.bin", b"changed")
    told = worked.ask("recheck", status=1)
    require("recheck", told)
    assert {file["state"] for file in told["files"]} == {"missing", "changed"}
    require("swathbook", worked.ask())
    require("checks", worked.ask("checks"))


def try_keeping(worked: JobBench) -> None:
    """Each command that makes a record worth keeping prints its documented object."""
    sent = [
        "handover",
        "out/R1",
        "--to",
        "client engineer",
        "--use",
        "first look",
        "--revision",
        "A",
    ]
    require("handover", worked.ask(*sent, status=1))
    require("handover", worked.ask(*sent, "--despite", "asked for as it is"))
    sealed = worked.ask("seal")
    require("seal", sealed)
    require("seal", worked.ask("seal"))
    require("seal --request", worked.ask("seal", "--request", "seal.tsq"))
    require("receipt", worked.ask("receipt", "out/R1/tile_0_0.laz"))
    require("recheck", worked.ask("recheck", "--book-only", "--against", sealed["file"]))
    require("support", worked.ask("support"))
    require("find --everywhere", worked.ask("find", "3.2", "--everywhere"))
    require("find --recall", worked.ask("find", "--recall", "3.2"))
    require("find --ask --everywhere", worked.ask("find", "--ask", "2", "--everywhere"))
    require("sitecard", worked.ask("sitecard", "--at", "-80.4,38.596"))
    (worked.job / "raw" / "broken.laz").unlink()
    words = ["record", "deletion", "raw/broken.laz", "--reason", "its time was over"]
    require("record deletion", worked.ask(*words))


def test_another_book(worked: JobBench) -> None:
    """What another computer entered in a copy of the book is taken over."""
    copy = worked.base / "copy"
    shutil.copytree(worked.job, copy)
    worked.ask("record", "rig", "--set", "rig.scanner_serial=S-1")
    worked.ask("record", "rig", "--set", "rig.scanner_serial=S-2", "--job", str(copy))
    require("register --from-book", worked.ask("register", "--from-book", copy))


def test_checks_outside_of_a_job(worked: JobBench) -> None:
    """The list of checks has its object without a job as well, and so has the bare command."""
    for words, command in ((["checks"], "checks"), ([], "swathbook")):
        ran = worked.run(*words, "--json", cwd=worked.base)
        assert (ran.status, ran.err) == (0, "")
        require(command, read_json(ran.out))


def test_the_demo_prints_one_object(bench: JobBench) -> None:
    """The demo prints one object on stdout, though it runs all the other commands."""
    ran = bench.run_apart("demo", "walk", "--json", cwd=bench.base)
    assert (ran.status, ran.err) == (0, "")
    require("demo", read_json(ran.out))


@pytest.mark.parametrize("words", [["audit", "out"], ["register", "raw"], ["recheck"], []])
def test_a_process_of_its_own_prints_nothing_else(bench: JobBench, words: list[str]) -> None:
    """Neither libraries nor progress write to stdout or stderr of a program that reads JSON."""
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0)).corrupt_laz(0)
    bench.write("raw/broken.tif", b"II*\0\xff\xff\xff\xff")
    ran = bench.run_apart(*words, "--json")
    assert ran.err == ""
    require(words[0] if words else "swathbook", read_json(ran.out))


@pytest.mark.parametrize("place", ["before", "after"])
def test_json_may_stand_before_or_after_the_command(bench: JobBench, place: str) -> None:
    """`--json` counts wherever it is typed."""
    words = ["--json", "recheck"] if place == "before" else ["recheck", "--json"]
    ran = bench.run(*words)
    assert (ran.status, ran.err) == (0, "")
    require("recheck", read_json(ran.out))


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (["audit", "none"], "usage"),
        (["register", "none"], "unreadable-file"),
        (["register", "raw"], "faults"),
        (["trace", "none"], "usage"),
        (["record", "none"], "unreadable-file"),
        (["accept", "abcd", "--by", "x", "--reason", "y"], "usage"),
        (["nonsense"], "usage"),
        (["audit"], "usage"),
        (["--job", "none", "recheck"], "usage"),
        (["recheck", "--nonsense"], "usage"),
    ],
)
def test_errors_are_objects_too(bench: JobBench, words: list[str], kind: str) -> None:
    """An error is one object with every key, a line of text each on stderr, exit status 2."""
    (bench.job / "raw" / "loop").symlink_to("loop")
    (bench.job / "raw" / "broken").symlink_to("nothing")
    ran = bench.run(*words, "--json")
    assert ran.status == 2
    value = read_json(ran.out)
    require("errors", value)
    assert len(ran.lines) == len(value["errors"]) > 0
    assert {error["kind"] for error in value["errors"]} == {kind}
