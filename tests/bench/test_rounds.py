"""What the page of performance says of how time grows."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest


def test_growth_is_held_against_n_log_n(monkeypatch: pytest.MonkeyPatch) -> None:
    """From 10 to 1,000: 100 times as many, and 300 times n log n [log 1000 / log 10 = 3]."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent))
    tell = importlib.import_module("rounds").tell_growth
    assert tell("Files", [2, 10, 1_000], [1.0, 1.0, 299.99]) == (
        "Files: at the end 300.0 times as long for 100.0 times as many; "
        "n log n allows 300.0: no worse."
    )
    assert "**worse than that**" in tell("Files", [2, 10, 1_000], [250.0, 1.0, 300.5])
