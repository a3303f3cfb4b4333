"""Plugins that stand still, and installations that are damaged, in the real command."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from plugin_site import find_beside, lay_out, run_module
from wrong_plugins import SOUND, break_in, make_job

from ledger.model.finding import Outcome

HANGS = """
import time
import ledger.contract.guard
ledger.contract.guard.PATIENCE_S = 0.3  # a test has less patience than a person
"""


def stop_by_hand(
    words: list[str], place: Path, environment: dict[str, str]
) -> tuple[str, str, str]:
    """Press Ctrl-C once a command says that the plugin hangs; what is slow beside it may be told.

    Returns:
        The line about the plugin, what came on stdout, and what came on stderr after the line.
    """
    with subprocess.Popen(
        [sys.executable, "-m", "ledger.cli", *words],
        cwd=place,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    ) as running:
        try:
            line = next(line for line in running.stderr if line.startswith("swathbook: hangs 1.0"))
            running.send_signal(signal.SIGINT)
            return line, *running.communicate(timeout=60)
        finally:
            running.kill()  # so that a test that fails does not wait for ten minutes


@pytest.mark.skipif(os.name == "nt", reason="a signal of a terminal cannot be sent from here")
@pytest.mark.parametrize("phase", ["prepare", "chunk", "finish"])
def test_a_check_that_hangs_is_named_and_left_out_with_ctrl_c(tmp_path, phase: str) -> None:
    """The line says who hangs and what Ctrl-C does; the audit then goes on to its end."""
    wrong = break_in("hangs", "", before=HANGS, **{phase: "time.sleep(600)"})
    site, home = tmp_path / "site", tmp_path / "home"
    lay_out(site, wrong.name, wrong.source)
    lay_out(site, SOUND.name, SOUND.source)
    job = make_job(tmp_path, find_beside(tmp_path, home))
    line, said, rest = stop_by_hand(["audit", "out", "--json"], job, find_beside(site, home))
    assert line.startswith(f"swathbook: hangs 1.0 (check hangs, {phase}) has run for ")
    assert line.endswith(" s; Ctrl-C leaves only this out\n")
    assert "hangs" not in rest
    told = json.loads(said)
    (found,) = [each for each in told["findings"] if each["check"] == "hangs"]
    assert found["outcome"] == Outcome.ERRORED
    assert f"broke off in {phase}" in found["sentence"]
    assert "it was stopped by hand after " in found["sentence"]
    assert {"check": "sound", "count": 2} in told["conforming"]


@pytest.mark.skipif(os.name == "nt", reason="a signal of a terminal cannot be sent from here")
def test_a_plugin_that_hangs_while_it_loads_is_named(tmp_path) -> None:
    """The list of checks names it, and lists the others."""
    site, home = tmp_path / "site", tmp_path / "home"
    lay_out(site, "hangs", f"{HANGS}\ntime.sleep(600)\n")
    line, said, _ = stop_by_hand(["checks", "--json"], tmp_path, find_beside(site, home))
    assert line.startswith("swathbook: hangs 1.0 (loading) has run for ")
    told = json.loads(said)
    (fault,) = told["plugin_faults"]
    assert fault.startswith("hangs 1.0: it does not load: it was stopped by hand after ")
    assert len(told["checks"]) > 10


# What an installer may leave behind.

INSTALLED = "[swathbook.checks]\nodd = odd\n"


ABOUT = b"Metadata-Version: 2.1\nName: odd\nVersion: 1.0\n"


@pytest.mark.parametrize(
    ("points", "about", "said"),
    [
        (b"[swathbook.checks]\nodd\n", ABOUT, "odd-1.0.dist-info: what it offers cannot be read"),
        (b"\xff\xfe\x00", ABOUT, "odd-1.0.dist-info: what it offers cannot be read"),
        (b"[swathbook.checks]\nodd = odd::x y\n", ABOUT, "odd 1.0: its entry point names no mod"),
        (b"[swathbook.checks]\nodd =\n", ABOUT, "odd 1.0: its entry point names no module"),
        (INSTALLED.encode(), b"", "odd: it offers neither checks nor profiles"),
        (INSTALLED.encode(), None, "odd: it offers neither checks nor profiles"),
        (INSTALLED.encode(), b"Name: odd\xff\n", "odd: it offers neither checks nor profiles"),
        (INSTALLED.encode(), b"Name: odd\n", "odd: it offers neither checks nor profiles"),
    ],
)
def test_a_damaged_installation_is_named(
    tmp_path, points: bytes, about: bytes | None, said: str
) -> None:
    """Whatever is left of a distribution, it is one sentence, and the other checks are there."""
    place = tmp_path / "site" / "odd-1.0.dist-info"
    place.mkdir(parents=True)
    (place / "entry_points.txt").write_bytes(points)
    if about is not None:
        (place / "METADATA").write_bytes(about)
    (place.parent / "odd.py").write_text("", encoding="utf-8")
    environment = find_beside(place.parent, tmp_path / "home")
    done = run_module(environment, tmp_path, "ledger.cli", "checks", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    told = json.loads(done.stdout)
    (fault,) = told["plugin_faults"]
    assert fault.startswith(said)
    assert len(told["checks"]) > 10
