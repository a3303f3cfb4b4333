"""Fixtures that all tests share."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from job_bench import bench
from open_data import (
    ABSENT,
    OpenFile,
    PointFacts,
    find_collection,
    find_open_file,
    read_point_facts,
)
from real_drives import NO_DEVICE, NO_MOUNT

from ledger.store.machine import find_home

__all__ = ["bench"]

# How long an example takes says how busy the computer is, and nothing of what is tested.
settings.register_profile("any-computer", deadline=None)
settings.load_profile("any-computer")


@pytest.fixture(autouse=True, scope="session")
def own_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what a computer remembers between jobs out of the folder of whoever runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        # Options of this run are none of a run that a test starts.
        patch.delenv("PYTEST_ADDOPTS", raising=False)
        yield


@pytest.fixture(autouse=True)
def no_other_jobs(own_folder: None) -> None:
    """Let no test find the raw files of another test's job among the jobs that are known."""
    (find_home() / "jobs.jsonl").unlink(missing_ok=True)


@pytest.fixture(autouse=True, scope="session")
def interruptible() -> Iterator[None]:
    """Let Ctrl-C reach the programs that tests start, also where the tests run in the background.

    A shell starts what runs in the background with interruptions ignored, and that is inherited.
    """
    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of the whole collection of open data; skips loudly where it is absent."""
    folder = find_collection()
    if folder is None:
        pytest.skip(ABSENT)
    return folder


@pytest.fixture(scope="session")
def open_file() -> OpenFile:
    """Return a function that finds one real file by its folder and name in the collection."""
    return find_open_file


@pytest.fixture(scope="session")
def point_facts() -> PointFacts:
    """Return what other software read from each real point file at hand."""
    return read_point_facts()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that writes golden files anew; a reviewer reads what changed."""
    parser.addoption("--update-golden", action="store_true", help="write golden files anew")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say once more, last, what was not looked at without the collection, or without drives."""
    skipped = terminalreporter.stats.get("skipped", [])
    for reason in (ABSENT, NO_MOUNT, NO_DEVICE):
        without = [report for report in skipped if reason in str(report.longrepr)]
        if without:
            terminalreporter.write_line(f"{reason}; {len(without)} tests skipped", red=True)
