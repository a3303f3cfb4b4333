"""A raw file that is not what was registered is found, from the book alone."""

from __future__ import annotations

import pytest
from made_raw import grade, judge, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from ledger.model.process import Decision, Input, Process
from lidar_checks.lineage.raw_unchanged import RawUnchanged


@pytest.mark.parametrize("state", ["changed", "points unchanged, header changed"])
def test_changed_where_it_was_registered_is_major(state: str) -> None:
    """Other bytes at its own place: major, with the day it was registered and who used it."""
    run = Process(
        "R2", "run", "", 5, "", "technician", Decision.ACCEPTED, 5, "", inputs=(Input("F1"),)
    )
    raw = make_raw("raw/cap.bin", wrong={"raw/cap.bin": state})
    found = judge(RawUnchanged(), make_job(raw, make_raw("raw/b.bin"), processes=(run,)))
    assert list(found) == ["raw/cap.bin"]
    finding = found["raw/cap.bin"]
    assert (grade(finding), finding.catalogue) == (Grade.MAJOR, ("RC-09",))
    assert finding.sentence == (
        "Raw file raw/cap.bin of F1 (used by R2) is not what was registered on 14 May 2026: it "
        "was changed since."
    )
    assert finding.remedy.startswith("Copy it back from a copy that was read back")


def test_a_changed_copy_is_no_changed_raw_file() -> None:
    """What happened to a copy on a drive, or a file that is away, is another check's matter."""
    copy = make_raw("raw/cap.bin", wrong={"/usb/cap.bin": "changed"})
    gone = make_raw("raw/b.bin", wrong={"raw/b.bin": "missing"})
    found = judge(RawUnchanged(), make_job(copy, gone))
    assert [grade(each) for each in found.values()] == [Outcome.CONFORMS]


def test_sound_files_conform_flight_by_flight() -> None:
    """One answer a flight, with the day on which the oldest reading was."""
    found = judge(
        RawUnchanged(),
        make_job(make_raw("raw/a.bin"), make_raw("raw/base.obs", "base-log", flight="")),
    )
    assert {key: grade(each) for key, each in found.items()} == {
        "F1": Outcome.CONFORMS,
        "delivery": Outcome.CONFORMS,
    }
    assert "last read on 19 May 2026 or later" in found["F1"].sentence


def test_without_raw_files_nothing_is_said() -> None:
    """Photos and tables are no raw data; without any the check is not assessed."""
    for evidence in (make_job(), make_job(make_raw("raw/a.png", "photo"))):
        (found,) = judge(RawUnchanged(), evidence).values()
        assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("capture",))
