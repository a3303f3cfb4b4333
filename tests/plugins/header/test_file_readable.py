"""A file is whole, or the audit says why not.

Sizes by ASPRS LAS 1.4 R15: point records follow each other from the offset to point data.
"""

from __future__ import annotations

import pytest

from ledger.contract.evidence import ReadFacts
from ledger.crs import read_crs
from ledger.lasheader import read_las_header
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence, make_file
from lidar_checks.header.file_readable import FileReadable


def judge(*files, quick=False):
    """Return the findings about these files."""
    return drive_check(FileReadable(), make_evidence(*files, quick=quick))


def test_a_whole_file_conforms(delivered):
    """A file that gives every point it states conforms."""
    (finding,) = judge(delivered())
    assert finding.outcome is Outcome.CONFORMS
    assert "1,000 points read" in finding.sentence


def test_an_unreadable_header_is_major(delivered):
    """A header that cannot be read is a finding, and the other files are judged all the same."""
    bad = delivered("bad.las", header=None, header_fault="it does not begin with LASF")
    broken, good = judge(bad, delivered())
    assert broken.grade is Grade.MAJOR
    assert "bad.las cannot be read: it does not begin with LASF." in broken.sentence
    assert good.outcome is Outcome.CONFORMS


def test_a_reason_is_not_said_twice(delivered):
    """What reading the bytes broke on says itself that they cannot be read."""
    fault = "cannot be read: it is a named pipe"
    (broken,) = judge(delivered("bad.las", header=None, header_fault=fault, fault=fault))
    assert broken.sentence == "bad.las cannot be read: it is a named pipe."


def test_fewer_points_than_stated_are_major(delivered):
    """A file that gives fewer points than it states is never whole, however it ended."""
    (finding,) = judge(delivered(reading={"decoded": 999}))
    assert finding.grade is Grade.MAJOR
    assert "ends 1 point early: only 999 of 1,000 points" in finding.sentence


def test_a_fault_while_reading_is_major(delivered):
    """A decoder that stops is told with what it could read."""
    (finding,) = judge(delivered(reading={"decoded": 500, "fault": "chunk 3 is corrupt"}))
    assert finding.grade is Grade.MAJOR
    assert "only 500 of 1,000 points can be read: chunk 3 is corrupt." in finding.sentence


def test_a_fault_after_the_last_point_is_major(delivered):
    """A fault counts even when all points had come."""
    (finding,) = judge(delivered(reading={"fault": "no end of the stream"}))
    assert finding.grade is Grade.MAJOR


@pytest.mark.parametrize(
    "parts", [{"reading": {"changed": True}}, {"bytes": 31_001}, {"fault": "it changed"}]
)
def test_a_file_that_changes_is_major(delivered, parts):
    """Nothing can be said of a file that did not hold still."""
    (finding,) = judge(delivered(**parts))
    assert finding.grade is Grade.MAJOR
    assert "changed while it was being read" in finding.sentence
    assert "(swathbook audit out)" in finding.remedy


def test_more_points_than_stated_are_minor(delivered):
    """Points that the header does not count are lost to programs that trust it."""
    (finding,) = judge(delivered(reading={"decoded": 1001}))
    assert finding.grade is Grade.MINOR
    assert "1,001 points where its header states 1,000" in finding.sentence


def test_a_quick_audit_judges_plain_files_by_size(delivered):
    """Without reading a point, the size of a LAS file shows that records are missing."""
    short = {"file_size": 30_999}
    good, bad = judge(
        delivered(reading=None), delivered("b.las", reading=None, header=short), quick=True
    )
    assert good.outcome is Outcome.CONFORMS
    assert bad.grade is Grade.MAJOR
    assert "ends 1 byte early: it has 30,999 of the 31,000 bytes" in bad.sentence


def test_a_quick_audit_says_nothing_of_compressed_files(delivered):
    """The size of a LAZ file shows nothing, so it is not assessed."""
    (finding,) = judge(delivered(reading=None, header={"compressed": True}), quick=True)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("points",)


def test_points_that_nobody_read_are_not_assessed(delivered):
    """In a full audit a file whose points were not read is not whole by its size alone."""
    (finding,) = judge(delivered(reading=None))
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_an_empty_folder_is_not_assessed():
    """A folder without a point file is no pass."""
    (finding,) = judge()
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_an_empty_file_and_an_odd_header_are_told(delivered):
    """A file without points, and oddities of its header, are remarks beside the result."""
    empty = {
        "point_count": 0,
        "by_return": (0,) * 15,
        "notes": ("it states 3 records and holds 2",),
    }
    conforming, remark = judge(delivered(header=empty, reading={}))
    assert conforming.outcome is Outcome.CONFORMS
    assert remark.grade is Grade.OBSERVATION
    assert "it holds no point; it states 3 records and holds 2" in remark.sentence


def test_the_check_may_not_be_left_open():
    """Readable files are always required."""
    assert FileReadable.always_required


def test_the_clipped_sample_ends_one_record_early(real):
    """The clipped sample of PDAL states 1,065 points and holds 1,064 (its LasHeader test)."""
    name = "las-malformed/1.2-with-color-clipped.las"
    (quick,) = judge(real(name), quick=True)
    assert quick.grade is Grade.MAJOR
    assert "ends 34 bytes early" in quick.sentence  # one record of point format 3
    (full,) = judge(real(name, reading=ReadFacts(decoded=1064)))
    assert full.grade is Grade.MAJOR
    assert "1,064 of 1,065 points" in full.sentence


def test_a_quick_audit_tells_a_cut_laz_by_its_chunk_table(open_file, tmp_path):
    """The table of chunks stands behind the points, so a cut file states one beyond its end."""
    whole = open_file("plane.laz").read_bytes()
    for length, broken in ((len(whole), False), (len(whole) - 1000, True)):
        path = tmp_path / f"cut{length}.laz"
        path.write_bytes(whole[:length])
        header = read_las_header(path)
        file = make_file(path.name, bytes=length, header=header, crs=read_crs(header))
        finding = judge(file, quick=True)[0]
        assert (finding.grade is Grade.MAJOR) is broken
        assert ("early or more" in finding.sentence) is broken


@pytest.mark.parametrize("name", ["broken_type.laz", "broken_size.laz", "broken_coder.laz"])
def test_a_quick_audit_tells_what_no_decoder_may_be_given(real, name):
    """Their LASzip records are patched: `facts.json` says that two decoders refuse them."""
    finding = judge(real(name), quick=True)[0]
    assert finding.grade is Grade.MAJOR
    assert "cannot be decoded" in finding.sentence
