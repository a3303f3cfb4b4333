"""A disk that runs full: the short mode; `python tests/faults/fulldisk.py` fills every 4 KiB."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

if sys.platform != "linux":
    pytest.skip("disks are mounted, and lengths bounded, as on Linux", allow_module_level=True)

from fulldisk import STEP, Filled, can_mount, fill, laid, sweep

ROOMS = {"record": (0, 5, 20), "copy": (0, 40), "handover": (0, 12)}  # in steps of 4 KiB


def test_a_file_that_may_grow_no_further_is_told_in_one_line(tmp_path: Path) -> None:
    """A write is cut short at any place inside a file of the book: all of it counts, or none."""
    tally = Filled()
    with laid(tmp_path / "laid", "length") as (bench, _, disk):
        sweep(bench, "start", disk, tally, "length", every=4)
    assert tally.faults == []
    assert tally.outcome["2"] > 0
    assert tally.outcome["0"] > 1  # with more room it got through


def test_a_disk_that_runs_full_is_told_in_one_line(tmp_path: Path) -> None:
    """The job's disk, and the drive that is copied to: one line, and later all of it works."""
    if not can_mount(tmp_path):
        pytest.skip("this user may mount no disk")
    tally = Filled()
    with laid(tmp_path / "laid", "memory") as (bench, other, disk):
        assert disk is not None
        assert other is not None
        for kind, rooms in ROOMS.items():
            place = other if kind == "copy" else bench
            for room in rooms:
                fill(place, kind, room * STEP, disk.leaving(room * STEP), tally, "memory")
    assert tally.faults == []
    assert tally.outcome["2"] > 1
