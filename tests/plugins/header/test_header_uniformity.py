"""Files of one delivery are alike, and the odd one is named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.header_uniformity import HeaderUniformity


def judge(*files):
    """Return the findings about a delivery."""
    return drive_check(HeaderUniformity(), make_evidence(*files))


def test_headers_that_are_alike_conform(delivered):
    """A delivery from one mould conforms, whatever the number of files."""
    assert judge(delivered())[0].outcome is Outcome.CONFORMS
    (finding,) = judge(delivered("a.las"), delivered("b.las"))
    assert finding.outcome is Outcome.CONFORMS
    assert "2 headers, all alike" in finding.sentence


def test_a_file_in_another_system_is_major(delivered):
    """The odd one is named, with the part that differs on both sides."""
    odd = delivered("b.las", crs=describe("EPSG:6345+5703"))
    (finding,) = judge(delivered("a.las"), odd, delivered("c.las"))
    assert (finding.subject, finding.grade) == ("b.las", Grade.MAJOR)
    assert "than a.las and 1 more: zone 16N against 17N" in finding.sentence


def test_a_file_with_heights_in_another_unit_is_major(delivered):
    """Another vertical unit is another system too."""
    odd = delivered("b.las", crs=describe("EPSG:6346+6360"))
    (finding,) = judge(delivered("a.las"), odd)
    assert (finding.subject, finding.grade) == ("b.las", Grade.MAJOR)


@pytest.mark.parametrize(
    ("changes", "catalogue", "words"),
    [
        (
            {"generating_software": "demo-proc 4.0.9"},
            "PS-01",
            "program demo-proc 4.0.9, in 2 other files demo-proc",
        ),
        ({"version": "1.3"}, "FT-08", "LAS version 1.3, in 2 other files 1.4"),
        ({"point_format": 7}, "FT-08", "point format 7, in 2 other files 6"),
        ({"record_length": 34}, "FT-08", "point record 34 bytes, in 2 other files 30 bytes"),
        ({"scale": (0.01, 0.01, 0.001)}, "FT-08", "scale 0.01 0.01 0.001, in 2 other files 0.001"),
        ({"global_encoding": 1}, "FT-08", "WKT flag not set, in 2 other files set"),
    ],
)
def test_each_trait_that_is_odd_is_a_remark(delivered, changes, catalogue, words):
    """Program, version, format, record, scale and flag are compared; the odd one is named."""
    files = [delivered("a.las"), delivered("b.las", header=changes), delivered("c.las")]
    (finding,) = judge(*files)
    assert (finding.subject, finding.grade) == ("b.las", Grade.OBSERVATION)
    assert finding.catalogue == (catalogue,)
    assert words in finding.sentence


def test_remarks_on_one_file_are_one_finding_for_each_cause(delivered):
    """Several odd traits of one file do not drown the reader, and keep different ids."""
    changes = {"generating_software": "x", "version": "1.2", "point_format": 3}
    findings = judge(delivered("a.las"), delivered("b.las"), delivered("c.las", header=changes))
    assert [f.catalogue for f in findings] == [("FT-08",), ("PS-01",)]
    assert len({f.id for f in findings}) == 2


def test_two_equal_groups_are_told_with_both_sides(delivered):
    """Where nobody is the majority the sentence still gives both values."""
    new = {"generating_software": "demo-proc 4.2"}
    (finding,) = judge(delivered("a.las"), delivered("b.las", header=new))
    assert "demo-proc 4.2, in 1 other file demo-proc 4.1.0" in finding.sentence


def test_one_system_written_in_two_ways_is_a_remark(delivered, utm17):
    """Other text of the same meaning is no other system."""
    record = CrsRecord(present=True, crs=replace(utm17, name="grid"), text="other words")
    reading = CrsReading(record, CrsRecord(present=False), record)
    odd = delivered("b.las", crs=reading)
    (finding,) = judge(delivered("a.las"), odd, delivered("c.las"))
    assert finding.grade is Grade.OBSERVATION
    assert "written in 2 ways: b.las differs from the rest" in finding.sentence
    more = [delivered(f"{name}.las", crs=reading) for name in "de"]
    (finding,) = judge(*(delivered(f"{name}.las") for name in "abc"), *more)
    assert "written in 2 ways: d.las and 1 more differ from the rest" in finding.sentence


def test_an_unreadable_header_is_not_assessed(delivered):
    """Files that could not be compared are counted, and the rest is compared all the same."""
    (finding,) = judge(delivered("a.las"), delivered("b.las", header=None))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert "1 of 2 files has no readable header and was not compared" in finding.sentence


def test_an_empty_folder_is_not_assessed():
    """A folder without a point file is no pass."""
    assert judge()[0].outcome is Outcome.NOT_ASSESSED


def test_one_header_is_compared_with_nothing(delivered):
    """A single file conforms, and the sentence says that nothing was compared."""
    (finding,) = judge(delivered())
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "There is one header only, so there is nothing to compare."
