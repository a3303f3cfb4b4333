"""Counts in the header against the points.

Rules by ASPRS LAS 1.4 R15, public header block: the 64-bit counts are always right; legacy counts
are zero for point formats 6 and up, and otherwise zero or equal.
"""

from __future__ import annotations

import pytest

from ledger.contract.evidence import ReadFacts
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.header_counts import HeaderCounts


def judge(file):
    """Return the one finding about a file."""
    (finding,) = drive_check(HeaderCounts(), make_evidence(file))
    return finding


def returns(*counts, length=15):
    """Return counts by return, filled up with zeros."""
    return (*counts, *(0,) * (length - len(counts)))


def test_counts_that_agree_conform(delivered):
    """A header that counts returns as the points do conforms."""
    assert judge(delivered()).outcome is Outcome.CONFORMS


def test_a_wrong_count_by_return_is_minor(delivered):
    """The return number that is most wrong is told, and that others are wrong too."""
    finding = judge(delivered(reading={"by_return": (0, 800, 150, 50)}))
    assert finding.grade is Grade.MINOR
    assert "the header counts 900 returns of number 1, there are 800" in finding.sentence
    assert "2 more return numbers differ" in finding.sentence


def test_counts_that_are_all_zero_are_minor(delivered):
    """A header that counts no return says nothing of its points."""
    finding = judge(delivered(header={"by_return": returns()}, reading={"by_return": (0, 1000)}))
    assert finding.grade is Grade.MINOR
    assert "counts no return at all for 1,000 points" in finding.sentence


def test_legacy_counts_by_return_that_differ_are_minor(delivered):
    """Stale legacy counts by return are found beside right 64-bit ones."""
    header = {"point_format": 1, "legacy_count": 1000, "legacy_by_return": (1000, 0, 0, 0, 0)}
    finding = judge(delivered(header=header))
    assert finding.grade is Grade.MINOR
    assert "1,000, 0, 0, 0, 0; the points give 900, 80, 20, 0, 0" in finding.sentence


def test_an_empty_file_conforms_with_zero_counts_only(delivered):
    """A file without points must not count returns."""
    header = {"point_count": 0, "by_return": returns()}
    reading = {"by_return": (), "minimum": None, "maximum": None}
    assert judge(delivered(header=header, reading=reading)).outcome is Outcome.CONFORMS
    stale = header | {"by_return": returns(5)}
    assert judge(delivered(header=stale, reading=reading)).grade is Grade.MINOR


@pytest.mark.parametrize("reading", [None, {"by_return": ()}, {"fault": "x"}, {"decoded": 999}])
def test_points_that_were_not_all_counted_are_not_assessed(delivered, reading):
    """Counts of a part of the points are compared with nothing."""
    finding = judge(delivered(reading=reading))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("points",)


def test_an_unreadable_header_is_not_assessed(delivered):
    """A file whose header cannot be read is never passed over."""
    assert judge(delivered(header=None)).outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize(
    ("name", "by_return", "grade", "words"),
    [
        ("las/epsg_4326.las", (5380,), Grade.MINOR, "counts 5,380 returns of number 1"),
        ("las/test_utm16.las", (10,), Grade.MINOR, "no return at all for 10 points"),
        ("las/hexbin-crop.las", (0, 0, 0, 0, 38367), None, "as the points do"),
        ("las/1_4_w_evlr.laz", None, None, ""),
    ],
)
def test_real_files_are_found_as_they_are(real, name, by_return, grade, words):
    """Real files whose counts are known to be stale, zero or needless are found so.

    Points by return were counted with laspy; where None, they are taken to be as the header says.
    """
    header = real(name).header
    counted = by_return if by_return is not None else (0, *header.by_return)
    finding = judge(real(name, reading=ReadFacts(header.point_count, counted)))
    assert finding.grade is grade
    assert words in finding.sentence
