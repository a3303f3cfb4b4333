"""Files of one coordinate system share an answer: the one that each would get by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_headers import make_crs_reading

from ledger.crs import describe
from ledger.model.specification import Coordinates, Specification, Units
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.crs_agrees import CrsAgrees
from lidar_checks.header.crs_present import CrsPresent
from lidar_checks.header.datum_shift import DatumShift
from lidar_checks.header.file_check import FileCheck
from lidar_checks.header.unit_consistency import UnitConsistency

SHARING = (CrsAgrees, CrsPresent, DatumShift, UnitConsistency)
FEET = "EPSG:6438+6360"


@pytest.mark.parametrize("kind", SHARING, ids=lambda kind: kind.id)
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
    monkeypatch.setattr(kind, "rests_on_crs", False)
    assert shared == drive_check(kind(), evidence)
    assert len({finding.outcome for finding in shared}) > 1
