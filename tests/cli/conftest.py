"""A job, and programs at terminals in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from terminal import Terminal

from ledger.cli.frame import main


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a new job."""
    assert main(["start", str(tmp_path / "job")]) == 0
    return tmp_path / "job"


@pytest.fixture
def dial(job: Path) -> Iterator[Callable[..., Terminal]]:
    """Return a starter of programs at terminals; all are hung up at the end."""
    opened: list[Terminal] = []

    def start(*words: str, size: tuple[int, int] = (80, 40)) -> Terminal:
        opened.append(Terminal(job, *words, size=size))
        return opened[-1]

    yield start
    for terminal in opened:
        terminal.close()
