"""`job.toml` and forms that were filled in wrongly: every fault at once, each with its line."""

from __future__ import annotations

import os

import pytest
from job_bench import JobBench, read_json

# Each line that is wrong ends in a remark with words that have to be said of it.
TEN_FAULTS = """
carried = ["coordinates.geiod"]  # did you mean coordinates.geoid?

[job]
referense = "QM-0412"  # did you mean reference?
title = 3  # is not a text

[folders]
copies = "two"  # is not a whole number
outt = "out"  # did you mean out?

[coordinates]
epoch = nan  # is not a finite number
vertical = "orthometrik"  # did you mean orthometric?
unit = { horizontal = "feet", vertical = "metre" }  # does not say which foot
scale_basis = ""  # is empty

[delivery]
tile_size_m = 0  # is out of range
"""
# Commands that need a valid job.toml, and those that do not.
STRICT = [["audit", "raw"], ["checks"], ["start", "../new", "--like", "."]]
LENIENT = [
    ["register", "raw"],
    ["record", "flight", "--set", "wind=light"],
    ["trace", "raw/a.txt"],
    ["recheck"],
    [],
]


@pytest.fixture
def job(bench: JobBench) -> JobBench:
    """Return a job with a registered file."""
    bench.write("raw/a.txt", b"a")
    bench.ask("register", "raw")
    return bench


def test_ten_faults_are_ten_lines(job: JobBench) -> None:
    """Ten faults of one reading come at once, in the order of the file, each with its line."""
    job.write("job.toml", TEN_FAULTS.encode())
    wrong = [
        (number, line.split("  # ")[1])
        for number, line in enumerate(TEN_FAULTS.splitlines(), start=1)
        if "  # " in line
    ]
    assert len(wrong) == 10
    told = job.refuse("audit", "raw", lines=10)
    for line, (number, words) in zip(told, wrong, strict=True):
        assert line.startswith(f"job.toml line {number}: "), line
        assert words in line, line
    ran = job.run("audit", "raw", "--json")
    errors = read_json(ran.out)["errors"]
    assert [error["line"] for error in errors] == [number for number, _ in wrong]
    assert {error["kind"] for error in errors} == {"specification"}
    assert not (job.base / "new").exists()
    for command in LENIENT:  # who mistyped a wish still enters files and gets answers
        ran = job.run(*command)
        assert (ran.status, ran.err) == (0, ""), command


def test_criteria_and_checks_that_are_none(job: JobBench) -> None:
    """Checks and criteria that nobody supplies are told together, with the nearest name."""
    text = (
        "[criteria.point-densty]\nmin_pts_per_m2 = 4\n"
        "[criteria.classification]\nalowed = [1, 2]\n"
        '[checks]\noff = { seems = "one tile", file-readable = "never" }\n'
    )
    job.write("job.toml", text.encode())
    told = job.refuse("audit", "raw", lines=4)
    assert all("job.toml line " in line for line in told)
    for words in ("point-density", "allowed", "seams", "file-readable"):
        assert any(words in line for line in told), (words, told)


ENCODINGS = {
    "Latin-1": ('[job]\ntitle = "Straße"\n'.encode("latin-1"), "line 2: a character is not UTF-8"),
    "UTF-16": ('[job]\ntitle = "Straße"\n'.encode("utf-16"), "saved as UTF-16"),
    "byte order mark": ('[job]\ntitle = "Straße"\n'.encode("utf-8-sig"), "byte order mark"),
    "no TOML": (b"[job\n", "line 1: a heading is not closed"),
    "binary": (bytes(range(256)), "line 1"),
    "nested without end": (b"a = " + b"[" * 100_000, "nested too deeply"),
    "a number without end": (b"a = " + b"1" * 10_000, "a number is too long"),
}


@pytest.mark.parametrize(("content", "words"), ENCODINGS.values(), ids=ENCODINGS)
def test_a_file_that_an_editor_spoiled(job: JobBench, content: bytes, words: str) -> None:
    """What needs the wishes is refused in one line; everything else goes on as before."""
    job.write("job.toml", content)
    for command in STRICT:
        (line,) = job.refuse(*command)
        assert words in line, line
    for command in LENIENT:
        ran = job.run(*command)
        assert (ran.status, ran.err) == (0, ""), command


@pytest.mark.parametrize("kind", ["a folder", "a pipe", "a broken link", "nothing"])
def test_something_else_in_place_of_the_wishes(job: JobBench, kind: str) -> None:
    """A folder, a pipe or a broken link of that name is one line, never waited for.

    Commands that enter `job.toml` refuse what they could not enter; without any file they go on.
    """
    path = job.job / "job.toml"
    path.unlink()
    if kind == "a folder":
        path.mkdir()
    if kind == "a pipe":
        os.mkfifo(path)
    if kind == "a broken link":
        path.symlink_to("nothing")
    (line,) = job.refuse("audit", "raw")
    assert "job.toml cannot be read" in line
    for command in (["trace", "raw/a.txt"], ["recheck"], []):
        ran = job.run(*command)
        assert (ran.status, ran.err) == (0, ""), command
    for command in (["register", "raw"], ["record", "flight", "--set", "wind=light"]):
        if kind == "nothing":
            assert job.run(*command).status == 0
        else:
            (line,) = job.refuse(*command)
            assert "job.toml cannot be read" in line


@pytest.mark.parametrize(
    ("words", "setting", "nearest"),
    [
        (["flight"], "base_hieght=1.5", "base_height"),
        (["flight"], "flight.base_hieght=1.5", "base_height"),
        (["rig"], "lever_arm_scaner=0.1", "lever_arm_scanner"),
        (["raw"], "softwere=Example", "software"),
    ],
)
def test_a_setting_that_is_none_names_the_nearest(
    job: JobBench, words: list[str], setting: str, nearest: str
) -> None:
    """`--set` with an unknown key is one line with the nearest key, and enters nothing."""
    (line,) = job.refuse("record", *words, "--set", setting)
    assert f"did you mean {nearest}?" in line, line


def test_several_wrong_settings_come_together(job: JobBench) -> None:
    """Three wrong settings are three lines."""
    settings = ["base_height=high", "mount_mode=balloon", "nonsense=1"]
    told = job.refuse(
        "record", "flight", *(word for each in settings for word in ("--set", each)), lines=3
    )
    for name in ("base_height", "mount_mode", "nonsense"):
        assert any(name in line for line in told), told


def test_a_form_with_three_faults_is_three_lines(job: JobBench) -> None:
    """A filled-in form is read to its end, and each fault has its line; nothing is entered."""
    form = (
        "[flight]\n"
        'mount_mode = "balloon"\n'
        "base_hieght = 1.5\n"
        'wind = "light"\n'
        'takeoff = "yesterday"\n'
    )
    job.write("form.toml", form.encode())
    told = job.refuse("record", "flight", "--from", "form.toml", lines=3)
    assert [line.split(":")[0] for line in told] == [f"form.toml line {n}" for n in (2, 3, 5)]
    assert "did you mean base_height?" in told[1]


FORMS = {
    "a folder": "raw",
    "nothing": "none.toml",
    "an empty path": "",
    "a pipe": "pipe",
    "a device": "/dev/zero",
    "a point file": "raw/a.las",
    "a text": "raw/a.txt",
}


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
@pytest.mark.parametrize("words", [["flight"], ["rig"], ["raw"]], ids=" ".join)
def test_a_form_that_is_none(job: JobBench, words: list[str], form: str) -> None:
    """`--from` of a folder, a pipe, a device or another file is one line."""
    os.mkfifo(job.job / "pipe")
    job.write("raw/a.las", b"LASF" + bytes(400))
    (line,) = job.refuse("record", *words, "--from", form)
    assert len(line) < 300


def test_a_folder_where_a_file_is_meant(job: JobBench) -> None:
    """`trace FOLDER` and `audit FILE` say what was meant; each is one line."""
    (line,) = job.refuse("trace", "raw")
    assert "a trace follows one file" in line
    (line,) = job.refuse("audit", "raw/a.txt")
    assert "this is a file, not a folder" in line
    (line,) = job.refuse("register", "--as", "capture", "empty-name\0")
    assert "null" in line


@pytest.mark.parametrize("place", [".", "..", "raw/.."])
def test_the_job_itself_is_never_audited(job: JobBench, place: str) -> None:
    """The folder of the book, or one around it, cannot be sent."""
    (line,) = job.refuse("audit", place)
    assert "the job folder lies inside this folder" in line


def test_empty_folders(job: JobBench) -> None:
    """There is nothing to enter from an empty folder, and nothing to send."""
    (job.job / "nothing" / "below").mkdir(parents=True)
    told = {command: job.refuse(command, "nothing") for command in ("register", "audit", "record")}
    assert {command: line.split(": ")[1].split(";")[0] for command, (line,) in told.items()} == {
        "register": "there is no file to register",
        "audit": "there is no file in the folder",
        "record": "there is no file to record",
    }


@pytest.mark.parametrize(
    "words",
    [
        ["accept", "zzzz", "--by", "site engineer", "--reason", "x"],
        ["accept", "abcd", "--by", "site engineer", "--reason", "x"],
        ["accept", "", "--by", "site engineer", "--reason", "x"],
        ["record", "decision", "R9", "rejected"],
        ["record", "flight", "F9"],
        ["record", "raw", "--input", "R9"],
        ["register", "raw", "--flight", "F9"],
        ["register", "raw", "--as", "nonsense"],
        ["recheck", "nowhere"],
        ["trace", "nowhere.las"],
        ["trace", "run:F1"],
        ["nonsense"],
        ["audit"],
        ["audit", "raw", "more"],
        ["--nonsense"],
    ],
    ids=" ".join,
)
def test_what_means_nothing_is_one_line(job: JobBench, words: list[str]) -> None:
    """Unknown ids, options, roles and paths are one line each and enter nothing."""
    job.refuse(*words)


@pytest.mark.parametrize("number", ["-1", "one", "1.0", "0x1"])
def test_an_entry_that_is_no_number(job: JobBench, number: str) -> None:
    """What can be no number of an entry is refused in one line."""
    (line,) = job.refuse("trace", f"entry:{number}")
    assert "is no entry" in line


@pytest.mark.parametrize("number", ["0", "99", "9" * 30, "٣"])
def test_an_entry_that_is_not_there(job: JobBench, number: str) -> None:
    """A number of an entry that the book does not have is unknown, exit status 1."""
    ran = job.run("trace", f"entry:{number}")
    assert (ran.status, ran.err) == (1, "") if number != "٣" else (0, "")
