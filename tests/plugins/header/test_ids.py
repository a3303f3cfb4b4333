"""Findings of headers can be told apart, whatever is wrong at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.contract.evidence import ReadFacts
from ledger.crs import describe
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.specification import Coordinates, Specification, Units
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.crs_agrees import CrsAgrees
from lidar_checks.header.crs_position import CrsPosition
from lidar_checks.header.crs_present import CrsPresent
from lidar_checks.header.file_readable import FileReadable
from lidar_checks.header.header_counts import HeaderCounts
from lidar_checks.header.header_extent import HeaderExtent
from lidar_checks.header.header_uniformity import HeaderUniformity
from lidar_checks.header.unit_consistency import UnitConsistency
from lidar_checks.header.vertical_datum import VerticalDatum

CHECKS = (
    CrsAgrees(),
    CrsPosition(),
    CrsPresent(),
    FileReadable(),
    HeaderCounts(),
    HeaderExtent(),
    HeaderUniformity(),
    UnitConsistency(),
    VerticalDatum(),
)


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_no_two_findings_share_an_id(delivered, check):
    """A file with many faults gives as many ids as findings; every sentence is one line."""
    wkt = CrsRecord(
        present=True, crs=describe("EPSG:2264"), notes=("a note", "another"), text="one"
    )
    keys = CrsRecord(present=True, crs=describe("EPSG:26916"), text="two")
    bad = {
        "global_encoding": 1,
        "scale": (0.1, 0.1, 0.1),
        "offset": (0.0, 0.0, 0.0),
        "minimum": (552_000.0, 4_272_000_000.0, 0.0),
        "maximum": (552_001.0, 4_272_000_001.0, 0.0),
        "legacy_count": 7,
        "generating_software": "other",
        "notes": ("odd", "odder"),
    }
    reading = {"by_return": (0, 1), "minimum": (1.0, 1.0, 1.0), "maximum": (2.0, 2.0, 2.0)}
    files = (
        delivered("a.las", header=bad, reading=reading, crs=CrsReading(wkt, keys, wkt)),
        delivered("b.las"),
        delivered("c.las"),
        delivered("d.las", header=None, header_fault="cut"),
    )
    specification = Specification(
        coordinates=Coordinates(
            horizontal="EPSG:6346",
            vertical="orthometric",
            unit=Units(horizontal="international-foot", vertical="international-foot"),
        )
    )
    evidence = make_evidence(
        *files, specification=specification, specified_crs=describe("EPSG:6346")
    )
    findings = drive_check(check, evidence)
    assert len(findings) >= 3
    assert len({finding.id for finding in findings}) == len(findings)
    assert all("\n" not in finding.sentence for finding in findings)
    assert all(finding.remedy for finding in findings if finding.grade is not None)


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_a_broken_file_is_never_passed_over(delivered, check):
    """Every check says something of a file whose header cannot be read, and it is no pass."""
    findings = drive_check(check, make_evidence(delivered("a.las", header=None)))
    assert findings
    assert {str(finding.outcome) for finding in findings} <= {"not assessed", "nonconforming"}


@pytest.mark.parametrize("check", CHECKS, ids=[check.id for check in CHECKS])
def test_an_empty_folder_is_never_a_pass(check):
    """Every check says of a folder without point files that there is nothing to judge."""
    (finding,) = drive_check(check, make_evidence())
    assert str(finding.outcome) == "not assessed"
    assert finding.needs


def test_reading_facts_of_nothing_break_no_check(delivered):
    """A file of which no point could be read is judged by all checks without an error."""
    nothing = ReadFacts(0, fault="no point could be read")
    for check in CHECKS:
        assert drive_check(check, make_evidence(delivered(reading=None)))
        assert drive_check(check, make_evidence(replace(delivered("a.las"), reading=nothing)))
