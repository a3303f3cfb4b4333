"""The same file in another job."""

from __future__ import annotations

from typing import Any

import pytest
from made_raw import grade, judge, make_flight, make_job, make_raw

from ledger.contract.check import Grade, Outcome
from ledger.model.jobrecords import Elsewhere
from lidar_checks.lineage.raw_elsewhere import RawElsewhere

OTHER = Elsewhere("QM-0399", "/jobs/QM-0399", "raw/b.obs", "base-log", "2026-04-02T10:00:00Z")
FLIGHT = make_flight(takeoff="2026-05-12T14:00:00Z", landing="2026-05-12T14:20:00Z")
FITS = {"first_epoch": "2026-05-12T13:00:00", "last_epoch": "2026-05-12T15:00:00"}
OFF = {"first_epoch": "2026-04-02T13:00:00", "last_epoch": "2026-04-02T15:00:00"}
SENTENCES = {"first_time": "13:50:00", "last_time": "14:30:00"}


@pytest.mark.parametrize(
    ("role", "facts", "expected"),
    [
        ("base-log", OFF, Grade.MAJOR),
        ("base-log", {}, Grade.MAJOR),
        ("base-log", FITS, Grade.OBSERVATION),
        ("capture", {}, Grade.MAJOR),
        ("flight-log", {**SENTENCES, "date": "2026-05-12"}, Grade.MINOR),
        ("flight-log", SENTENCES, Grade.MAJOR),
    ],
)
def test_a_file_of_another_job(role: str, facts: dict[str, Any], expected: Grade) -> None:
    """Major, unless its own times show that it belongs here as well."""
    raw = make_raw("raw/b.obs", role, facts=facts, elsewhere=(OTHER,))
    found = judge(RawElsewhere(), make_job(raw, flights=(FLIGHT,), jobs=1))["raw/b.obs"]
    assert grade(found) is expected
    assert "registered in job QM-0399 too, since 2 April 2026 as raw/b.obs" in found.sentence
    assert "/jobs/QM-0399" in found.remedy


def test_files_of_this_job_alone_conform() -> None:
    """The number of jobs that were asked is told; a table of control may be shared."""
    control = make_raw("raw/c.csv", "control", elsewhere=(OTHER,))
    evidence = make_job(make_raw("raw/a.bin"), control, jobs=7)
    (found,) = judge(RawElsewhere(), evidence).values()
    assert found.outcome is Outcome.CONFORMS
    assert "one of 7 other jobs" in found.sentence


def test_a_job_that_could_not_be_asked_leaves_it_open() -> None:
    """Nothing found in the jobs that are there says nothing of one that is away."""
    evidence = make_job(make_raw("raw/a.bin"), unreached=("/jobs/gone",))
    (found,) = judge(RawElsewhere(), evidence).values()
    assert (found.outcome, "/jobs/gone" in found.sentence) == (Outcome.INCONCLUSIVE, True)


def test_without_raw_files_nothing_is_said() -> None:
    """No raw file, no answer."""
    (found,) = judge(RawElsewhere(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("capture",))
