"""Each check reads the keys of `job.toml` that it declares, and no others.

Watched, not believed: while audits run, every look that the code of a check takes at the
specification is noted, whichever way it comes by it.
"""

from __future__ import annotations

import ast
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, cast

import pytest
from job_bench import JobBench
from pydantic import BaseModel

import lidar_checks
from ledger.cli.frame import main
from ledger.contract.check import Check, Family, FamilyCheck, PointCheck
from ledger.contract.evidence import Evidence
from ledger.contract.needs import list_specification_keys
from ledger.contract.registry import build_registry
from ledger.model.specification import Coordinates, Delivery, Folders, Geoid, Job, Units
from ledger.testing import Layout, Scene, SurveyBuilder

SECTIONS: Mapping[type[BaseModel], str] = {
    Job: "job",
    Folders: "folders",
    Coordinates: "coordinates",
    Geoid: "coordinates.geoid",
    Units: "coordinates.unit",
    Delivery: "delivery",
}
# What the core works out of a key, by the part of the evidence that holds it.
WORKED_OUT = {
    "specified_crs": "coordinates.horizontal",
    "specified_vertical": "coordinates.vertical_crs",
    "geoid_sha256": "coordinates.geoid.file",
    "geoid_grid": "coordinates.geoid.file",
    "boundary": "delivery.boundary",
}
CRITERIA = """\
[criteria.point-density]
min_pts_per_m2 = 1.0
[criteria.spatial-distribution]
cell_m = 1.0
[criteria.voids]
area_min_m2 = 9.0
[criteria.surface-thickness]
rmsd_max_m = 0.1
[criteria.swath-overlap]
min_share = 0.1
[criteria.vertical-accuracy]
rmse_max_m = 0.05
[criteria.horizontal-accuracy]
rmse_max_m = 0.05
"""
UNITS_STATED = f"""
[coordinates]
horizontal = "EPSG:6346"
epoch = 2010.0
vertical = "site"
geoid = {{ name = "made-up", version = "2", file = "geoid.tif" }}
unit = {{ horizontal = "metre", vertical = "metre" }}
[delivery]
boundary = "site.wkt"
{CRITERIA}"""
SITE = "POLYGON ((500000 3100000, 500040 3100000, 500040 3100040, 500000 3100000))"
POINTS = """
# crs: EPSG:6346; heights: site, made-up; unit: metre; epoch: 2010.0
id,easting,northing,height
C1,500010,3100010,20
"""
SYSTEM_ALONE = f"""
[coordinates]
horizontal = "EPSG:6346"
vertical_crs = "EPSG:5703"
{CRITERIA}"""


class Watch:
    """Notes which keys are looked at while a check speaks."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        """Watch every check of ours and everything that holds a key."""
        self.read: dict[str, set[str]] = defaultdict(set)
        self._speaking: list[tuple[str, ...]] = []
        for model, section in SECTIONS.items():
            keys = {name: f"{section}.{name}" for name in model.model_fields if name != "unit"}
            self._note_reads(patch, model, keys)
        self._note_reads(patch, Evidence, WORKED_OUT)
        members: dict[type[Family], tuple[str, ...]] = {}
        for each in build_registry().checks:
            self._note_turns(patch, type(each.check), each.check.id)
            if isinstance(each.check, FamilyCheck):
                family = type(each.check.family)
                members[family] = (*members.get(family, ()), each.check.id)
        # What a family works out it works out for each of its members.
        for family, names in members.items():
            patch.setattr(family, "prepare", self._make_loud(family.prepare, *names))

    def _note_reads(self, patch: pytest.MonkeyPatch, owner: type, keys: Mapping[str, str]) -> None:
        plain = cast("Callable[[object, str], object]", owner.__getattribute__)

        def look(holder: object, name: str) -> object:
            value = plain(holder, name)
            # A section is looked into further on; where it is blank, that is all there is to see.
            asker = sys._getframe(1).f_globals["__name__"]
            is_asked = asker.startswith("lidar_checks.") and bool(self._speaking)
            if name in keys and is_asked and not isinstance(value, BaseModel):
                for speaking in self._speaking[-1]:
                    self.read[speaking].add(keys[name])
            return value

        patch.setattr(owner, "__getattribute__", look)

    def _note_turns(self, patch: pytest.MonkeyPatch, kind: type[Check], name: str) -> None:
        finish = kind.finish

        def finish_aloud(check: Check, *parts: Any) -> Iterator[Any]:
            self._speaking.append((name,))
            try:
                yield from finish(check, *parts)
            finally:
                self._speaking.pop()

        patch.setattr(kind, "finish", finish_aloud)
        names = ("prepare", "start") if issubclass(kind, PointCheck) else ("prepare",)
        for method in names:
            patch.setattr(kind, method, self._make_loud(getattr(kind, method), name))

    def _make_loud(self, method: Callable[..., Any], *names: str) -> Callable[..., Any]:
        def aloud(*parts: Any) -> Any:
            self._speaking.append(names)
            try:
                return method(*parts)
            finally:
                self._speaking.pop()

        return aloud


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> dict[str, set[str]]:
    """Return the keys that each check looked at in audits of several kinds."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))
        watch = Watch(patch)
        patch.chdir(tmp_path_factory.mktemp("demo"))
        assert main(["demo", "walk", "--json"]) == 0
        bench = JobBench(tmp_path_factory.mktemp("work"))
        survey = SurveyBuilder(bench.job / "out" / "R1", Layout(), Scene(rows=2, density=2.0))
        survey.no_crs(0).no_crs(1)
        bench.write("site.wkt", SITE.encode())
        bench.write("control/checks.csv", POINTS.encode())
        bench.ask("record", "points", "control/checks.csv", "--set", "role=checkpoints")
        for wishes in (UNITS_STATED, SYSTEM_ALONE):
            bench.write("job.toml", wishes.encode())
            bench.ask("audit", "out/R1", status=None)
    return watch.read


def test_every_check_declares_what_it_reads(read: dict[str, set[str]]) -> None:
    """No check looks at a key that it does not name."""
    for each in build_registry().checks:
        declared = list_specification_keys(each.check)
        assert {
            key
            for key in read[each.check.id]
            if not any(name == key or name.startswith(f"{key}.") for name in declared)
        } == set(), each.check.id


def test_every_check_reads_what_it_declares(read: dict[str, set[str]]) -> None:
    """No check names a key that it never looks at: that would hide a wish that nobody tests."""
    for each in build_registry().checks:
        assert set(list_specification_keys(each.check)) - read[each.check.id] == set(), (
            each.check.id
        )
    assert sum(map(len, read.values())) > 10


def test_every_criterion_is_read() -> None:
    """The code of our checks looks at each criterion that a model offers."""
    looked_at: set[str] = set()
    for root in lidar_checks.__path__:
        for path in Path(root).rglob("*.py"):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            looked_at |= {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    for each in build_registry().checks:
        assert set(each.check.criteria.model_fields) - looked_at == set(), each.check.id
