"""Every check conforms on a sound job, fails on a spoiled one, and passes nothing unknown."""

from __future__ import annotations

import re

import pytest
from job_bench import JobBench
from made_logfiles import write_geoid
from one_fault import FAULTS
from sound_job import LAYOUT, SCENE, WISHES, Job

from ledger.contract.registry import build_registry
from ledger.testing import SurveyBuilder

NO_TABLE = "checkpoints: no file of the role checkpoints is in this job"


def list_ids() -> list[str]:
    """Return the id of every check that is shipped."""
    return sorted(each.check.id for each in build_registry().checks)


def test_every_check_conforms_on_a_sound_job(bench: JobBench) -> None:
    """With everything on record and in order, every check says so, and the folder may be sent."""
    result = Job().audit(bench)
    assert sorted(row["check"] for row in result["conforming"]) == list_ids()
    assert (result["verdict"], [f for f in result["findings"] if f["grade"]]) == ("fit to send", [])


def test_every_check_has_a_fault() -> None:
    """A check that is shipped and that no fault below makes fail would be shipped unproven."""
    assert sorted(FAULTS) == list_ids()


@pytest.mark.parametrize("check", list_ids())
def test_every_check_fails_on_its_fault(bench: JobBench, check: str) -> None:
    """One planted fault is a nonconforming finding of the check that is there for it."""
    result = FAULTS[check].audit(bench)
    found = [f for f in result["findings"] if f["outcome"] == "nonconforming" and f["grade"]]
    assert check in {finding["check"] for finding in found}
    assert "errored" not in {finding["outcome"] for finding in result["findings"]}


def test_nothing_passes_where_nothing_is_there(bench: JobBench) -> None:
    """A folder with one text and a job without a record: no check conforms, and none is silent."""
    bench.write("job.toml", b"")
    bench.write("out/letter.txt", b"as agreed")
    result = bench.ask("audit", "out", status=3)
    assert result["conforming"] == []
    outcomes = {finding["check"]: finding["outcome"] for finding in result["findings"]}
    assert sorted(outcomes) == list_ids()
    assert set(outcomes.values()) == {"not assessed", "inconclusive"}


def test_what_is_not_there_is_named(bench: JobBench) -> None:
    """Tiles alone, without wishes and records: each check that wants them says what it lacks."""
    bench.write("job.toml", b"")
    SurveyBuilder(bench.job / "out", LAYOUT, SCENE)
    result = bench.ask("audit", "out", status=1)
    lacking = {f["check"]: f["needs"] for f in result["findings"] if f["outcome"] == "not assessed"}
    by_records = {
        "base-height",
        "bracket-change",
        "capture-length",
        "flight-times",
        "base-chain",
        "control-chain",
        "export-settings",
        "length-units",
        "range-limits",
        "scale-basis",
        "time-scale",
        "zone-chain",
        "run-agreement",
        "frame-chain",
        "height-chain",
        "late-record",
        "lever-arm-chain",
        "mount-chain",
        "point-balance",
        "position-chain",
        "run-complete",
        "run-inputs",
        "settings-kept",
        "setup-record",
        "software-version",
        "unconfirmed-values",
    }
    by_wishes = {
        "package-items",
        "crs-agrees",
        "las-content",
        "point-density",
        "spatial-distribution",
        "surface-thickness",
        "swath-overlap",
        "unit-consistency",
        "voids",
    }
    by_records |= {
        "base-epochs",
        "base-place",
        "base-antenna",
        "fix-quality",
        "sky-quality",
        "clock-offset",
        "path-pairs",
        "track-jumps",
        "track-times",
        "start-up",
        "flown-as-planned",
        "trajectory-run",
    }
    by_path = ("points-on-lines", "points-in-time", "path-height", "carried-points")
    for check in (*by_path, "range-kept", "points-below", "roll-misalignment", "mount-steady"):
        assert lacking.pop(check) == ["trajectory"]
    assert lacking.pop("base-change") == ["flight-log"]
    assert lacking.pop("receiver-geoid") == ["geoid-grid: coordinates.geoid names no file"]
    by_raw = {"capture-files", "raw-copies", "raw-elsewhere", "raw-unchanged"}
    for check in ("boundary-coverage", "boundary-place"):
        assert lacking.pop(check) == ["boundary: delivery.boundary is blank"]
    by_points = {each for each in lacking if each.startswith("checkpoint-")}
    by_points |= {"accuracy-statement", "blind-areas", "control-fit", "named-cause"}
    for check in by_points:
        assert lacking.pop(check) == [NO_TABLE]
    for check in ("horizontal-accuracy", "vertical-accuracy"):
        assert lacking.pop(check)[0] == NO_TABLE
    assert set(lacking) == by_records | by_wishes | by_raw
    assert all(lacking[check][0].startswith("records") for check in by_records)
    assert all(re.match(r"(specification|criteria)\.", lacking[check][0]) for check in by_wishes)


def test_a_quick_audit_passes_nothing_about_points(bench: JobBench) -> None:
    """Where no point is read, every check that needs points says so, and the rest goes on."""
    SurveyBuilder(bench.job / "out", LAYOUT, SCENE)
    bench.write("job.toml", WISHES.encode())
    bench.write("geoid.gtx", write_geoid())
    result = bench.ask("audit", "out", "--quick", status=3)
    points = {each.check.id for each in build_registry().checks if "points" in each.check.needs}
    lacking = {f["check"] for f in result["findings"] if f["outcome"] == "not assessed"}
    assert points | {"file-readable", "header-extent"} <= lacking
    assert not {row["check"] for row in result["conforming"]} & lacking
