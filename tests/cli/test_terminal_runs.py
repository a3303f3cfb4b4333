"""Runs recorded at a real terminal: what an evening takes, in questions and keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from job_bench import run_here
from terminal import DOWN, EMPTY_LINE, ENTER, SPACE, Terminal

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

    In eight questions and less than a hundred keys, the words of the answers among them.
    """
    record_first(job)
    process(job, "R2", seed=2)
    terminal = dial("record", size=(80, 24))
    terminal.wait_for("Did one run make")
    terminal.type(ENTER)
    terminal.wait_for("Made from flight F1")
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
    terminal.wait_for("an emptied line")
    terminal.type(EMPTY_LINE, "demo-geoid-A", ENTER)
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
