"""Imports only go down; sizes stay small; the top level holds what the house plan lists."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
from functools import cache
from pathlib import Path

import pytest
from layers import LAYERS, PLUGIN_MAY_IMPORT, Edge, find_cycle, find_upward, list_edges

from ledger.contract.registry import build_registry

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "ledger",
    "plugins",
    "tests",
    "docs",
}
LONGEST_MODULE = 400
LONGEST_FUNCTION = 60
SINGLE_IMPORTERS = {
    "fsspec": {"ledger.remote.objects"},
    "s3fs": {"ledger.remote.objects"},
    "laspy": {"ledger.points", "ledger.laswriter"},
    "pyproj": {
        "ledger.proj.definitions",
        "ledger.proj.frames",
        "ledger.proj.names",
        "ledger.proj.operations",
    },
}
# The one place that imports by name, and the one that hands it a name that a person typed.
LOADING, DISPATCHER = "ledger.loading", "ledger.cli.group"


@cache
def read_edges(package: str) -> tuple[Edge, ...]:
    """Return every import of one of our packages."""
    return tuple(list_edges(ROOT if package == "ledger" else ROOT / "plugins", package))


@cache
def parse(path: Path) -> ast.Module:
    """Return a module, read once for all tests."""
    return ast.parse(path.read_text(encoding="utf-8"))


def _list_sources() -> list[Path]:
    return sorted([*(ROOT / "ledger").rglob("*.py"), *(ROOT / "plugins").rglob("*.py")])


def test_every_part_has_a_layer() -> None:
    """Every module and folder of the core stands in the table of layers, and nothing else does."""
    parts = {
        path.stem for path in (ROOT / "ledger").iterdir() if path.suffix == ".py" or path.is_dir()
    }
    assert parts - {"__init__", "__pycache__"} == set(LAYERS)


def test_imports_go_down() -> None:
    """No module of the core imports one of a higher layer."""
    assert find_upward(read_edges("ledger")) == []


def test_parts_form_no_circle() -> None:
    """Parts of one layer may import each other, but never in a circle."""
    assert find_cycle(read_edges("ledger")) == []


def test_a_planted_upward_import_is_found(tmp_path: Path) -> None:
    """The test of layers fails when an upward import is planted."""
    folder = tmp_path / "ledger"
    folder.mkdir()
    (folder / "merkle.py").write_text("from ledger.audit import audit_folder\n", encoding="utf-8")
    assert find_upward(list_edges(tmp_path, "ledger")) == [
        "ledger.merkle:1 (L2) imports ledger.audit.audit_folder (L4)"
    ]


def test_a_planted_circle_is_found(tmp_path: Path) -> None:
    """The test of circles fails when one is planted."""
    folder = tmp_path / "ledger"
    folder.mkdir()
    (folder / "trace.py").write_text("from ledger.recheck import recheck\n", encoding="utf-8")
    (folder / "recheck.py").write_text("from ledger.trace import trace\n", encoding="utf-8")
    assert find_cycle(list_edges(tmp_path, "ledger")) == ["recheck", "trace", "recheck"]


def test_the_core_knows_no_check() -> None:
    """Nothing in the core imports the package of checks."""
    assert [e for e in read_edges("ledger") if e.target.startswith("lidar_checks")] == []


def test_no_check_is_named_in_the_core() -> None:
    """No module of the core holds the id of a check of ours, in no text and in no comment."""
    # One id is a plain LAS field name, too, and one a plain word of the trade.
    ids = {each.check.id for each in build_registry().checks} - {"classification", "voids"}
    assert len(ids) > 10
    any_id = re.compile(rf"(?<![\w-])({'|'.join(sorted(ids))})(?![\w-])")
    named = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for path in (ROOT / "ledger").rglob("*.py")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if any_id.search(line)
    ]
    assert named == []


def test_checks_use_only_the_contract() -> None:
    """A check imports the contract, records, coordinates, expectations, units, errors, no more."""
    strangers = [
        f"{edge.source}:{edge.line} imports {edge.target}"
        for edge in read_edges("lidar_checks")
        if edge.target.startswith("ledger.") and edge.target.split(".")[1] not in PLUGIN_MAY_IMPORT
    ]
    assert strangers == []


@pytest.mark.parametrize("library", sorted(SINGLE_IMPORTERS))
def test_each_heavy_library_has_one_door(library: str) -> None:
    """Each heavy library is imported where the house plan says, and nowhere else."""
    importers = {
        edge.source
        for edge in read_edges("ledger")
        if edge.target.split(".")[0] == library and not edge.source.startswith("ledger.testing")
    }
    assert importers == SINGLE_IMPORTERS[library]


def test_nothing_is_imported_inside_a_function() -> None:
    """Imports stand at the top of a module, where the layers can be seen."""
    inside = [
        f"{edge.source}:{edge.line}"
        for edge in (*read_edges("ledger"), *read_edges("lidar_checks"))
        if edge.inside_function
    ]
    assert inside == []


def test_one_module_imports_by_name() -> None:
    """Only the loader imports by name; whoever calls it writes the name out, but the dispatcher.

    An edge in a name that is put together would be seen by no test. `importlib.metadata` and
    `importlib.resources` import nothing.
    """
    edges = list(read_edges("ledger"))
    assert {edge.source for edge in edges if edge.target == "importlib"} == {LOADING}
    unseen = {edge.source for edge in edges if edge.late and "?" in edge.target}
    assert unseen == {DISPATCHER}


def test_what_is_loaded_by_name_is_there() -> None:
    """Every part that is loaded late exists: no other tool would miss one that was renamed."""
    named = {edge.target for edge in read_edges("ledger") if edge.late} - {"?.command"}
    assert len(named) > 5
    for target in named:
        module, _, name = target.rpartition(".")
        assert hasattr(importlib.import_module(module), name), target


def test_a_planted_late_import_is_found(tmp_path: Path) -> None:
    """The test of layers sees a name that is handed to the loader as it sees an import."""
    folder = tmp_path / "ledger"
    folder.mkdir()
    line = 'load_part("ledger.audit", "audit_folder")()\n'
    (folder / "merkle.py").write_text(line, encoding="utf-8")
    assert find_upward(list_edges(tmp_path, "ledger")) == [
        "ledger.merkle:1 (L2) imports ledger.audit.audit_folder (L4)"
    ]


def test_modules_are_short() -> None:
    """No module has more lines than a person holds in mind, those of tests included."""
    modules = [*_list_sources(), *sorted((ROOT / "tests").rglob("*.py"))]
    lengths = {str(p.relative_to(ROOT)): p.read_text(encoding="utf-8").count("\n") for p in modules}
    assert {name: n for name, n in lengths.items() if n > LONGEST_MODULE} == {}


def test_functions_are_short() -> None:
    """No function is longer than a screen."""
    long = []
    for path in _list_sources():
        for node in ast.walk(parse(path)):
            if isinstance(node, ast.FunctionDef) and node.end_lineno is not None:
                length = node.end_lineno - node.lineno + 1
                if length > LONGEST_FUNCTION:
                    long.append(f"{path.relative_to(ROOT)}: {node.name} has {length} lines")
    assert long == []


def test_no_bare_assert_in_the_sources() -> None:
    """Sources validate by raising: an assert vanishes under `python -O`."""
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in _list_sources()
        if "testing" not in path.parts
        for node in ast.walk(parse(path))
        if isinstance(node, ast.Assert)
    ]
    assert found == []


def test_top_level_holds_what_the_plan_lists() -> None:
    """The top level of the repository holds the listed names and hidden files, nothing else."""
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a checkout")
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


def test_every_test_says_what_holds() -> None:
    """Every test has a docstring."""
    silent = [
        f"{path.relative_to(ROOT)}: {node.name}"
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        for node in ast.walk(parse(path))
        if isinstance(node, ast.FunctionDef)
        and node.name.startswith("test_")
        and not ast.get_docstring(node)
    ]
    assert silent == []


def test_few_tests_need_the_whole_collection() -> None:
    """Without the collection of open files nearly everything is tested: two modules ask for it."""
    asking = {
        path.relative_to(ROOT / "tests").as_posix()
        for path in (ROOT / "tests").rglob("test_*.py")
        for node in ast.walk(parse(path))
        if isinstance(node, ast.arg) and node.arg == "shared_data"
    }
    assert asking == {"real/test_every_file.py", "real/test_real_files.py"}


def test_no_test_is_left_out_for_good() -> None:
    """No test is skipped whatever the system, and none is expected to fail."""
    left_out = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in sorted((ROOT / "tests").rglob("*.py"))
        for node in ast.walk(parse(path))
        if isinstance(node, ast.Attribute)
        and node.attr in {"skip", "xfail"}
        and ast.unparse(node) in {"pytest.mark.skip", "pytest.mark.xfail", "pytest.xfail"}
    ]
    assert left_out == []
