"""Each threat that the page says is stood up to is held by tests that are there."""

from __future__ import annotations

import re

import pytest
from generate import ROOT

PAGE = ROOT / "docs" / "guide" / "security.md"


def list_threats() -> dict[str, list[str]]:
    """Return the test files by threat, from the table of what is stood up to."""
    text = PAGE.read_text(encoding="utf-8")
    table = text.partition("## Stood up to")[2].partition("\n## ")[0]
    rows = [line.strip("| ").split(" | ") for line in table.splitlines() if line.startswith("| ")]
    return {cells[0]: re.findall(r"`([^`]+)`", cells[-1]) for cells in rows[2:]}


def test_the_table_is_read() -> None:
    """Each row has three cells, and none is passed over."""
    text = PAGE.read_text(encoding="utf-8")
    assert len(list_threats()) == text.count("\n| ") - 2
    assert len(list_threats()) > 20


@pytest.mark.parametrize("threat", list_threats())
def test_each_threat_names_tests_that_are_there(threat: str) -> None:
    """A threat without a test is not stood up to, whatever the page says."""
    named = list_threats()[threat]
    assert named
    for name in named:
        text = (ROOT / "tests" / name).read_text(encoding="utf-8")
        assert "\ndef test_" in text, name
