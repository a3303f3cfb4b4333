"""A program at a terminal, for tests that type."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

pty = pytest.importorskip("pty", reason="no terminals of this kind on this system")
termios = pytest.importorskip("termios", reason="no terminals of this kind on this system")

fcntl = pytest.importorskip("fcntl", reason="no terminals of this kind on this system")

_PATIENCE_S = 30.0
_DRAWN_S = 0.1
_WHERE = "\x1b[6n"
_ESCAPE = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")

ENTER, SPACE, INTERRUPT, EMPTY_LINE = "\r", " ", "\x03", "\x15"
UP, DOWN = "\x1b[A", "\x1b[B"


def _take_terminal() -> None:
    """Make the terminal the one that controls the new session, as a window does."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """A program at a terminal that a test can type into."""

    def __init__(self, folder: Path, *words: str, size: tuple[int, int] = (80, 40)) -> None:
        """Start the program in a folder.

        Args:
            folder: where it stands.
            words: what is typed after the name of the program.
            size: columns and lines.
        """
        columns, lines = size
        self._ours, theirs = pty.openpty()
        termios.tcsetwinsize(theirs, (lines, columns))
        named = {"TERM": "xterm", "COLUMNS": str(columns), "LINES": str(lines)}
        self.program = subprocess.Popen(
            [sys.executable, "-P", "-m", "ledger.cli", *words],
            cwd=folder,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            preexec_fn=_take_terminal,  # noqa: PLW1509 - nothing else runs in this process
            env={**os.environ, **named},
        )
        os.close(theirs)
        self._open = True
        self.shown = ""
        self.keys = len(" ".join(["swathbook", *words])) + 1

    @property
    def text(self) -> str:
        """Return what is shown without colours and moves of the cursor, in one line."""
        return " ".join(_ESCAPE.sub(" ", self.shown).split())

    def wait_for(self, words: str, times: int = 1) -> None:
        """Read the screen until it shows some words as often as that, broken into lines or not."""
        limit = time.monotonic() + _PATIENCE_S
        while max(self.shown.count(words), self.text.count(words)) < times:
            assert time.monotonic() < limit, f"{words!r} never came; shown: {self.text[-2000:]}"
            if not self.read():
                assert words in self.text, self.text[-2000:]
                return

    def read(self) -> bool:
        """Take in what is shown within a moment; say whether the program is still there."""
        if select.select([self._ours], [], [], 0.2)[0]:
            try:
                text = os.read(self._ours, 65536).decode("utf-8", "replace")
            except OSError:  # the program ended and closed its side
                return False
            self.shown += text
            # Where is the cursor? A real terminal answers, also when the question comes in pieces.
            if _WHERE in self.shown[-len(text) - len(_WHERE) + 1 :]:
                os.write(self._ours, b"\x1b[1;1R")
        return True

    def wait_for_question(self) -> bool:
        """Read until a question waits for an answer; False where the program ended instead."""
        limit = time.monotonic() + _PATIENCE_S
        while not self._is_drawn():
            assert time.monotonic() < limit, f"no question; shown: {self.text[-2000:]}"
            if not self.read():
                return False
        while True:  # the rest of it is drawn
            if select.select([self._ours], [], [], _DRAWN_S)[0]:
                if not self.read():
                    return False
            elif not self._is_at_work():
                return True

    def _is_drawn(self) -> bool:
        """Say whether a question stands there: the program asks for the cursor before it draws."""
        return bool(_ESCAPE.sub("", self.shown.partition(_WHERE)[2]).strip())

    def _is_at_work(self) -> bool:
        """Say whether the program waits for a processor of a busy machine, and not for keys."""
        try:
            status = psutil.Process(self.program.pid).status()
        except psutil.NoSuchProcess:
            return False
        return status in (psutil.STATUS_RUNNING, psutil.STATUS_DISK_SLEEP)

    def type(self, *keys: str) -> None:
        """Type, and forget what was shown before. An arrow is one key."""
        self.shown = ""
        typed = "".join(keys)
        self.keys += len(_ESCAPE.sub("x", typed))
        os.write(self._ours, typed.encode())

    def interrupt(self) -> None:
        """Press Ctrl-C where a program reads no keys: the terminal tells all that runs in it."""
        self.type(INTERRUPT)

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
        """Take in what is still shown, wait for the end and return the exit status."""
        limit = time.monotonic() + _PATIENCE_S
        while self.read() and time.monotonic() < limit:
            pass
        status = self.program.wait(timeout=_PATIENCE_S)
        self.close()
        return status

    def close(self) -> None:
        """End the program where it still runs, and hang up."""
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait(timeout=_PATIENCE_S)
        if self._open:
            os.close(self._ours)
        self._open = False
