"""A job whose outputs lie in a folder to be delivered."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from made_book import MadeBook, known

from ledger.testing.books import BookBuilder


@pytest.fixture
def book(tmp_path: Path) -> BookBuilder:
    """Give a job with three tiles that a run made, in a folder to be delivered."""
    made = MadeBook(tmp_path / "job")
    for number in range(3):
        made.write(f"out/tile_{number}.las", f"tile {number}")
    values = {
        "run.software": known("demo-proc"),
        "run.crs": known("EPSG:6346"),
        "run.mount_mode": known("drone"),
    }
    made.run(*(f"out/tile_{number}.las" for number in range(3)), values=values)
    shutil.copytree(made.folder / "out", made.folder / "deliver")
    return made
