"""The bar: nothing for short work, what is done so far for long work, and a clean line after."""

from __future__ import annotations

import io
import itertools
import sys

import pytest

from ledger.cli.progress import TerminalProgress

MIB = 1 << 20


class _Screen(io.StringIO):
    """A terminal that keeps what is written to it."""

    def isatty(self) -> bool:
        return True


def put_terminal(monkeypatch: pytest.MonkeyPatch) -> _Screen:
    """Put a terminal in place of stderr; inside the test, since the runner puts its own before."""
    made = _Screen()
    monkeypatch.setattr(sys, "stderr", made)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "100")
    return made


def test_short_work_shows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is over at once draws no bar, and leaves nothing on the screen."""
    screen = put_terminal(monkeypatch)
    with TerminalProgress() as shown:
        shown.start("hashing", 8 * MIB, "bytes")
        shown.advance(8 * MIB)
    assert screen.getvalue() == ""


@pytest.mark.parametrize(
    ("total", "unit", "step", "words"),
    [(8 * MIB, "bytes", MIB, ("5.2/8.4", "MB")), (400, "points", 50, ("250/400",))],
)
def test_long_work_shows_how_far_it_is(
    monkeypatch: pytest.MonkeyPatch, total: int, unit: str, step: int, words: tuple[str, ...]
) -> None:
    """Work that takes a while shows its label and all that is done, also from before the bar."""
    screen = put_terminal(monkeypatch)
    eighths = itertools.count()
    with TerminalProgress(lambda: next(eighths) / 8) as shown:
        shown.start("hashing", total, unit)
        for _ in range(4):
            shown.advance(step)
        assert screen.getvalue() == ""  # half a second has not passed
        shown.advance(step)
        text = screen.getvalue()
    for word in ("hashing", *words):
        assert word in text
    assert screen.getvalue().endswith("\x1b[2K")  # the line is cleared


def test_no_terminal_no_bar(capsys: pytest.CaptureFixture[str]) -> None:
    """Where stderr is a file, nothing is drawn however long it takes."""
    hours = itertools.count(step=3600)
    with TerminalProgress(lambda: next(hours)) as shown:
        shown.start("hashing", MIB, "bytes")
        shown.advance(MIB)
    assert capsys.readouterr().err == ""
