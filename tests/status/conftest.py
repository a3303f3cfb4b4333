"""Fixtures of the tests of this folder."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_book import MadeBook


@pytest.fixture
def book(tmp_path: Path) -> MadeBook:
    """Give a job with its first entry."""
    made = MadeBook(tmp_path / "job")
    made.write("job.toml", "# as wished\n")
    made.enter("job", {"reference": "QM-0412", "title": "Borrow pit", "like": ""})
    return made
