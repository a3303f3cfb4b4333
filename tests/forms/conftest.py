"""Fixtures of the tests of this folder."""

from __future__ import annotations

from pathlib import Path

import pytest
from scripted import Make

from ledger.forms import FileFinder, Interview, Unfinished
from ledger.model.known import KnownValue


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Return a maker of interviews in a job folder."""

    def build(ask: object, carried: dict[str, KnownValue] | None = None) -> Interview:
        finder = FileFinder(job=tmp_path, folders=(tmp_path,))
        unfinished = Unfinished(tmp_path, "run")
        return Interview("run", ask, finder, unfinished, carried or {})  # type: ignore[arg-type]

    return build
