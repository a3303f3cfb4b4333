"""Fixtures that all tests share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from job_bench import bench

__all__ = ["bench"]

DATA_VARIABLE = "SWATHBOOK_TEST_DATA"


def find_shared_data() -> Path | None:
    """Return the folder of open test data, or None where it is absent."""
    named = os.environ.get(DATA_VARIABLE)
    candidates = [Path(named)] if named else []
    candidates.append(Path(__file__).resolve().parents[2] / "shared" / "data")
    return next((folder for folder in candidates if (folder / "manifest.tsv").is_file()), None)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of open test data; skips loudly where it is absent."""
    folder = find_shared_data()
    if folder is None:
        pytest.skip(f"OPEN TEST DATA NOT FOUND: set {DATA_VARIABLE} to its folder")
    return folder


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that writes golden files anew; a reviewer reads what changed."""
    parser.addoption("--update-golden", action="store_true", help="write golden files anew")
