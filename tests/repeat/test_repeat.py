"""A run done again: readiness, the sheet, the command in a clean folder, and the grade."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest
from altered_clouds import write_ground
from documented import require
from job_bench import JobBench

from ledger.errors import UsageError
from ledger.model.ask import NoProgress
from ledger.repeat import RepeatOptions, repeat
from ledger.store.reading import BOOK_NAME

# Copies every point file from one folder to another, does what its third word says, and ends.
PROGRAM = """
import pathlib, shutil, sys, time
source, target, what = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
target.mkdir(parents=True, exist_ok=True)
for path in sorted(source.glob("*.las")):
    shutil.copyfile(path, target / path.name)
    if what == "stamp":  # another day in the header: bytes 90 to 93 of a LAS file
        with open(target / path.name, "r+b") as stream:
            stream.seek(90)
            stream.write(int(time.time_ns() % 2**32).to_bytes(4, "little"))
    if what == "spoil":
        path.write_bytes(b"spoiled")
sys.exit(3 if what == "fail" and "repeat" in str(pathlib.Path.cwd()) else 0)
"""


@pytest.fixture
def made(bench: JobBench) -> JobBench:
    """Return a job with a flight, and a program in it."""
    write_ground(bench.job / "raw" / "a.las")
    bench.write("program.py", PROGRAM.encode())
    assert bench.run("register", "raw", "--flight", "F1").status == 0
    return bench


def record(made: JobBench, what: str = "copy", source: str = "raw", target: str = "out/R1") -> None:
    """Run the program and record it."""
    words = ["record", "--input", "F1", "--yes", "--set", "software=p", "--set", "version=1"]
    ran = made.run(*words, "--command", "--", sys.executable, "program.py", source, target, what)
    assert ran.status == 0, ran.err


def snapshot(folder: Path) -> dict[Path, tuple[int, bytes]]:
    """Return time and content of every file that is no part of the book."""
    found = [path for path in folder.rglob("*") if path.is_file()]
    return {
        path: (path.stat().st_mtime_ns, path.read_bytes())
        for path in found
        if ".swathbook" not in path.parts and not path.name.startswith("swathbook.sqlite")
    }


def test_a_command_is_run_again_and_graded_and_nothing_recorded_is_touched(made: JobBench):
    """Identical outputs lie elsewhere, the outcome is entered and stands beside the run."""
    record(made)
    before = snapshot(made.job)
    told = made.ask("repeat", "R1", "--run", "--yes")
    require("repeat", told)
    assert told["outcome"] == "identical"
    assert snapshot(made.job) == before
    assert (Path(told["folder"]) / "out" / "R1" / "a.las").is_file()
    assert not (Path(told["folder"]) / "raw" / "a.las").exists()  # a copy, no longer needed
    assert told["unrecorded"] == ["program.py"]
    entry = made.read_journal()[-1]
    assert (entry.kind, entry.values["process"], entry.values["manner"]) == (
        "repeat",
        "R1",
        "command",
    )
    assert entry.values["environment"]["program_sha256"]
    assert [row["path"] for row in made.read_list(entry, "outputs")] == ["a.las"]
    shown = made.run("trace", "R1").out
    assert "repeated" in shown
    assert "identical, command" in shown
    (node,) = [each for each in made.ask("trace", "out/R1/a.las")["chain"] if each["id"] == "R1"]
    assert node["values"]["run.repeated"]["value"].startswith("identical, command")


def test_variables_that_change_results_are_kept_and_no_others(
    made: JobBench, monkeypatch: pytest.MonkeyPatch
):
    """Threads, decimal signs, time zone, grids; a password beside them is nobody's record."""
    record(made)
    monkeypatch.setenv("TZ", "Pacific/Guam")
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    monkeypatch.setenv("LICENCE_PASSWORD", "hunter2")
    made.ask("repeat", "R1", "--run", "--yes")
    kept = made.read_journal()[-1].values["environment"]["variables"]
    assert (kept["TZ"], kept["OMP_NUM_THREADS"]) == ("Pacific/Guam", "3")
    assert b"hunter2" not in (made.job / BOOK_NAME).read_bytes()


def test_another_day_in_the_header_is_the_same_points(made: JobBench):
    """A program that writes the time gives other bytes and the same points."""
    record(made, "stamp")
    told = made.ask("repeat", "R1", "--run", "--yes")
    assert told["outcome"] == "same points"
    assert told["comparison"]["change"] == "header"


def test_a_command_that_spoils_its_input_spoils_a_copy(made: JobBench):
    """What the command was given is a copy; the recorded input is as it was."""
    record(made, "copy")
    made.write("program.py", PROGRAM.replace('"spoil"', '"copy"').encode())
    before = snapshot(made.job)
    made.ask("repeat", "R1", "--run", "--yes")
    assert snapshot(made.job) == before


def test_paths_into_the_job_written_out_in_full_lead_into_the_clean_folder(made: JobBench):
    """Absolute paths would otherwise write over the outputs of the first run."""
    record(made, source=str(made.job / "raw"), target=str(made.job / "out" / "R1"))
    before = snapshot(made.job)
    told = made.ask("repeat", "R1", "--run", "--yes", "--into", made.base / "again")
    assert told["outcome"] == "identical"
    assert snapshot(made.job) == before
    assert (made.base / "again" / "out" / "R1" / "a.las").is_file()


def test_outputs_outside_the_job_cannot_be_led_elsewhere(made: JobBench):
    """A command that would write over them is refused."""
    target = made.base / "elsewhere"
    words = ["--input", "F1", "--yes", "--set", "version=1", "--command", "--"]
    ran = made.run(
        "record", target, *words, sys.executable, "program.py", "raw", str(target), "copy"
    )
    assert ran.status == 0, ran.err
    (line,) = made.refuse("repeat", "R1", "--run", "--yes")
    assert "outside the job" in line
    assert "--with FOLDER" in line


def test_a_command_that_fails_is_entered_as_failed(made: JobBench):
    """Status 3 where it was 0: nothing is graded, and the status of ours is 1."""
    record(made, "fail")
    told = made.ask("repeat", "R1", "--run", "--yes", status=1)
    assert (told["outcome"], told["exit_status"], told["comparison"]) == ("failed", 3, None)
    assert made.read_journal()[-1].values["outcome"] == "failed"
    assert not (Path(told["folder"]) / "raw" / "a.las").exists()
    assert made.run("repeat", "R1", "--run", "--yes").out.startswith("Failed: the command ended")


def test_an_input_that_changed_is_refused(made: JobBench):
    """By its time at first sight; with its old time, by its digest."""
    record(made, "stamp")
    raw = made.job / "raw" / "a.las"
    found = raw.stat()
    raw.write_bytes(raw.read_bytes()[:-1] + b"x")
    (line,) = made.refuse("repeat", "R1", "--run", "--yes")
    assert "no longer where it was seen" in line
    assert made.ask("repeat", "R1")["readiness"] == "D"
    os.utime(raw, ns=(found.st_atime_ns, found.st_mtime_ns))
    (line,) = made.refuse("repeat", "R1", "--run", "--yes")
    assert "other bytes than were recorded" in line
    assert not list((made.job / ".swathbook").glob("repeat-*"))  # nothing half-made is left


def test_nothing_runs_before_somebody_said_so(made: JobBench):
    """Without a terminal it needs --yes; a person who says no is heard."""
    record(made)
    (line,) = made.refuse("repeat", "R1", "--run")
    assert "nobody is there to say that the command may run" in line

    class Refusing:
        interactive = True

        def confirm(self, question: object) -> bool:
            return False

    with pytest.raises(UsageError, match="was not run"):
        repeat(made.job, RepeatOptions("R1", is_run=True), Refusing(), NoProgress())  # type: ignore[arg-type]


def test_a_command_whose_secret_was_taken_out_cannot_be_run(made: JobBench):
    """The book does not hold what would have to be typed."""
    words = ["record", "--input", "F1", "--yes", "--set", "version=1", "--command", "--"]
    words += [sys.executable, "program.py", "raw", "out/R1", "copy", "--password", "hunter2"]
    assert made.run(*words).status == 0
    (line,) = made.refuse("repeat", "R1", "--run", "--yes")
    assert "a secret was taken out" in line


def test_options_and_folders_that_make_no_sense(made: JobBench):
    """One line each, nothing entered, nothing written."""
    record(made)
    assert "no such run" in made.refuse("repeat", "R7")[0]
    assert "choose one" in made.refuse("repeat", "R1", "--run", "--with", "x")[0]
    assert "--into and --yes" in made.refuse("repeat", "R1", "--yes")[0]
    assert "not empty" in made.refuse("repeat", "R1", "--run", "--yes", "--into", ".")[0]
    into = ["--into", "raw/again"]
    assert "among the raw data" in made.refuse("repeat", "R1", "--run", "--yes", *into)[0]
    assert "itself made" in made.refuse("repeat", "R1", "--with", "out/R1")[0]
    assert "no such file" in made.refuse("repeat", "R1", "--with", "nowhere")[0]


def test_outputs_made_by_hand_are_graded(made: JobBench):
    """A run of a program with windows has no command; its new outputs are named."""
    write_ground(made.job / "out" / "R1" / "a.las")
    assert made.run("record", "out/R1", "--input", "F1", "--set", "version=1").status == 0
    assert "was not run by a command" in made.refuse("repeat", "R1", "--run", "--yes")[0]
    write_ground(made.base / "again" / "a.las", seed=2)
    told = made.ask("repeat", "R1", "--with", made.base / "again")
    assert told["outcome"] == "equivalent"
    write_ground(made.base / "other" / "a.las", seed=2, shift=(0, 0, 0.3))
    told = made.ask("repeat", "R1", "--with", made.base / "other", status=1)
    assert told["outcome"] == "different"
    shown = made.run("trace", "R1").out
    assert "equivalent, by hand" in " ".join(shown.split())
    assert made.read_journal()[-1].values["manner"] == "by hand"


def test_what_the_book_knows_at_its_place_repeats_nothing(made: JobBench):
    """A delivered copy of the run's own outputs is identical, and no second run.

    Outputs of another run are none of this one either.
    """
    write_ground(made.job / "out" / "R1" / "a.las")
    assert made.run("record", "out/R1", "--input", "F1", "--set", "version=1").status == 0
    shutil.copytree(made.job / "out" / "R1", made.job / "deliver")
    made.run("audit", "deliver", "--quick")
    assert "no new output" in made.refuse("repeat", "R1", "--with", "deliver")[0]
    write_ground(made.job / "out" / "R2" / "a.las", seed=2)
    assert made.run("record", "out/R2", "--input", "F1", "--set", "version=2").status == 0
    assert "no new output" in made.refuse("repeat", "R1", "--with", "out/R2")[0]
    shutil.copytree(made.job / "out" / "R1", made.base / "again")
    for _ in range(2):  # graded twice, the same folder is as new as it was
        assert made.ask("repeat", "R1", "--with", made.base / "again")["outcome"] == "identical"


def test_first_outputs_that_are_gone_are_graded_by_what_the_book_kept(made: JobBench):
    """Digest and fingerprint are in the book; the same points are known without the file."""
    record(made)
    shutil.rmtree(made.job / "out" / "R1")
    told = made.ask("repeat", "R1", "--with", "raw")
    assert told["outcome"] == "identical"
    write_ground(made.base / "again" / "a.las", seed=2)
    told = made.ask("repeat", "R1", "--with", made.base / "again", status=1)
    assert told["outcome"] == "different"
    assert "By how much cannot be told" in told["comparison"]["notes"][0]


def make_whole(made: JobBench, *settings: str, config: bool = True) -> None:
    """Record a run of which everything is known by its bytes, less what is left out."""
    made.write("base/b.obs", (Path(__file__).parents[1] / "real" / "demo.10o").read_bytes())
    made.write("cal/calib.txt", b"calibration")
    made.write("tools/setup.exe", b"installer")
    shutil.copy(Path(__file__).parents[1] / "real" / "us_noaa_g2018p0.tif", made.job / "g.tif")
    for words in (
        ("register", "base", "--flight", "F1", "--as", "base-log"),
        ("register", "cal", "--as", "calibration"),
        ("register", "tools", "--as", "document"),
        ("register", "g.tif", "--as", "geoid"),
        ("record", "rig", "--set", "calibration_file=cal/calib.txt", "--set", "scanner_serial=S"),
        ("record", "flight", "F1", "--set", "rig=G1"),
    ):
        ran = made.run(*words)
        assert ran.status == 0, (words, ran.err)
    made.write("cfg/R1.json", b'{"mount": "drone", "range": {"max": 90}}')
    write_ground(made.job / "out" / "R1" / "a.las", seed=5)
    typed = ["record", "out/R1", "--input", "F1", "--set", "software=p", "--set", "version=1"]
    typed += ["--settings", "cfg/R1.json"] if config else []
    for each in settings:
        typed += ["--set", each]
    ran = made.run(*typed)
    assert ran.status == 0, ran.err


WHOLE = ("geoid_name=g", "geoid_file=g.tif", "installer=tools/setup.exe")


def test_grade_a_needs_everything_by_its_bytes(made: JobBench):
    """Raw data, base log, settings, geoid, calibration and installer, all there."""
    make_whole(made, *WHOLE)
    told = made.ask("repeat", "R1")
    assert (told["readiness"], told["missing"]) == ("A", []), told["items"]
    require("repeat", told)


def test_one_thing_by_a_record_alone_is_grade_b(made: JobBench):
    """Program and version without the installer."""
    make_whole(made, *WHOLE[:2])
    told = made.ask("repeat", "R1")
    assert told["readiness"] == "B"
    assert told["missing"] == ["installer: by name and version alone: p 1"]


def test_settings_that_were_typed_are_grade_c(made: JobBench):
    """Without a settings file the values are from memory."""
    make_whole(made, *WHOLE, "mount_mode=drone", config=False)
    assert made.ask("repeat", "R1")["readiness"] == "C"


@pytest.mark.parametrize("gone", ["base/b.obs", "g.tif", "cal/calib.txt", "tools/setup.exe"])
def test_a_file_that_is_gone_leaves_its_record(made: JobBench, gone: str):
    """One file away is grade B and is named; the shopping list says which."""
    make_whole(made, *WHOLE)
    (made.job / gone).unlink()
    told = made.ask("repeat", "R1")
    assert told["readiness"] == "B"
    assert gone in told["missing"][0]


def test_without_raw_data_it_is_grade_d(made: JobBench):
    """A record of raw data is no raw data."""
    make_whole(made, *WHOLE)
    (made.job / "raw" / "a.las").unlink()
    told = made.ask("repeat", "R1")
    assert told["readiness"] == "D"
    assert "it cannot be done again" in " ".join(made.run("repeat", "R1").out.split())


def test_without_any_setting_it_is_grade_d(made: JobBench):
    """A run that nobody said anything of."""
    made.write("out/R1/a.tif", b"II*\x00\x08\x00\x00\x00\x00\x00")
    assert made.run("record", "out/R1", "--input", "F1").status == 0
    assert made.ask("repeat", "R1")["readiness"] == "D"


def test_the_sheet_holds_every_setting_on_screen_and_on_paper(made: JobBench):
    """What was recorded, what the program wrote, what to give to it, what nobody recorded."""
    make_whole(made, *WHOLE, "range_max=90")
    told = made.ask("repeat", "R1")["sheet"]
    assert told["values"]["run.range_max"]["value"] == 90
    assert told["files"][0]["settings"] == [
        {"key": "mount", "text": "drone"},
        {"key": "range.max", "text": "90"},
    ]
    assert "Mount mode set in processing" in told["not_recorded"]
    made.run("repeat", "R1", "--page", "r1.html")
    page = (made.job / "r1.html").read_text(encoding="utf-8")
    for part in ("run.range_max", "90 m", "range.max", "cfg/R1.json", "raw/a.las", "grade A"):
        assert part in page, part
    assert "http" not in page.replace("http-equiv", "")
    assert "written over" in made.refuse("repeat", "R1", "--page", "r1.html")[0]
    assert ".html" in made.refuse("repeat", "R1", "--page", "r1.pdf")[0]
    assert "raw data" in made.refuse("repeat", "R1", "--page", "raw/r1.html")[0]


def test_a_page_shows_what_a_file_says_as_text(made: JobBench):
    """Settings are strangers' words: marks of HTML are shown and not obeyed."""
    make_whole(made, *WHOLE, "excluded_sector=<script>alert(1)</script>")
    made.run("repeat", "R1", "--page", "r1.html")
    page = (made.job / "r1.html").read_text(encoding="utf-8")
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
