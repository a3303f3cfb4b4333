"""A form asked at a real terminal: answers, Enter, Ctrl-C, and the draft that is left."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path

from terminal import Terminal

from ledger.store.reading import BOOK_NAME, Book


def _read_rig(job: Path) -> dict[str, object]:
    with Book.open(job / BOOK_NAME) as book:
        (rig,) = book.cards("rig")
        return {key: known.value for key, known in rig.values.items()}


def test_a_rig_is_asked_and_entered(job: Path, dial: Callable[..., Terminal]) -> None:
    """Each question says what is wanted; wrong answers are explained; what is blank is said."""
    terminal = dial("record", "rig")
    terminal.wait_for("A new rig, G1: 9 questions.")
    terminal.wait_for("as on its label; Enter leaves it blank")
    terminal.type("SU-07\r")
    terminal.wait_for("2/9 Aircraft")
    terminal.type("\r")
    terminal.wait_for("Aircraft, serial or label: left blank")
    terminal.wait_for("3/9 Bracket")
    terminal.type("B-1\r")
    terminal.wait_for("x y z in metres: 0.112 -0.004 0.231")
    terminal.type("0.1 zero\r")
    for wrong in ("", "2", "3"):  # as often as it takes
        terminal.wait_for("This is not three numbers")
        terminal.wait_for("or empty the line: that leaves it")
        terminal.type(f"{wrong}\r")
    terminal.wait_for('found "0.1 zero23"')
    terminal.wait_for("empty the line")
    terminal.type("\x15")  # empty the line
    terminal.type("0,112; 0,004; 0,231\r")
    terminal.wait_for("to the scanner: 0.112 0.004 0.231 m")
    terminal.wait_for("arrows move, Enter takes")
    terminal.type("\r")
    terminal.wait_for("year-month-day: 2026-05-14")
    terminal.type("2026-04-02\r")
    terminal.wait_for("calibration")
    terminal.type("\r")
    terminal.wait_for("Recorded rig G1")
    assert terminal.end() == 0
    values = _read_rig(job)
    assert values["rig.scanner_serial"] == "SU-07"
    assert values["rig.lever_arm_aircraft"] == ["0.112", "0.004", "0.231"]
    assert "rig.aircraft_serial" not in values


def test_a_blank_lever_arm_asks_neither_axes_nor_date(
    job: Path, dial: Callable[..., Terminal]
) -> None:
    """What means nothing without an answer to the question before is not asked."""
    terminal = dial("record", "rig", "--set", "scanner_serial=SU-07")
    terminal.wait_for("1/8 Aircraft")
    terminal.type("\r")
    terminal.wait_for("2/8 Bracket")
    terminal.type("\r")
    terminal.wait_for("3/8 Lever arm")
    terminal.type("\r")
    terminal.wait_for("4/6 Date of the scanner calibration")
    terminal.type("\r")
    terminal.wait_for("Recorded rig G1")
    assert terminal.end() == 0


def test_who_stops_a_form_reads_how_to_go_on(job: Path, dial: Callable[..., Terminal]) -> None:
    """Ctrl-C enters nothing, ends with 130 and says what is kept; the next call shows it."""
    terminal = dial("record", "rig")
    terminal.wait_for("Scanner unit")
    terminal.type("SU-07\r")
    terminal.wait_for("Aircraft")
    terminal.type("\x03")
    terminal.wait_for("go on with: swathbook record rig")
    shown = terminal.shown.replace("\r\n", "")  # the terminal itself breaks long lines
    assert "nothing was entered; 1 answer is kept in .swathbook/drafts/rig-new.json" in shown
    assert terminal.end() == 130
    with Book.open(job / BOOK_NAME) as book:
        assert book.cards("rig") == ()
    terminal = dial("record", "rig")
    terminal.wait_for("A form was left on ")
    terminal.wait_for("scanner_serial = SU-07")
    terminal.wait_for("Go on with 1 answer")
    terminal.type("y")
    terminal.wait_for("Aircraft")
    terminal.program.send_signal(signal.SIGINT)
    assert terminal.end() == 130


def test_ctrl_c_before_any_answer_says_so(job: Path, dial: Callable[..., Terminal]) -> None:
    """Nothing is promised where there was nothing to keep."""
    terminal = dial("record", "rig")
    terminal.wait_for("Scanner unit")
    terminal.type("\x03")
    terminal.wait_for("no answer was given yet")
    assert terminal.end() == 130


def test_groups_of_outputs_are_told_apart_in_eighty_columns(
    job: Path, dial: Callable[..., Terminal]
) -> None:
    """A choice is wrapped and never cut: at its end stands what tells it from the others."""
    for name in ("first-try-with-a-long-name", "second-try-with-a-long-name"):
        (job / "out" / name).mkdir()
        for number in range(3):
            path = job / "out" / name / f"surface_model_of_tile_{number:02}.tif"
            path.write_bytes(b"II*\x00" + name.encode() + bytes([number]))
            os.utime(path, (1_778_760_000 + number, 1_778_760_000 + number))
    terminal = dial("record")
    terminal.wait_for("UTC", times=2)
    shown = terminal.text
    for number, name in ((1, "first"), (2, "second")):
        assert f"{number}. 3 files in {name}-try-with-a-long-name" in shown
    assert shown.count("written 2026-05-14 12:00 UTC") == 2
    terminal.type("\r")
    terminal.wait_for("the space bar ticks")
    terminal.type("\x03")
    assert terminal.end() == 130
