"""Runs recorded at a real terminal: what an evening takes, in questions and keys."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from job_bench import run_here
from terminal import DOWN, ENTER, SPACE, Terminal

from ledger.model.known import KnownBy
from ledger.store.reading import Book
from ledger.testing import Layout, Scene, SurveyBuilder

Dial = Callable[..., Terminal]

FIRST = (
    "mount_mode=drone",
    "orientation=inverted",
    "position_source=aircraft receiver",
    "lever_arm_from=aircraft antenna",
    "lever_arm=0.112 0.004 0.231",
    "frame=NAD83(2011)",
    "input_height_type=ellipsoidal",
    "output_height_type=ellipsoidal",
    "geoid_name=none",
    "control_used=no",
    "decision=rejected",
    "reason=heights left ellipsoidal",
)


def process(job: Path, name: str, seed: int = 1) -> None:
    """Leave files in the folder of outputs, as the program does."""
    SurveyBuilder(job / "out" / name, Layout(compressed=False), Scene(density=1.0, seed=seed))


def record_first(job: Path) -> None:
    """Enter a flight, and the run of last time with all that the form asks."""
    (job / "raw" / "scan.bin").write_bytes(b"raw points")
    (job / "geoid").mkdir()
    (job / "geoid" / "demo-geoid-A.tif").write_bytes(b"II*\x00 a grid")
    process(job, "R1")
    assert run_here(["register", "raw", "--flight", "F1"], job).status == 0
    said = [word for setting in FIRST for word in ("--set", setting)]
    assert run_here(["record", "out/R1", "--input", "F1", *said], job).status == 0


def test_a_repeat_run_is_one_screen_and_what_changed(job: Path, dial: Dial) -> None:
    """What stood last time is left with one key; only what changed, and the decision, is asked.

    In seven questions and less than a hundred keys, the words of the answers among them.
    """
    record_first(job)
    process(job, "R2", seed=2)
    terminal = dial("record", size=(80, 24))
    terminal.wait_for("from flight F1")
    terminal.type(ENTER)
    terminal.wait_for("Was ground control used: no")
    shown = terminal.text
    assert "10 answers to look at, then 2 questions" in shown
    assert "Which of these are not right for this run" in shown
    for line in ("Mount mode set in processing: drone", "to the scanner: 0.112 0.004 0.231 m"):
        assert line in shown
    terminal.type(DOWN * 7, SPACE, DOWN, SPACE, ENTER)
    terminal.wait_for("Heights that came out")
    terminal.wait_for("(leave blank)")
    terminal.type(DOWN, ENTER)
    terminal.wait_for("Geoid model applied")
    terminal.wait_for("Enter leaves it blank")  # that of other heights is not offered
    terminal.type("demo-geoid-A", ENTER)
    terminal.wait_for("Version of the geoid model")
    terminal.type("1", ENTER)
    terminal.wait_for("Geoid grid file")
    terminal.type("geoid/demo-geoid-A.tif", ENTER)
    terminal.wait_for("Keep this run")
    terminal.wait_for("rejected")
    terminal.type(DOWN, ENTER)
    terminal.wait_for("Reason, in one line")
    terminal.type("fits", ENTER)
    terminal.wait_for("Recorded run R2")
    assert terminal.end() == 0
    assert terminal.keys < 100
    with Book.open(job) as book:
        values = {process.id: process for process in book.processes()}["R2"].values
    carried = {key for key, known in values.items() if known.known_by is KnownBy.CARRIED}
    assert "run.mount_mode" in carried
    assert len(carried) == 8
    assert all(known.confirmed for known in values.values())
    assert values["run.output_height_type"].value == "orthometric"
    assert values["run.geoid_file"].where == "geoid/demo-geoid-A.tif"


# Made up; no program's settings are imitated.
SETTINGS = {
    "mount": {"mode": "UAV"},
    "leverArm": {"x": "0.112", "y": "0.004", "z": "0.231"},
    "ntrip": {"password": "Zx9-kw!7Qp"},
}


def write_settings(job: Path, name: str, heights: str) -> None:
    """Leave settings beside the outputs, as the program does."""
    (job / "config").mkdir(exist_ok=True)
    text = json.dumps({**SETTINGS, "output": {"heights": heights}})
    (job / "config" / name).write_text(text, encoding="utf-8")


def begin_with_settings(terminal: Terminal, name: str) -> None:
    """Answer the first questions, and choose the newest settings file."""
    terminal.wait_for("from flight F1")
    terminal.type(ENTER)
    terminal.wait_for(f"config/{name} (written 2")
    assert "newest first" in terminal.text
    terminal.type(DOWN, ENTER)


def test_a_settings_map_is_made_once_and_used_again(job: Path, dial: Dial) -> None:
    """The first run is asked which key is which; the second names its file, and that is all."""
    record_first(job)
    process(job, "R2", seed=2)
    write_settings(job, "R2.json", "ellipsoidal")
    terminal = dial("record")
    begin_with_settings(terminal, "R2.json")
    for question, keys in (
        ("Mount mode set in processing", DOWN),
        ("Where the lever arm set in processing starts", ""),
        ("Lever arm set in processing", DOWN),
        ("Heights that went in", ""),
        ("Heights that came out", DOWN),
        ('config/R2.json: mount.mode says "UAV"', DOWN),
    ):
        terminal.wait_for(question)
        terminal.wait_for("none of these")
        terminal.type(keys, ENTER)
    terminal.wait_for("config/R2.json says: mount mode drone; ")
    terminal.wait_for("7 answers to look at, then 2 questions")
    terminal.wait_for("Was ground control used: no")
    assert "Mount mode set in processing: drone" not in terminal.text
    finish(terminal, "R2")
    process(job, "R3", seed=3)
    write_settings(job, "R3.json", "orthometric")
    terminal = dial("record")
    begin_with_settings(terminal, "R3.json")
    terminal.wait_for("config/R3.json says: mount mode drone; ")
    terminal.wait_for("Was ground control used: no")
    assert "which of these is it?" not in terminal.text
    terminal.type(ENTER)
    terminal.wait_for("Geoid model applied")  # heights of another kind: the geoid is asked
    terminal.wait_for("Enter leaves it blank")
    terminal.type("demo-geoid-A", ENTER)
    terminal.wait_for("Version of the geoid model")
    terminal.type(ENTER)
    terminal.wait_for("Geoid grid file")
    finish(terminal, "R3")
    with Book.open(job) as book:
        run = book.process("R3")
        assert run is not None
        assert run.values["run.output_height_type"].where == "config/R3.json: output.heights"
        assert run.values["run.output_height_type"].value == "orthometric"
        assert run.values["run.lever_arm"].known_by is KnownBy.READ
    assert b"Zx9-kw" not in (job / "swathbook.sqlite").read_bytes()


def finish(terminal: Terminal, name: str) -> None:
    """Leave what stands, and keep the run."""
    terminal.type(ENTER)
    terminal.wait_for("Keep this run")
    terminal.wait_for("rejected")
    terminal.type(DOWN, ENTER)
    terminal.wait_for("Reason, in one line")
    terminal.type("fits", ENTER)
    terminal.wait_for(f"Recorded run {name}")
    assert terminal.end() == 0


# A program that says that it has begun, and ends when it is told to stop.
SLOW = """
import pathlib, signal, sys, time
pathlib.Path("out/R9").mkdir(parents=True)
pathlib.Path("out/R9/half.las").write_bytes(b"LASF half of it")
def stop(number, frame):
    print("the program heard it")
    sys.exit(5)
signal.signal(signal.SIGINT, stop)
print("the program has begun", flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize("whole_terminal", [True, False])
def test_ctrl_c_reaches_the_command_and_records_nothing(
    job: Path, dial: Dial, *, whole_terminal: bool
) -> None:
    """The program ends in its own way, whether the terminal told it or only we were told."""
    (job / "slow.py").write_text(SLOW, encoding="utf-8")
    terminal = dial("record", "--command", "--", sys.executable, "slow.py")
    terminal.wait_for("slow.py (y or n, Enter: yes)")
    terminal.type("y")
    terminal.wait_for("the program has begun")
    if whole_terminal:
        terminal.interrupt()
    else:
        terminal.program.send_signal(signal.SIGINT)
    terminal.wait_for("the program heard it")
    terminal.wait_for("the command was stopped, and nothing was entered")
    assert terminal.end() == 130
    assert "1 file that it left has no run" in terminal.text
    with Book.open(job) as book:
        assert book.processes() == ()


def test_a_command_is_shown_and_asked_about_before_it_runs(job: Path, dial: Dial) -> None:
    """What is shown is what is kept; no runs nothing."""
    (job / "slow.py").write_text(SLOW, encoding="utf-8")
    terminal = dial("record", "--command", "--", sys.executable, "slow.py", "--password", "xyz12")
    terminal.wait_for("slow.py --password '[taken out]'")
    terminal.type("n")
    terminal.wait_for("the command was not run, and nothing was entered")
    assert terminal.end() == 2
    assert "xyz12" not in terminal.text
    assert not (job / "out" / "R9").exists()
