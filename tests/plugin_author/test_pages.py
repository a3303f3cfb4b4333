"""Every block of the pages for authors is run; every name of the kit stands on one of them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from ledger import testing

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "plugin-author"
_BLOCK = re.compile(r"^```python\n(.*?)^```$", re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize("name", ["testing.md", "without-points.md"])
def test_the_blocks_of_a_page_are_a_file_of_tests_that_pass(tmp_path, name: str) -> None:
    """They are run one after the other, as the page says, with every warning an error."""
    blocks = _BLOCK.findall((FOLDER / name).read_text(encoding="utf-8"))
    module = tmp_path / "test_page.py"
    module.write_text("\n\n".join(blocks), encoding="utf-8")
    words = ["-q", "-W", "error", "-p", "no:cacheprovider", "-c", os.devnull]
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words, "--basetemp", str(tmp_path / "in"), str(module)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert len(blocks) > 5
    assert re.search(r"^\d+ passed in ", done.stdout, re.MULTILINE), done.stdout


def test_every_name_of_the_kit_stands_on_the_page() -> None:
    """Nothing that can be imported from it is left unsaid."""
    page = (FOLDER / "testing.md").read_text(encoding="utf-8")
    assert [name for name in testing.__all__ if name not in page] == []
