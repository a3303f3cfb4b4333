"""Other processes are started anew: Windows knows no fork, and Python 3.14 uses none elsewhere.

Source: Python, multiprocessing, "Contexts and start methods".
"""

from __future__ import annotations

import ast
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

import ledger
import lidar_checks
from ledger.contract.check import PointCheck
from ledger.contract.registry import build_registry
from ledger.testing import (
    Layout,
    Scene,
    SurveyBuilder,
    fill_tally,
    find_difference,
    make_evidence,
    make_file,
)
from ledger.testing.driver import prepare_check

# What makes a copy of a running process.
FORKING = {"fork", "forkpty", "posix_spawn", "posix_spawnp"}
# What starts others in a way of the system's choice.
STARTERS = {"ProcessPoolExecutor"}
# The one thing of `multiprocessing` itself that may be used, and what it has to be asked for.
CHOOSER, ANEW = "get_context", "spawn"


def test_no_source_forks() -> None:
    """Neither our modules nor our checks start a process of their own in any such way."""
    found = []
    for package in (ledger, lidar_checks):
        for path in sorted(Path(str(package.__file__)).parent.rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                found += [f"{path.name}: {name}" for name in list_names(node)]
    assert found == []


def list_names(node: ast.AST) -> set[str]:
    """Return which of these a piece of source names."""
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        if node.value.id == "multiprocessing":
            return {node.attr} - {CHOOSER}
        return {node.attr} & FORKING if node.value.id == "os" else {node.attr} & STARTERS
    if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == CHOOSER:
        return set() if [ast.unparse(each) for each in node.args] == [repr(ANEW)] else {CHOOSER}
    if isinstance(node, ast.ImportFrom) and node.module == "multiprocessing":
        return {each.name for each in node.names}
    if isinstance(node, ast.Import | ast.ImportFrom):
        module = (getattr(node, "module", None) or "").split(".")
        names = {part for each in node.names for part in each.name.split(".")}
        return (names | set(module)) & (FORKING | STARTERS if module == ["os"] else STARTERS)
    return set()


@pytest.mark.parametrize(
    "source",
    [
        "os.fork()",
        "from os import fork",
        "multiprocessing.Process()",
        "multiprocessing.get_context()",
        "multiprocessing.get_context('fork')",
        "from multiprocessing import Pool",
        "from concurrent.futures import ProcessPoolExecutor",
    ],
)
def test_whatever_else_starts_a_process_is_seen(source) -> None:
    """The test above would name each of these."""
    assert set().union(*map(list_names, ast.walk(ast.parse(source))))


def list_point_checks() -> list[PointCheck]:
    """Return every check of ours that reads points and has all its criteria by default."""
    return [
        each.check
        for each in build_registry().checks
        if isinstance(each.check, PointCheck)
        and not any(field.is_required() for field in each.check.criteria.model_fields.values())
    ]


# What the pass does, in a process that is started anew: start, chunk, close.
WORKER = """
import pickle, sys
from ledger.model.chunk import PointChunk
from ledger.testing import fill_tally

closed = {}
for name, (check, plan, file, x, y, z, fields) in pickle.load(sys.stdin.buffer).items():
    chunk = PointChunk(x, y, z, plan.lattice, fields)
    closed[name] = fill_tally(check, plan, file, [chunk]).close()
sys.stdout.buffer.write(pickle.dumps(closed))
"""


def test_tallies_can_be_filled_in_processes_started_anew(tmp_path) -> None:
    """Check, plan and file go over, the summary comes back, to the last digit what it is here."""
    chunk = SurveyBuilder(tmp_path / "out", Layout(compressed=False), Scene(density=0.5)).chunk(0)
    fields = {name: chunk[name] for name in chunk.names}
    file = make_file("tile.laz")
    work, here = {}, {}
    for check in list_point_checks():
        plan = prepare_check(check, make_evidence(file))
        work[check.id] = (check, plan, file, chunk.x, chunk.y, chunk.z, fields)
        here[check.id] = fill_tally(check, plan, file, [chunk]).close()
    assert work
    done = subprocess.run(
        [sys.executable, "-c", WORKER], input=pickle.dumps(work), capture_output=True, check=True
    )
    there = pickle.loads(done.stdout)  # noqa: S301 - written by the process above
    assert find_difference(here, there) == ""
