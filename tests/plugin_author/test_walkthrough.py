"""The plugin that the page for authors walks through is installed and run as a stranger's is."""

from __future__ import annotations

import json
import os
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from plugin_site import find_beside, lay_out, run_module

from ledger.testing import Layout, SurveyBuilder

PAGE = Path(__file__).resolve().parents[2] / "docs" / "plugin-author" / "README.md"
PLUGIN = PAGE.parent / "intensity-range"
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> dict[str, str]:
    """Lay the plugin out as an installer does; return the environment in which it is found.

    Name, version and entry point are taken from its own pyproject.toml.
    """
    place = tmp_path_factory.mktemp("site")
    project = tomllib.loads((PLUGIN / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    source = (PLUGIN / "intensity_range.py").read_text(encoding="utf-8")
    lay_out(
        place,
        project["name"],
        source,
        version=project["version"],
        points=project["entry-points"],
    )
    return find_beside(place, tmp_path_factory.mktemp("home"))


@pytest.fixture
def job(tmp_path, installed) -> Path:
    """Return a job with two tiles in `out`; half of the first one's intensities are clipped."""
    folder = tmp_path / "job"
    assert run_module(installed, tmp_path, "ledger.cli", "start", str(folder)).returncode == 0
    survey = SurveyBuilder(folder / "out", Layout())
    count = len(survey.chunk(0))
    values = np.full(count, 900, dtype=np.uint16)
    values[: count // 2] = 65_535
    survey.set_field(0, "intensity", values)
    return folder


def test_its_own_tests_pass(installed, tmp_path):
    """What the author of the plugin would run passes, with every warning an error."""
    words = ("-q", "-W", "error", "-p", "no:cacheprovider", "-c", os.devnull)
    place = ("--rootdir", str(PLUGIN), "--basetemp", str(tmp_path / "inner"), str(PLUGIN / "tests"))
    done = run_module(installed, tmp_path, "pytest", *words, *place)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "5 passed" in done.stdout


def test_checks_names_it_with_version_and_digest(installed, tmp_path):
    """A stranger's check stands in the list as ours do."""
    listed = json.loads(run_module(installed, tmp_path, "ledger.cli", "checks", "--json").stdout)
    plugin = next(each for each in listed["plugins"] if each["name"] == "intensity-range")
    assert plugin["version"] == "1.0"
    assert re.fullmatch("[0-9a-f]{64}", plugin["digest"])
    assert "intensity-range" in {each["id"] for each in listed["checks"]}


def test_it_judges_in_an_audit(installed, job):
    """Clipped intensity is found in the real command, and the section in job.toml counts."""
    with (job / "job.toml").open("a", encoding="utf-8") as wishes:
        wishes.write("\n[criteria.intensity-range]\nmax_clipped_share = 0.1\n")
    told = json.loads(run_module(installed, job, "ledger.cli", "audit", "out", "--json").stdout)
    found = [each for each in told["findings"] if each["check"] == "intensity-range"]
    assert [(each["grade"], each["subject"]) for each in found] == [("minor", "tile_0_0.laz")]
    assert found[0]["plugin"] == "intensity-range"
    assert found[0]["criterion_source"]


def test_without_it_its_section_is_a_wrong_wish(job):
    """A criterion of a check that nobody registered is refused, with the nearest name."""
    with (job / "job.toml").open("a", encoding="utf-8") as wishes:
        wishes.write("\n[criteria.intensity-range]\nmax_clipped_share = 0.1\n")
    done = run_module(dict(os.environ), job, "ledger.cli", "audit", "out")
    assert done.returncode == 2
    assert "intensity-range" in done.stderr


def test_every_block_of_the_page_stands_in_the_plugin():
    """What the page shows is what is run, to the letter."""
    sources = [
        (PLUGIN / name).read_text(encoding="utf-8")
        for name in ("intensity_range.py", "pyproject.toml", "tests/test_intensity_range.py")
    ]
    blocks = [
        text for kind, text in _BLOCK.findall(PAGE.read_text(encoding="utf-8")) if kind == "python"
    ]
    assert len(blocks) >= 7
    assert [text for text in blocks if not any(text in source for source in sources)] == []


def test_the_folder_of_the_page_is_the_folder():
    """The listing names every file."""
    page = PAGE.read_text(encoding="utf-8")
    for path in PLUGIN.rglob("*"):
        if path.is_file() and "__pycache__" not in path.parts:
            assert path.name in page, path


def test_the_example_imports_only_what_a_plugin_may():
    """The page names the doors; its own example uses no other."""
    text = (PLUGIN / "intensity_range.py").read_text(encoding="utf-8")
    modules = set(re.findall(r"^from (ledger[\w.]*)", text, re.MULTILINE))
    allowed = ("ledger.contract", "ledger.model", "ledger.crs", "ledger.units", "ledger.errors")
    assert [each for each in modules if not each.startswith(allowed)] == []
