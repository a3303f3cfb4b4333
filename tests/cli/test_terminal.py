"""A form asked at a real terminal: answers, Enter, Ctrl-C, and the draft that is left."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ledger.cli.frame import main
from ledger.store.reading import BOOK_NAME, Book

pty = pytest.importorskip("pty", reason="no terminals of this kind on this system")

_PATIENCE_S = 30.0


class Terminal:
    """A program at a terminal of 100 by 40 that a test can type into."""

    def __init__(self, folder: Path, *words: str) -> None:
        """Start the program in a folder."""
        self._ours, theirs = pty.openpty()
        self.program = subprocess.Popen(
            [sys.executable, "-P", "-m", "ledger.cli", *words],
            cwd=folder,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            env={**os.environ, "TERM": "xterm", "COLUMNS": "100", "LINES": "40"},
        )
        os.close(theirs)
        self.shown = ""

    def wait_for(self, words: str) -> None:
        """Read the screen until it shows some words."""
        limit = time.monotonic() + _PATIENCE_S
        while words not in self.shown:
            assert time.monotonic() < limit, f"{words!r} never came; shown: {self.shown[-2000:]}"
            if select.select([self._ours], [], [], 0.2)[0]:
                try:
                    text = os.read(self._ours, 65536).decode("utf-8", "replace")
                except OSError:  # the program ended and closed its side
                    assert words in self.shown, self.shown[-2000:]
                    return
                self.shown += text
                if "\x1b[6n" in text:  # where is the cursor? a real terminal answers
                    os.write(self._ours, b"\x1b[1;1R")

    def type(self, keys: str) -> None:
        """Type, and forget what was shown before."""
        self.shown = ""
        os.write(self._ours, keys.encode())

    def end(self) -> int:
        """Wait for the end and return the exit status."""
        status = self.program.wait(timeout=_PATIENCE_S)
        os.close(self._ours)
        return status


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a new job."""
    assert main(["start", str(tmp_path / "job")]) == 0
    return tmp_path / "job"


def _read_rig(job: Path) -> dict[str, object]:
    with Book.open(job / BOOK_NAME) as book:
        (rig,) = book.cards("rig")
        return {key: known.value for key, known in rig.values.items()}


def test_a_rig_is_asked_and_entered(job: Path) -> None:
    """Typed answers are entered; a wrong one is explained and asked again; Enter leaves blank."""
    terminal = Terminal(job, "record", "rig")
    terminal.wait_for("Scanner unit")
    terminal.type("SU-07\r")
    terminal.wait_for("Aircraft")
    terminal.type("\r")
    terminal.wait_for("aircraft antenna to the scanner")
    terminal.type("0.1 zero\r")
    terminal.wait_for("aircraft antenna to the scanner")
    terminal.type("\x15")  # empty the line
    terminal.type("0,112; 0,004; 0,231\r")
    terminal.wait_for("Axes")
    terminal.type("\r")
    terminal.wait_for("measured")
    terminal.type("2026-04-02\r")
    terminal.wait_for("calibration")
    terminal.type("\r")
    terminal.wait_for("Recorded rig G1")
    assert terminal.end() == 0
    values = _read_rig(job)
    assert values["rig.scanner_serial"] == "SU-07"
    assert values["rig.lever_arm_aircraft"] == ["0.112", "0.004", "0.231"]
    assert "rig.aircraft_serial" not in values


def test_an_interrupted_form_is_offered_again(job: Path) -> None:
    """Ctrl-C enters nothing and ends with 130; the next call offers the answers given so far."""
    terminal = Terminal(job, "record", "rig")
    terminal.wait_for("Scanner unit")
    terminal.type("SU-07\r")
    terminal.wait_for("Aircraft")
    terminal.type("\x03")
    assert terminal.end() == 130
    with Book.open(job / BOOK_NAME) as book:
        assert book.cards("rig") == ()
    terminal = Terminal(job, "record", "rig")
    terminal.wait_for("1 answer")
    terminal.type("y")
    terminal.wait_for("Aircraft")
    terminal.program.send_signal(signal.SIGINT)
    assert terminal.end() == 130
