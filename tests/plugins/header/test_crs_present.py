"""Every file says where it is, in the form that its point format demands.

Rules by ASPRS LAS 1.4 R15: formats 0 to 5 carry GeoTIFF keys or WKT, formats 6 to 10 WKT with bit 4
of the global encoding set.
"""

from __future__ import annotations

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.georeferencing import Crs, CrsKind, CrsReading, CrsRecord
from ledger.model.specification import Coordinates, Specification
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.crs_present import CrsPresent

ABSENT = CrsRecord(present=False)


def judge(*files, **parts):
    """Return the findings about these files."""
    return drive_check(CrsPresent(), make_evidence(*files, **parts))


def read_wkt(record):
    """Return a reading of one WKT record."""
    return CrsReading(record, ABSENT, record)


def test_a_readable_system_conforms(delivered):
    """A file with one readable record conforms."""
    (finding,) = judge(delivered())
    assert finding.outcome is Outcome.CONFORMS


def test_absent_unreadable_and_empty_are_three_things(delivered):
    """Each way to be without a coordinate system gets its own sentence; each is minor."""
    empty = Crs(name="", kind=CrsKind.NONE)
    readings = {
        "it states no coordinate system.": CrsReading(ABSENT, ABSENT, ABSENT),
        "it states no coordinate system, as its header says that WKT counts and there is none; "
        "GeoTIFF keys are there.": CrsReading(
            ABSENT, CrsRecord(present=True, crs=describe("EPSG:6346")), ABSENT
        ),
        "its coordinate system cannot be read: bracket missing.": read_wkt(
            CrsRecord(present=True, fault="bracket missing")
        ),
        "its coordinate system record does not say which one it is.": read_wkt(
            CrsRecord(present=True, crs=empty)
        ),
    }
    for words, reading in readings.items():
        (finding,) = judge(delivered(crs=reading))
        assert finding.grade is Grade.MINOR
        assert words in finding.sentence


def test_what_the_job_asks_for_is_the_remedy(delivered):
    """The remedy names the system that the header has to state."""
    specification = Specification(coordinates=Coordinates(horizontal="EPSG:6346"))
    (finding,) = judge(delivered(crs=None), specification=specification)
    assert finding.remedy == "Export again with EPSG:6346 in the header."


def test_one_file_without_a_system_among_others_is_major(delivered):
    """A file that nobody can place beside its placed neighbours does not go out."""
    conforming, missing = judge(delivered("a.las"), delivered("b.las", crs=None))
    assert conforming.outcome is Outcome.CONFORMS
    assert missing.grade is Grade.MAJOR
    assert "1 other file here does state one" in missing.sentence


def test_a_local_system_is_a_remark(delivered):
    """A local system is readable and ties the points to no place."""
    local = Crs(name="site grid", kind=CrsKind.ENGINEERING)
    (finding,) = judge(delivered(crs=local))
    assert finding.grade is Grade.OBSERVATION


def test_two_records_that_agree_conform(delivered, utm17):
    """WKT and GeoTIFF keys of one meaning are no fault of their own."""
    wkt, keys = (CrsRecord(present=True, crs=crs) for crs in (utm17, describe("EPSG:6346")))
    (finding,) = judge(delivered(crs=CrsReading(wkt, keys, wkt)))
    assert finding.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("keys", "grade", "words"),
    [("EPSG:6345", Grade.MAJOR, "16N"), ("EPSG:26917", Grade.MINOR, "datum")],
)
def test_two_records_that_differ_are_told_part_by_part(delivered, keys, grade, words):
    """Another zone moves the points away, another datum by metres; both parts are named."""
    wkt, other = (
        CrsRecord(present=True, crs=describe("EPSG:6346")),
        CrsRecord(present=True, crs=describe(keys)),
    )
    (finding,) = judge(delivered(crs=CrsReading(wkt, other, wkt)))
    assert finding.grade is grade
    assert finding.catalogue == ("CR-06",)
    assert words in finding.sentence


def test_a_record_that_contradicts_itself_is_minor(delivered, utm17):
    """What the reader of the record noticed is passed on."""
    record = CrsRecord(present=True, crs=utm17, notes=("code says metres, unit key says feet",))
    (finding,) = judge(delivered(crs=read_wkt(record)))
    assert finding.grade is Grade.MINOR
    assert "code says metres, unit key says feet" in finding.sentence


def test_an_unreadable_header_is_not_assessed(delivered):
    """A file whose header cannot be read is never passed over."""
    (finding,) = judge(delivered(header=None))
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_the_check_may_not_be_left_open():
    """A coordinate system is always required."""
    assert CrsPresent.always_required


@pytest.mark.parametrize("name", ["las/simple1_1.las", "las/1.2-with-color.las", "las/plane.laz"])
def test_real_files_without_a_usable_system_do_not_conform(real, name):
    """Files without any record, and one whose keys are all user-defined, do not simply conform."""
    findings = judge(real(name))
    assert findings
    if name != "las/plane.laz":
        assert findings[0].grade is Grade.MINOR
        assert "states no coordinate system" in findings[0].sentence


def test_a_real_file_with_two_systems_is_found(real):
    """WKT says NAD83(2011) in US survey feet, the keys a metre code of NAD83: datum differs."""
    findings = judge(real("las/file_with_both_wkt_and_geotiff_vlrs.las"))
    told = [f for f in findings if f.catalogue == ("CR-06",)]
    assert [finding.grade for finding in told] == [Grade.MINOR]
    assert "WKT against GeoTIFF keys" in told[0].sentence
    assert "datum" in told[0].sentence
