"""Files that are others than an audit passed before."""

from __future__ import annotations

import pytest
from made_raw import grade, judge, make_job

from ledger.contract.check import Grade, Outcome
from ledger.model.jobrecords import PastAudit
from ledger.testing import make_file
from lidar_checks.lineage.replaced_delivery import ReplacedDelivery

OLD, NEW = "a" * 64, "b" * 64


@pytest.mark.parametrize(
    ("verdict", "before", "expected"),
    [
        ("fit to send", OLD, Grade.OBSERVATION),
        ("send only with acceptance", OLD, Grade.OBSERVATION),
        ("do not send", OLD, Outcome.CONFORMS),
        ("incomplete", OLD, Outcome.CONFORMS),
        ("fit to send", NEW, Outcome.CONFORMS),
        ("fit to send", "", Outcome.CONFORMS),  # it could not be read then
    ],
)
def test_other_bytes_than_an_audit_passed(
    verdict: str, before: str, expected: Grade | Outcome
) -> None:
    """Only what may have been sent counts."""
    audit = PastAudit("D1", "deliver", 9, "2026-05-14T10:00:00Z", verdict, {"t.laz": before})
    evidence = make_job(files=(make_file("t.laz", sha256=NEW),), folder="deliver", audits=(audit,))
    (found,) = judge(ReplacedDelivery(), evidence).values()
    assert grade(found) is expected
    if expected is Grade.OBSERVATION:
        assert "not what was audited on 14 May 2026 as D1" in found.sentence
        assert found.catalogue == ("RH-01", "RH-05")


def test_another_folder_with_files_of_the_same_names() -> None:
    """A second delivery beside the first one: recipients may hold either."""
    audit = PastAudit("D1", "deliver1", 9, "2026-05-14T10:00:00Z", "fit to send", {"t.laz": OLD})
    files = (make_file("t.laz", sha256=NEW), make_file("u.laz", sha256=NEW))
    found = judge(ReplacedDelivery(), make_job(files=files, folder="d2", audits=(audit,)))["D1"]
    assert (grade(found), found.catalogue, found.observed) == (
        Grade.OBSERVATION,
        ("RH-05",),
        "1",
    )


def test_documents_do_not_count() -> None:
    """A report that was written on is no replaced delivery; without points nothing is said."""
    audit = PastAudit("D1", "deliver", 9, "", "fit to send", {"r.pdf": OLD})
    file = make_file("r.pdf", kind="document", sha256=NEW)
    (found,) = judge(ReplacedDelivery(), make_job(files=(file,), audits=(audit,))).values()
    assert grade(found) is Outcome.INCONCLUSIVE
