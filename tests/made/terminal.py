"""A program at a terminal, for tests that type."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from pathlib import Path

import pytest

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
            if not self.read():
                assert words in self.shown, self.shown[-2000:]

    def read(self) -> bool:
        """Take in what is shown within a moment; say whether the program is still there."""
        if select.select([self._ours], [], [], 0.2)[0]:
            try:
                text = os.read(self._ours, 65536).decode("utf-8", "replace")
            except OSError:  # the program ended and closed its side
                return False
            self.shown += text
            if "\x1b[6n" in text:  # where is the cursor? a real terminal answers
                os.write(self._ours, b"\x1b[1;1R")
        return True

    def type(self, keys: str) -> None:
        """Type, and forget what was shown before."""
        self.shown = ""
        os.write(self._ours, keys.encode())

    def press_enter_until_it_ends(self, first: str = "") -> int:
        """Answer the first question, take what every other offers; return the exit status."""
        limit, answered = time.monotonic() + _PATIENCE_S, 0
        while self.program.poll() is None:
            assert time.monotonic() < limit, f"no end; shown: {self.shown[-2000:]}"
            before = len(self.shown)
            self.read()
            if len(self.shown) == before > answered:  # quiet after something new: it waits
                answered = before
                os.write(self._ours, f"{first}\r".encode())
                first = ""
        return self.end()

    def end(self) -> int:
        """Wait for the end and return the exit status."""
        status = self.program.wait(timeout=_PATIENCE_S)
        os.close(self._ours)
        return status
