"""Plugins as they are installed: ours are all found, a stranger's joins in, none is fatal."""

from __future__ import annotations

import ast
import importlib
import json
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

import lidar_checks
from ledger.audit.running import audit_folder
from ledger.checks import list_checks
from ledger.contract.registry import build_registry
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions
from ledger.model.finding import Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import Book
from ledger.store.writing import create_book
from ledger.testing import Layout, SurveyBuilder

Install = Callable[..., None]

ROOT = Path(lidar_checks.__file__).parent


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a job with an empty specification and two tiles in `out`."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    folder = tmp_path / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text("", encoding="utf-8")
    SurveyBuilder(folder / "out", Layout(compressed=False))
    return folder


def list_stated_ids() -> set[str]:
    """Return every check id that stands in the sources, by reading them as text."""
    found = set()
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and "Family" not in map(ast.unparse, node.bases):
                found |= {
                    str(statement.value.value)
                    for statement in node.body
                    if isinstance(statement, ast.Assign)
                    and [getattr(target, "id", "") for target in statement.targets] == ["id"]
                    and isinstance(statement.value, ast.Constant)
                }
    return found


def test_every_check_in_our_sources_is_offered() -> None:
    """Each id in the sources is a registered check; nobody has to list them."""
    registered = {
        each.check.id for each in build_registry().checks if each.plugin.name == "swathbook"
    }
    assert list_stated_ids() <= registered
    assert registered


def test_every_module_of_ours_can_be_imported() -> None:
    """No folder of checks is passed over for want of an `__init__.py`, and none fails."""
    found = build_registry()
    assert found.faults == ()
    for path in ROOT.rglob("*.py"):
        assert (path.parent / "__init__.py").is_file()
        parts = path.relative_to(ROOT.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        assert name in sys.modules


def test_a_module_of_ours_that_fails_costs_itself_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """One broken module is one fault that names it; every check of the other modules is there."""
    whole = {each.check.id for each in build_registry().checks}
    original = importlib.import_module

    def load(name: str) -> ModuleType:
        if name == "lidar_checks.cloud":
            raise ImportError("no such library")
        return original(name)

    monkeypatch.setattr(lidar_checks, "import_module", load)
    faults = [item for item in lidar_checks.register_checks() if isinstance(item, Exception)]
    assert [str(fault) for fault in faults] == ["no such library"]
    found = build_registry()
    (fault,) = found.faults
    assert "ImportError: no such library in module lidar_checks.cloud" in fault.sentence
    # The classes of this process are still there; what counts is that nothing else was lost.
    assert {each.check.id for each in found.checks} == whole


def test_a_strangers_check_joins_the_audit(install: Install, job: Path) -> None:
    """A check of another distribution is fed from the pass, judged and entered beside our own."""
    install(
        "counting",
        """
class Count:
    def __init__(self): self.points = 0
    def chunk(self, points): self.points += len(points)
    def merge(self, other): self.points += other.points
    def close(self): return self.points

class Limits(Criteria):
    least: int = 1

class Enough(PointCheck):
    id = "enough"
    title = "There are points enough"
    criteria = Limits
    def start(self, plan, file): return Count()
    def finish(self, plan, summaries, evidence):
        for path, points in summaries.items():
            if points < plan.criteria.least:
                yield self.nonconforming(Grade.MAJOR, path, "Too few.", observed=str(points))
            else:
                yield self.conforms(path, "Enough.")

@hookimpl
def register_checks():
    return [Enough()]

@hookimpl
def register_profiles():
    return [Profile("many", "Rule of many", "1", {"enough": {"least": Clause(10**9, "1.1")}})]
""",
        version="0.7",
    )
    (job / "job.toml").write_text('[criteria]\nprofile = "many"\n', encoding="utf-8")
    result = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    assert result.verdict is Verdict.DO_NOT_SEND
    found = [finding for finding in result.findings if finding.check == "enough"]
    assert [finding.plugin for finding in found] == ["counting", "counting"]
    assert json.loads(found[0].criterion) == {"least": 10**9}
    with Book.open(job) as book:
        stored = next(
            row for row in book.entry(result.entry).values["checks"] if row["id"] == "enough"
        )
    assert (stored["plugin"], stored["version"], stored["required"]) == (
        "counting",
        "0.7",
        "profile",
    )
    assert stored["criteria"]["least"] == {
        "value": 10**9,
        "source": "profile",
        "basis": "Rule of many, 1, 1.1",
        "known": "document",
    }


def test_a_broken_plugin_costs_its_own_checks_alone(install: Install, job: Path, capsys) -> None:
    """Beside plugins that do not load, print and raise, our own checks find what they found."""
    alone = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    install("absent", "import no_such_module_at_all\n")
    install(
        "raising",
        """
print("loading")

class Breaks(PointCheck):
    id = "breaks"
    title = "Breaks"
    def start(self, plan, file):
        print("starting")
        raise OSError("disk on fire")
    def finish(self, plan, summaries, evidence):
        return ()

@hookimpl
def register_checks():
    return [Breaks()]
""",
        version="2.0",
    )
    capsys.readouterr()
    result = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    assert capsys.readouterr().out == ""
    ours = tuple(finding for finding in result.findings if finding.check in _list_ids(alone))
    assert ours == alone.findings
    errored = [f for f in result.findings if f.outcome is Outcome.ERRORED]
    assert sorted(finding.check for finding in errored) == ["audit", "breaks"]
    said = next(finding.sentence for finding in errored if finding.check == "breaks")
    assert "in start" in said
    assert "OSError: disk on fire (raising 2.0)" in said
    assert [fault.plugin for fault in result.plugin_faults] == ["absent"]


def _list_ids(result) -> set[str]:
    return {finding.check for finding in result.findings}


def test_the_core_works_with_no_plugin(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the package of checks an audit runs, tests nothing, and is no pass."""
    for name in tuple(sys.modules):
        if name.split(".", maxsplit=1)[0] == "lidar_checks":
            monkeypatch.setitem(sys.modules, name, None)
    assert list_checks().checks == ()
    assert "does not load" in list_checks().faults[0].sentence
    result = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    assert result.verdict is Verdict.INCOMPLETE
    assert {finding.check for finding in result.findings} == {"audit"}
