"""Raw files that are gone, bad copies, and too few of them."""

from __future__ import annotations

import pytest
from made_raw import grade, judge, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from lidar_checks.lineage.raw_copies import RawCopies


@pytest.mark.parametrize(
    ("copies", "needed", "expected"),
    [
        (0, 2, Grade.OBSERVATION),
        (1, 2, Grade.OBSERVATION),
        (2, 2, Outcome.CONFORMS),
        (1, 1, Outcome.CONFORMS),
    ],
)
def test_the_fewest_copies_of_any_file_count(
    copies: int, needed: int, expected: Grade | Outcome
) -> None:
    """As many good copies as job.toml asks for, of each file."""
    evidence = make_job(make_raw("a.bin"), make_raw("b.bin", copies=copies), copies_needed=needed)
    found = judge(RawCopies(), evidence)["F1"]
    assert (grade(found), found.observed, found.required) == (expected, str(copies), str(needed))
    assert ("b.bin" in found.sentence) == (expected is Grade.OBSERVATION)


@pytest.mark.parametrize("state", ["missing", "changed", "cannot be read"])
def test_gone_without_a_copy_is_minor(state: str) -> None:
    """A raw file that no place holds any more has to be accepted by somebody."""
    lost = make_raw("a.bin", wrong={"a.bin": state}, copies=0, last_read="")
    found = judge(RawCopies(), make_job(lost, make_raw("b.bin")))
    assert (grade(found["a.bin"]), found["a.bin"].catalogue) == (Grade.MINOR, ("RH-04",))
    assert grade(found["F1"]) is Outcome.CONFORMS


def test_gone_with_copies_is_not_lost() -> None:
    """A job folder that was cleared of raw files is as safe as their copies."""
    moved = make_raw("a.bin", wrong={"a.bin": "missing"})
    assert grade(judge(RawCopies(), make_job(moved))["F1"]) is Outcome.CONFORMS


def test_a_copy_with_other_bytes_is_named() -> None:
    """An altered copy is told apart; one that is merely away is not."""
    raw = make_raw("a.bin", wrong={"/usb/a.bin": "changed", "/nas/a.bin": "missing"}, copies=2)
    found = judge(RawCopies(), make_job(raw))
    assert (grade(found["/usb/a.bin"]), found["/usb/a.bin"].catalogue) == (
        Grade.MINOR,
        ("RC-07",),
    )
    assert "/nas/a.bin" not in found


@pytest.mark.parametrize(
    ("last_read", "expected"),
    [
        ("2025-11-21T12:00:01Z", Outcome.CONFORMS),
        ("2025-11-21T11:59:59Z", Grade.OBSERVATION),
    ],
)
def test_a_copy_is_read_twice_a_year(last_read: str, expected: Grade | Outcome) -> None:
    """180 days before the audit of 20 May 2026, 12:00 UTC is 21 November 2025, 12:00."""
    found = judge(RawCopies(), make_job(make_raw("a.bin", last_read=last_read)))["F1"]
    assert grade(found) is expected
    longer = judge(RawCopies(), make_job(make_raw("a.bin", last_read=last_read)), max_age_days=900)
    assert grade(longer["F1"]) is Outcome.CONFORMS


def test_without_raw_files_nothing_is_said() -> None:
    """No raw file, no answer."""
    (found,) = judge(RawCopies(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("capture",))
