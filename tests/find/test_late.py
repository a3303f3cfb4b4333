"""What was written down long after it happened is said to be so, where somebody looks it up."""

from __future__ import annotations

import json
import os
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from documented import require
from job_bench import run_here

from ledger.model.artefact import FileRecord, Output
from ledger.model.known import KnownValue
from ledger.model.late import describe_late_flight, describe_late_process, measure_delay
from ledger.model.process import Decision, Process
from ledger.start import start_job
from ledger.testing import Layout, Scene, SurveyBuilder

ENTERED = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)
TIME = "2026-05-20T12:00:00Z"


def make_file(hours: float | None, created: str = "") -> FileRecord:
    """Return a file that was written some hours before the entry."""
    written = 0 if hours is None else int((ENTERED.timestamp() - hours * 3600) * 1e9)
    return FileRecord("out/a.las", "ab", 1, written, "points", {"created": created})


def describe(*files: FileRecord, kind: str = "run") -> str:
    """Return how late a run with these outputs was recorded."""
    outputs = tuple(Output(file) for file in files)
    process = Process("R1", kind, "", 1, TIME, "technician", Decision.ACCEPTED, 1, "")
    return describe_late_process(Process(**{**vars(process), "outputs": outputs}))


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ([make_file(23.9)], ""),
        ([make_file(24.1)], "24 hours after its newest file was written"),
        ([make_file(240), make_file(120)], "5.0 days after its newest file was written"),
        ([make_file(240), make_file(1)], ""),
        ([make_file(-30)], ""),
        ([make_file(None)], ""),
        ([], ""),
        ([make_file(1, "2026-133")], ""),
        (
            [make_file(1, "2026-100"), make_file(1, "2026-130")],
            "9.5 days after the day in the headers of its files, 2026-05-10",
        ),
        ([make_file(1, "2026-0")], ""),
        ([make_file(None, "2025-366")], ""),
    ],
)
def test_a_run_is_late_by_its_newest_file_or_by_what_headers_say(
    files: list[FileRecord], told: str
) -> None:
    """A day for times of files, a week for headers: 10 May is day 130 of 2026."""
    assert describe(*files) == told


def test_headers_say_nothing_about_a_step() -> None:
    """A tiling leaves the day in the headers as it found it."""
    assert describe(make_file(1, "2026-100"), kind="step") == ""
    assert "newest file" in describe(make_file(100, "2026-100"), kind="step")


@pytest.mark.parametrize(
    ("values", "hours", "told"),
    [
        ({"flight.landing": "2026-05-19T11:00:00Z"}, 1, "25 hours after landing"),
        ({"flight.landing": "2026-05-19T13:00:00Z"}, 900, ""),
        ({"flight.takeoff": "2026-05-10T12:00:00Z"}, 1, "10.0 days after take-off"),
        ({}, 50, "2.1 days after its newest raw file was written"),
        ({}, 5, ""),
        ({}, None, ""),
    ],
)
def test_a_field_card_is_late_by_its_landing_else_by_its_raw_files(
    values: dict[str, str], hours: float | None, told: str
) -> None:
    """What the card says of itself comes before what a copy may have renewed."""
    known = {key: KnownValue(value) for key, value in values.items()}
    assert describe_late_flight(TIME, known, [make_file(hours)]) == told
    assert describe_late_flight("", known, [make_file(hours)]) == ""


def test_the_delay_is_the_time_between() -> None:
    """Of the newest file that has a time."""
    assert measure_delay(TIME, [make_file(2), make_file(None), make_file(5)]) == timedelta(hours=2)
    assert measure_delay(TIME, []) is None


@pytest.fixture
def old_job(tmp_path: Path) -> Path:
    """Return a job whose files were written long before it was written down."""
    job = start_job(tmp_path / "job").folder
    today = datetime.now(UTC).date()
    SurveyBuilder(job / "out" / "R1", Layout(created=today), Scene(columns=1, density=1.0))
    (job / "raw" / "scan.bin").write_bytes(b"raw")
    before = datetime.now(UTC).timestamp() - 40 * 86400
    for path in [*(job / "out").rglob("*.la?"), job / "raw" / "scan.bin"]:
        os.utime(path, (before, before))
    for words in (
        ["register", "raw", "--flight", "F1"],
        ["record", "flight", "F1", "--set", "mount_mode=drone"],
        ["record", "out/R1", "--input", "F1", "--set", "decision=accepted"],
    ):
        assert run_here(words, job).status == 0
    return job


def test_trace_and_find_say_it_and_nothing_calls_it_a_fault(old_job: Path) -> None:
    """On the screen of a file, in JSON, and as a search; recheck and status go on as before."""
    tile = next((old_job / "out" / "R1").iterdir()).relative_to(old_job).as_posix()
    ran = run_here(["trace", tile], old_job)
    told = " ".join(ran.out.split())
    assert ran.status == 0
    assert re.search(
        r"run R1 [^└]*, late └── flight F1 [^a-z]*[^,]*, technician, [-0-9]+, late", told
    )
    told = " ".join(run_here(["trace", "R1"], old_job).out.split())
    assert "late 40.0 days after its newest file was written R1 read" in told
    told = " ".join(run_here(["trace", "F1"], old_job).out.split())
    assert "late 40.0 days after its newest raw file was written F1 read" in told
    traced = json.loads(run_here(["trace", "R1", "--json"], old_job).out)
    require("trace", traced)
    (run,) = [node for node in traced["chain"] if node["id"] == "R1"]
    assert run["values"]["run.recorded_late"]["value"].startswith("40.0 days after")
    found = json.loads(run_here(["find", "recorded late", "--json"], old_job).out)
    assert [hit["id"] for hit in found["hits"]] == ["F1", "R1"]
    assert run_here(["recheck"], old_job).status == 0


def test_what_is_written_down_the_same_day_is_not_late(tmp_path: Path) -> None:
    """No row, and nothing to be found."""
    job = start_job(tmp_path / "job").folder
    today: date = datetime.now(UTC).date()
    SurveyBuilder(job / "out" / "R1", Layout(created=today), Scene(columns=1, density=1.0))
    assert run_here(["record", "out/R1"], job).status == 0
    assert "recorded_late" not in run_here(["trace", "R1", "--json"], job).out
    assert json.loads(run_here(["find", "recorded late", "--json"], job).out)["hits"] == []


def test_a_card_that_is_added_to_later_is_not_late_for_that(tmp_path: Path) -> None:
    """What counts is when it was filled in first."""
    job = start_job(tmp_path / "job").folder
    landed = datetime.now(UTC) - timedelta(hours=1)
    said = f"landing={landed:%Y-%m-%dT%H:%M:%SZ}"
    assert run_here(["record", "flight", "F1", "--set", said], job).status == 0
    assert run_here(["record", "flight", "F1", "--set", "wind=calm"], job).status == 0
    assert json.loads(run_here(["find", "recorded late", "--json"], job).out)["hits"] == []
