"""What a trace says of what nobody recorded: the gap, and the command that would fill it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from kept_job import require_one_screen, show_trace
from made_book import MadeBook, known
from printed import hold_golden

from ledger.model.known import KnownValue


def test_a_job_without_records_says_what_would_record_it(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A delivered file that nobody recorded leads to the command that would."""
    book = MadeBook(tmp_path)
    book.write("deliver/tile.las", "points")
    book.audit("deliver", verdict="incomplete")
    book.close()
    shown = show_trace(book, "deliver/tile.las")
    assert "no recorded run or step made it" in shown
    assert re.search(r"^made by +not recorded$", shown, re.MULTILINE)
    assert re.search(r"^so unknown +raw files, geoid, frame and epoch", shown, re.MULTILINE)
    assert "Next: swathbook record deliver/tile.las" in shown
    hold_golden("trace-nothing", shown, request)


def test_a_run_of_which_little_was_recorded_says_each_gap(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A run with a fifth of its fields shows every question with *not recorded* beside it."""
    book = MadeBook(tmp_path)
    book.card("flight", "F1")
    book.write("out/tile.las", "points")
    values: dict[str, KnownValue] = {"run.software": known("demo-proc")}
    book.run("out/tile.las", inputs=[{"flight": "F1"}], decision="undecided", values=values)
    book.close()
    shown = show_trace(book, "out/tile.las")
    require_one_screen(shown)
    for label in ("coordinates", "geoid", "mount", "antenna", "lever arm", "raw files"):
        row = next(row for row in shown.splitlines() if row.startswith(label))
        assert "not recorded" in row, label
    assert "swathbook register raw --flight F1" in shown
    hold_golden("trace-gaps", shown, request)


def test_an_unknown_file_leads_to_the_commands_that_would_enter_it(tmp_path: Path) -> None:
    """All ways in are told, since the program cannot know which file it is."""
    book = MadeBook(tmp_path)
    book.close()
    book.write("deliver/a tile.las", "points")
    shown = show_trace(book, str(tmp_path / "deliver/a tile.las"))
    assert "Next: swathbook record 'deliver/a tile.las'" in shown
    assert "Next: swathbook audit deliver" in shown


def test_good_copies_are_told_by_drive(tmp_path: Path) -> None:
    """Two drives that were read back are two good copies; one that was only seen is told apart."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    seen = book.see("raw/cap.bin", "capture")
    for drive, back in (("ONE", True), ("TWO", True), ("THREE", False)):
        book.sight(replace(seen, path=f"/media/u/{drive}/cap.bin"), volume=drive, reread=back)
    book.close()
    shown = " ".join(show_trace(book, "F1").split())
    assert "copies 2 good of 2 asked for: /media/u/ONE (1 file, read back, last" in shown
    assert "/media/u/THREE (1 file, seen, not read back, last 2026-05-14)" in shown
    everything = show_trace(book, "F1", everything=True)
    assert re.search(r"raw/cap.bin: /media/u/THREE/cap.bin +seen +2026-05-14", everything)


def test_settings_and_grids_of_a_run_take_no_good_copy_away(tmp_path: Path) -> None:
    """A run is told as many good copies as its flight has, whatever else it read."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.write("geoid/demo-geoid-A.tif", "grid A")
    book.write("config/R1.json", "settings")
    book.write("out/tile.las", "points")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    book.register("geoid/demo-geoid-A.tif", role="geoid")
    seen = book.see("raw/cap.bin", "capture")
    for drive in ("ONE", "TWO"):
        place = replace(seen, path=f"/media/u/{drive}/cap.bin")
        book.sight(place, volume=drive, reread=True)
    used = [book.use("geoid/demo-geoid-A.tif", "geoid"), book.use("config/R1.json", "config")]
    book.run("out/tile.las", inputs=[{"flight": "F1"}, *used], decision="undecided", values={})
    book.close()
    for asked in ("F1", "R1"):
        assert "copies 2 good of 2 asked for" in " ".join(show_trace(book, asked).split()), asked


def test_a_raw_file_of_no_flight_says_what_that_costs(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A capture that was only entered leads to the command that gives it its flight."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    book.write("geoid/A.tif", "grid")
    book.register("geoid/A.tif", role="geoid")
    book.close()
    shown = show_trace(book, "raw/cap.bin")
    assert re.search(r"^flight +not recorded$", shown, re.MULTILINE)
    assert "Next: swathbook register raw/cap.bin --flight F1" in shown
    assert "so unknown" not in show_trace(book, "geoid/A.tif")
    hold_golden("trace-no-flight", shown, request)


def test_a_file_registered_again_with_a_flight_belongs_to_it(tmp_path: Path) -> None:
    """The registration that names a flight tells more than the one before."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    book.close()
    shown = show_trace(book, "raw/cap.bin")
    assert shown.startswith("cap.bin is a raw file of flight F1 (capture), registered in entry 3.")
