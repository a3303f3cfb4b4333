"""What a command loads: what the files at hand need, and nothing beside it.

A person waits for every import; how long is measured by `tests/bench/bench_startup.py`. Here each
command runs in a process of its own and may load what stands beside it in the table, no more.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile

from ledger.cli.frame import main
from ledger.cli.table import COMMANDS
from ledger.testing import Layout, Scene, SurveyBuilder

# Libraries that take their time, and the checks; whoever needs one says so below.
HEAVY = {
    "cryptography",
    "laspy",
    "lazrs",
    "lidar_checks",
    "numpy",
    "pluggy",
    "prompt_toolkit",
    "pydantic",
    "pyproj",
    "questionary",
    "tifffile",
    "tomlkit",
}
SCREENS = {"rich", "sqlite3"}
POINTS = {"laspy", "lazrs", "numpy", "pyproj"}
# Checks are found through pluggy, and ours compute with numpy; job.toml and criteria are models.
CHECKS = {"lidar_checks", "numpy", "pluggy", "pydantic", "tomlkit"}
TABLE = ("checks.csv", "id,e,n,h\nC1,500001,3100001,20\n")
FINDING = "FINDING"  # stands for the id of a minor finding of the job

# What is typed, and which of the heavy modules it may load. A form or a template is written and
# read by tomlkit.
MAY_LOAD: dict[str, set[str]] = {
    "": set(),
    "trace out/tile_0_0.laz": set(),
    "trace R1 --json": set(),
    "find R1": set(),
    "recheck": set(),
    "handover out --to client --use tiles": {"tomlkit", "pydantic"},
    "seal": {"cryptography"},
    "seal --request seal.tsq": {"cryptography"},
    "support": set(),
    "receipt out/tile_0_0.laz": set(),
    f"accept {FINDING} --by office --reason agreed": set(),
    "start ../new --reference QM-1": {"tomlkit"},
    "start ../new --like .": {"tomlkit", "pydantic"},
    "sitecard --at 10,50": {"numpy", "pyproj", "pydantic", "tomlkit"},
    "sitecard --at 10,50 --page card.html": {"numpy", "pyproj", "pydantic", "tomlkit"},
    "register texts --flight F1": set(),
    "register plain": set(),
    "register las": {"pyproj"},
    "register geoid.tif": {"tifffile", "numpy"},
    "record rig --set scanner_serial=A1": {"tomlkit"},
    "record flight --from flight.toml": {"tomlkit"},
    "record points texts/checks.csv --set role=control": {"tomlkit"},
    "record decision R1 accepted --reason tidy": {"tomlkit"},
    "record more --input F1 --set software=x": POINTS | {"tomlkit"},
    "amend R1 --set software=y --reason typo": {"tomlkit"},
    "compare R1 R1": set(),
    "compare out out": set(),
    "compare R1 more": POINTS,
    "compare . .": {"pyproj"},
    "repeat R1": set(),
    "repeat R1 --with more": POINTS | {"tomlkit"},
    "checks": CHECKS,
    "audit out --quick": CHECKS | {"pyproj"},
    "audit out": CHECKS | POINTS,
}


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job with a flight, a tile that a run made, an audit, and files of several kinds."""
    folder = tmp_path_factory.mktemp("loading") / "job"
    assert main(["start", str(folder)]) == 0
    small = Scene(columns=1, density=0.5)
    SurveyBuilder(folder / "out", scene=small)
    SurveyBuilder(folder / "more", scene=Scene(columns=1, density=0.5, seed=2))
    SurveyBuilder(folder / "las", Layout(compressed=False), scene=small)
    SurveyBuilder(folder / "plain", Layout(compressed=False), scene=small).no_crs(0)
    (folder / "texts").mkdir()
    for name, text in (
        ("notes.md", "wind\n"),
        ("a.cfg", "a = 1\n"),
        ("points.csv", "a,b\n1,2\n"),
        TABLE,
    ):
        (folder / "texts" / name).write_text(text, encoding="utf-8")
    (folder / "raw" / "a.bin").write_bytes(b"raw")
    (folder / "flight.toml").write_text('[flight]\nmount_mode = "drone"\n', encoding="utf-8")
    tifffile.imwrite(folder / "geoid.tif", np.zeros((2, 2), np.float32))
    assert main(["--job", str(folder), "register", str(folder / "raw"), "--flight", "F1"]) == 0
    words = ["record", str(folder / "out"), "--input", "F1", "--set", "software=x"]
    assert main(["--job", str(folder), *words]) == 0
    return folder


@pytest.fixture(scope="module")
def finding(job: Path) -> str:
    """Return the id of a minor finding of an audit of the job."""
    done = _run(job, "--json", "audit", "out")
    findings = json.loads(done.stdout)["findings"]
    assert main(["--job", str(job), "seal"]) == 0
    return next(str(one["id"]) for one in findings if one["grade"] == "minor")


def _run(cwd: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a command line; the last line on stderr names the modules that are loaded then."""
    code = (
        "import sys; from ledger.cli.frame import main; status = main(sys.argv[1:]); "
        "sys.stderr.write('\\n@@' + ' '.join(sys.modules)); sys.exit(status)"
    )
    return subprocess.run(
        [sys.executable, "-P", "-c", code, *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        stdin=subprocess.DEVNULL,
    )


def _list_modules(done: subprocess.CompletedProcess[str]) -> set[str]:
    names = done.stderr.rpartition("@@")[2].split()
    # Of one library only a part is heavy: the bar that long work shows.
    return {name.split(".")[0] for name in names} | ({"rich.progress"} & set(names))


@pytest.mark.parametrize("words", MAY_LOAD)
def test_a_command_loads_what_its_files_need(
    words: str, job: Path, finding: str, tmp_path: Path
) -> None:
    """No heavy module is loaded but those that stand beside the command."""
    copy = tmp_path / "job"
    shutil.copytree(job, copy)
    done = _run(copy, *words.replace(FINDING, finding).split())
    told = done.stderr.rpartition("\n@@")[0]
    assert done.returncode != 2, told
    assert "Traceback" not in told
    loaded = _list_modules(done)
    assert loaded & HEAVY <= MAY_LOAD[words]
    assert "rich.progress" not in loaded
    assert "rich" in loaded  # the modules were seen


@pytest.mark.parametrize("words", ["--help", "--version"])
def test_help_loads_no_command(words: str, tmp_path: Path) -> None:
    """`--help` and `--version` load click and none of the commands, screens or libraries."""
    done = _run(tmp_path, words)
    assert done.returncode == 0
    loaded = _list_modules(done)
    assert "click" in loaded
    assert not loaded & (HEAVY | SCREENS)


def test_every_command_is_in_the_table() -> None:
    """A new command says what it may load; the demo is left out, which runs all the others."""
    assert {words.split()[0] for words in MAY_LOAD if words} == set(COMMANDS) - {"demo"}
