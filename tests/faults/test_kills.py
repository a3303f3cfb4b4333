"""Commands that are killed: the short mode; `python tests/faults/kills.py` kills 10,000."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from kills import KINDS, Tally, kill_many

KILLS = 200


@pytest.mark.skipif(sys.platform != "linux", reason="its timers are those of Linux")
def test_a_killed_command_loses_nothing_and_leaves_nothing_by_halves(tmp_path: Path) -> None:
    """Every told entry is there, none by halves, no file is changed, the next command works."""
    tally = Tally()
    kill_many(tmp_path, KILLS, 1, tally)
    assert tally.faults == []
    assert tally.killed.total() == KILLS
    assert tally.writing > KILLS // 20  # so many were killed in the middle of a write
    assert len(tally.killed) >= len(KINDS) - 1  # a copy needs a second device
