"""Files of one kind share an answer: the one that each would get by itself."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from made_headers import make_crs_reading

from ledger.crs import describe
from ledger.model.finding import compute_sort_key
from ledger.model.specification import Coordinates, Specification, Units
from ledger.testing.driver import drive_check, make_evidence, prepare_check
from lidar_checks.header import las_conformance
from lidar_checks.header.crs_agrees import CrsAgrees
from lidar_checks.header.crs_present import CrsPresent
from lidar_checks.header.datum_shift import DatumShift
from lidar_checks.header.file_check import FileCheck
from lidar_checks.header.foot_kind import FootKind
from lidar_checks.header.header_date import HeaderDate
from lidar_checks.header.header_extent import HeaderExtent
from lidar_checks.header.las_conformance import LasConformance
from lidar_checks.header.las_content import LasContent
from lidar_checks.header.unit_consistency import UnitConsistency
from lidar_checks.header.vertical_datum import VerticalDatum

SHARING = (CrsAgrees, CrsPresent, DatumShift, FootKind, UnitConsistency, VerticalDatum)
OF_HEADERS = (HeaderDate, HeaderExtent, LasConformance, LasContent)
FEET = "EPSG:6438+6360"


@pytest.mark.parametrize("kind", [*SHARING, *OF_HEADERS], ids=lambda kind: kind.id)
@pytest.mark.parametrize("carried", [(), ("coordinates.horizontal", "coordinates.unit.vertical")])
def test_shared_answers_are_those_of_each_file(
    delivered, kind: type[FileCheck], carried, monkeypatch
) -> None:
    """Good, foreign, silent and unreadable headers, in one delivery: not a word differs."""
    good = delivered("a/good.las")
    null_grid = replace(good.header, wkt="+nadgrids=@null")
    foreign = make_crs_reading(describe(FEET))
    files = (
        good,
        replace(good, path="a/good.las.las"),
        replace(good, path="b/null.las", header=null_grid, crs=make_crs_reading(None)),
        replace(good, path="c/foreign.las", crs=foreign),
        replace(good, path="c/foreign_2.las", crs=foreign),
        delivered("d/silent.las", crs=None),
        delivered("e/none.las", header=None),
    )
    coordinates = Coordinates(
        horizontal="EPSG:6346", unit=Units(horizontal="metre", vertical="metre")
    )
    evidence = make_evidence(
        *files,
        specification=Specification(coordinates=coordinates, carried=carried),
        specified_crs=describe("EPSG:6346"),
    )
    shared = drive_check(kind(), evidence)
    monkeypatch.setattr(kind, "find_kind", lambda *_: None)
    alone = drive_check(kind(), evidence)
    assert sorted(shared, key=compute_sort_key) == sorted(alone, key=compute_sort_key)
    assert {finding.subject for finding in shared} == {file.path for file in files}


class Watched:
    """A header, or a file, that notes which of its fields are read."""

    def __init__(self, watched: object, seen: set[str]) -> None:
        """Watch one."""
        self._watched, self._seen = watched, seen

    def __getattr__(self, name: str) -> object:
        """Note the name; what follows from the fields of a header reads them through this."""
        kind = type(self._watched)
        if isinstance(getattr(kind, name, None), property) and name != "has_points":
            return getattr(kind, name).fget(self)
        self._seen.add(name)
        return getattr(self._watched, name)


@pytest.mark.parametrize("kind", [*SHARING, *OF_HEADERS], ids=lambda kind: kind.id)
def test_an_answer_that_is_shared_rests_on_what_files_have_alike(
    delivered, kind: type[FileCheck], monkeypatch
) -> None:
    """No judgement looks at a field that is not named, nor at more of the file than its system."""
    check = kind()
    good = replace(delivered("a/good.laz"), reading=None)
    asked = {"versions": ["1.4"], "same_unit": True}
    evidence = make_evidence(good, specified_crs=describe("EPSG:6346"))
    plan = prepare_check(check, evidence, asked if kind is LasContent else None)
    monkeypatch.setattr(HeaderExtent, "_judge_range", lambda *_: ())
    rules = tuple(rule for rule in las_conformance.RULES if not rule.is_of_one_file)
    monkeypatch.setattr(las_conformance, "RULES", rules)
    seen: set[str] = set()
    header: Any = Watched(good.header, seen)
    tuple(check.judge(replace(good, header=header), header, plan, evidence))
    assert seen - {"offset", "wkt"} <= set(check.rests_on)
