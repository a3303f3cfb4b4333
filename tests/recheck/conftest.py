"""Fixtures of the tests of this folder."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from made_book import MadeBook, make_fingerprint


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a job with two raw files, a run, and an audited delivery of two tiles."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap_p1.bin", "capture 1")
    book.write("raw/cap_p2.bin", "capture 2")
    book.register("raw/cap_p1.bin", "raw/cap_p2.bin")
    book.write("out/tile_09.las", "tile 9")
    book.write("out/tile_10.las", "tile 10")
    points = make_fingerprint("p", "f")
    book.run(book.output("out/tile_09.las", points), "out/tile_10.las")
    shutil.copytree(book.folder / "out", book.folder / "deliver")
    book.audit("deliver", fingerprints={"tile_09.las": points})
    book.close()
    return book
