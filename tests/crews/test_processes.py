"""Worker processes: the same results, also where they end, hang or talk rubbish."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import sys
import time
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_workers import Counts, Raises, Troubled, enable

from ledger.audit.delivery import read_delivery
from ledger.audit.folder import list_folder
from ledger.contract import pieces
from ledger.contract.check import Check
from ledger.contract.crew import Advanced, Answered, Said
from ledger.contract.evidence import Evidence
from ledger.contract.guard import Guard
from ledger.contract.portions import Kit
from ledger.contract.runner import Runner
from ledger.crews.processes import ProcessCrew, _read_message
from ledger.lattice import LENGTH_LATTICE
from ledger.model.ask import NoProgress
from ledger.model.finding import Finding, Outcome
from ledger.model.specification import Specification
from ledger.testing import Layout, Scene, SurveyBuilder

TILES = Scene(columns=3, rows=1, tile_size=20.0, density=2.0)
VICTIM = "tile_1_0.las"

needs_signals = pytest.mark.skipif(sys.platform == "win32", reason="ends a process by SIGKILL")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of three tiles."""
    made = tmp_path_factory.mktemp("tiles") / "out"
    SurveyBuilder(made, Layout(compressed=False), TILES)
    return made


class Heard(NoProgress):
    """Keeps what was said."""

    def __init__(self) -> None:
        """Start with nothing."""
        self.said: list[str] = []

    def notice(self, sentence: str) -> None:
        """Keep it."""
        self.said.append(sentence)


def judge(
    folder: Path, checks: Iterable[Check], size: int = 0, silence_s: float = 60.0
) -> tuple[tuple[Finding, ...], dict[str, str], list[str]]:
    """Return findings, files that were lost, and what was said; in this process if size is 0."""
    files = read_delivery(list_folder(folder), {}, NoProgress())
    paths = {each.file.path: each.found.path for each in files}
    evidence = Evidence("out", Specification(), tuple(each.file for each in files), LENGTH_LATTICE)
    runner = Runner([enable(each) for each in checks], Guard())
    said = Heard()
    hire: Any = partial(ProcessCrew, size=size, silence_s=silence_s) if size else None
    runner.read_points(evidence, paths, said, hire)
    return runner.judge_all(evidence), runner.lost, said.said


@needs_signals
def test_a_worker_that_ends_once_costs_a_try_and_changes_nothing(folder, tmp_path) -> None:
    """Killed amid a task: its files are read again, one by one, and all is as before."""
    checks = [Counts(), Troubled(VICTIM, "kill", tmp_path / "mark")]
    alone, _, _ = judge(folder, checks)
    findings, lost, said = judge(folder, checks, size=1)
    assert (tmp_path / "mark").exists()
    assert (findings, lost) == (alone, {})
    assert said == [
        "tile_0_0.las and 2 more will be read once more: its worker was ended by SIGKILL"
    ]


@pytest.mark.parametrize(
    ("deed", "why"),
    [
        ("exit", "its worker ended with status 7"),
        ("hang", "its worker gave no sign of life for 2 s"),
    ],
)
def test_a_file_whose_worker_ends_twice_is_lost_alone(folder, deed, why) -> None:
    """The other files of the same task are audited; no check passes on what it did not see."""
    silence = 2.0 if deed == "hang" else 60.0
    findings, lost, _ = judge(folder, [Counts(), Troubled(VICTIM, deed)], 1, silence)
    assert lost == {VICTIM: f"twice {why}"}
    told = [f for f in findings if f.check == "counts" and f.outcome is Outcome.NOT_ASSESSED]
    assert [each.subject for each in told] == [VICTIM]
    (passed,) = [f for f in findings if f.check == "counts" and f.outcome is Outcome.CONFORMS]
    assert VICTIM not in str(passed.observed)


def test_what_breaks_and_prints_in_workers_is_told_as_here(folder, monkeypatch) -> None:
    """Two processes, a task a file: the findings are those of one process."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 1)
    checks = [Counts(), Raises("tile_1_0.las", "tile_2_0.las")]
    assert judge(folder, checks, size=2) == judge(folder, checks)


def test_leaving_ends_every_process_at_once(folder) -> None:
    """An interruption leaves no process behind, ready or not."""
    kit = Kit({}, {}, LENGTH_LATTICE)
    crew = ProcessCrew(kit, 1)
    with pytest.raises(KeyboardInterrupt), crew:
        _be_interrupted(crew)
    assert crew.processes == ()
    assert not [each for each in multiprocessing.active_children() if each.is_alive()]


def _be_interrupted(crew: ProcessCrew) -> None:
    """Have Ctrl-C sent to a worker, as a terminal does, wait until it is ready, and hear it."""
    (process,) = crew.processes
    if sys.platform != "win32":
        os.kill(int(process.pid or 0), signal.SIGINT)
    deadline = time.monotonic() + 60
    while not crew.idle and time.monotonic() < deadline:
        assert list(crew.wait()) == []
    assert crew.idle == 1
    raise KeyboardInterrupt


@given(st.binary(max_size=60))
def test_no_rubbish_is_taken_for_a_message(raw) -> None:
    """Whatever the bytes, they are one of the messages or an exception of the usual kind."""
    try:
        event = _read_message(raw)
    except Exception:  # noqa: BLE001 - any is contained
        return
    assert event is None or isinstance(event, Advanced | Answered | Said)


def test_messages_that_are_none_are_refused() -> None:
    """Pickled values of another shape raise; the crew then replaces the worker."""
    for value in ((), "ready?", ("advanced", 1), ("advanced", "x", "y"), ("later",), 7):
        with pytest.raises((ValueError, TypeError)):
            _read_message(pickle.dumps(value))
