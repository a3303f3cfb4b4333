"""A small survey, and tiny distributions, installed for one test as a stranger's plugin is."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ledger.testing import Layout, SurveyBuilder

Install = Callable[..., None]

HEAD = """
from ledger.contract.check import Check, Criteria, Finding, Grade, Outcome, Plan, PointCheck
from ledger.contract.hookspecs import hookimpl
from ledger.contract.profile import Clause, Profile
"""


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """Return a function that puts a distribution with one module on the path."""
    site = tmp_path / "site"
    site.mkdir()
    monkeypatch.syspath_prepend(str(site))
    before = set(sys.modules)

    def put(name: str, source: str, *, version: str = "1.0", entry: str = "") -> None:
        info = site / f"{name}-{version}.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(
            f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n", encoding="utf-8"
        )
        (info / "entry_points.txt").write_text(
            f"[swathbook.checks]\n{name} = {entry or name}\n", encoding="utf-8"
        )
        (site / f"{name}.py").write_text(HEAD + source, encoding="utf-8")

    yield put
    for name in set(sys.modules) - before:
        if Path(getattr(sys.modules[name], "__file__", None) or "/").parent == site:
            del sys.modules[name]


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Return a survey of four small tiles."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False))
