"""Screens as text, as a terminal of some width without colour shows them."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import RenderableType

from ledger.report.screen import make_console

GOLDEN = Path(__file__).parents[1] / "report" / "golden"


def print_screen(screen: RenderableType, width: int = 100) -> str:
    """Return the lines of a screen, without blanks at their ends."""
    stream = io.StringIO()
    make_console(stream, width=width).print(screen)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def hold_golden(name: str, shown: str, request: pytest.FixtureRequest) -> None:
    """Compare a screen with the one that somebody read, or write it anew with --update-golden."""
    path = GOLDEN / f"{name}.txt"
    if request.config.getoption("--update-golden"):
        path.write_text(shown, encoding="utf-8", newline="\n")
    assert shown == path.read_text(encoding="utf-8")
