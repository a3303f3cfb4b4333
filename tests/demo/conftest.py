"""The demo, walked once for all tests of it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def walked(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """Run the demo once, as a person does, in a folder with a blank in its name."""
    folder = tmp_path_factory.mktemp("a demo") / "walk"
    done = subprocess.run(
        [sys.executable, "-P", "-m", "ledger.cli", "demo", str(folder), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    return folder, done
