"""Calls that the system refuses: the short mode; `python tests/faults/refusals.py` refuses all."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from kills import Bench
from refusedhere import refuse_here

# Every so manieth call is refused, so that the run stays short; the long mode refuses each.
STEPS = {
    "register": 23,
    "copy": 17,
    "amend": 11,
    "decision": 17,
    "seal": 17,
    "handover": 53,
    "audit": 47,
    "recheck": 41,
    "record": 53,
    "start": 17,
}


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """Give a job that commands are typed in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        bench = Bench(tmp_path_factory.mktemp("laid"))
        yield bench
        bench.clear()


@pytest.mark.parametrize("kind", STEPS)
def test_a_refused_call_is_told_in_one_line_and_breaks_nothing(laid: Bench, kind: str) -> None:
    """One line and status 2, or the command goes on and is right; the next one works."""
    if kind == "copy" and laid.drive.is_relative_to(laid.base):
        pytest.skip("there is no second device to copy to")
    tally = refuse_here(laid, kind, STEPS[kind], first=1 + len(kind))
    assert tally.faults == []
    assert tally.refused.total() > 3


def test_a_screen_that_takes_nothing_is_told_once(laid: Bench) -> None:
    """Stdout on a full disk: what was entered is entered, one line says so, and status 2."""
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no device that is always full")
    words = [sys.executable, "-P", "-m", "ledger.cli", "record", "decision", "R1", "undecided"]
    with full.open("w") as stream:
        ran = subprocess.run(
            [*words, "--reason", "asked for"],
            cwd=laid.job,
            stdout=stream,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert ran.returncode == 2
    (line,) = ran.stderr.splitlines()
    assert line.startswith("swathbook: ")
    assert os.strerror(errno.ENOSPC) in line
