"""What runs used, how they ended, and whether their settings are those of last time."""

from __future__ import annotations

from typing import Any

import pytest
from made_raw import grade, judge, make_job

from ledger.contract.check import Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.artefact import FileRecord, Output
from ledger.model.jobrecords import Elsewhere, Precedent
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision, Input, Process
from lidar_checks.lineage.run_complete import RunComplete
from lidar_checks.lineage.run_inputs import RunInputs
from lidar_checks.lineage.settings_kept import SettingsKept

MINE, STRANGE = "a" * 64, "b" * 64


def make_run(name: str = "R2", points: Any = None, **parts: Any) -> Process:
    """Return an accepted run with these points by file, and settings by name."""
    inputs = parts.pop("inputs", (Input(flight="F1"),))
    outputs = tuple(
        Output(FileRecord(path, f"{number:064d}", 1, 1, "points"), points=count)
        for number, (path, count) in enumerate((points or {}).items())
    )
    kind = "run" if name.startswith("R") else "step"
    values = {
        f"{kind}.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in parts.items()
    }
    number = int(name[1:])
    decision = Decision.ACCEPTED
    return Process(name, kind, "", number, "", "", decision, number, "", values, inputs, outputs)


def hold(run: Process, **parts: Any) -> Evidence:
    """Return evidence about one run with what it is held against."""
    return make_job(processes=(run,), precedents={run.id: Precedent(**parts)})


@pytest.mark.parametrize("role", ["capture", "base-log", "trajectory", "points", ""])
def test_a_file_that_nobody_registered_is_minor(role: str) -> None:
    """What a run is made from has to be in this job's book as registered or made."""
    run = make_run(inputs=(Input(sha256=STRANGE, path="old/cap.bin", role=role),))
    evidence = make_job(processes=(run,), own_digests=frozenset({MINE}))
    found = judge(RunInputs(), evidence)["R2"]
    assert (grade(found), found.where.file) == (Grade.MINOR, "old/cap.bin")
    assert "swathbook register old/cap.bin" in found.remedy


def test_a_file_of_another_job_is_major() -> None:
    """Registered there and not here: the project of the wrong job was open."""
    run = make_run(inputs=(Input(sha256=STRANGE, path="cap.bin", role="capture"),))
    other = Elsewhere("QM-0399", "/jobs/QM-0399", "raw/cap.bin", "capture", "")
    evidence = make_job(processes=(run,), inputs_elsewhere={STRANGE: (other,)})
    found = judge(RunInputs(), evidence)["R2"]
    assert (grade(found), found.catalogue) == (Grade.MAJOR, ("PS-08",))
    assert "belongs to job QM-0399" in found.sentence


@pytest.mark.parametrize(
    ("used", "expected"),
    [
        (Input(flight="F1"), Outcome.CONFORMS),
        (Input(sha256=MINE, path="raw/cap.bin", role="capture"), Outcome.CONFORMS),
        (Input(sha256=STRANGE, path="set.json", role="config"), Outcome.CONFORMS),
        (Input(flight="F1", assumed=True), Outcome.INCONCLUSIVE),
    ],
)
def test_files_of_this_job(used: Input, expected: Outcome) -> None:
    """Flights and registered files conform, configurations are not asked; a guess is open."""
    evidence = make_job(processes=(make_run(inputs=(used,)),), own_digests=frozenset({MINE}))
    assert grade(judge(RunInputs(), evidence)["R2"]) is expected


def test_a_step_on_what_a_run_made() -> None:
    """What another process of the delivery made is of this job."""
    run = make_run("R1", {"a.las": 3})
    made = run.outputs[0].file.sha256
    step = make_run("S1", inputs=(Input(sha256=made, path="a.las", role="points"),))
    found = judge(RunInputs(), make_job(processes=(run, step)))
    assert {key: grade(each) for key, each in found.items()} == {
        "R1": Outcome.CONFORMS,
        "S1": Outcome.CONFORMS,
    }
    empty = judge(RunInputs(), make_job(processes=(make_run(inputs=()),)))["R2"]
    assert grade(empty) is Outcome.INCONCLUSIVE


def test_an_exit_status_tells_a_failed_command() -> None:
    """Anything but zero is a failure, by the convention of POSIX."""
    failed = judge(RunComplete(), hold(make_run(exit_status=1)))["R2"]
    assert (grade(failed), failed.catalogue) == (Grade.MAJOR, ("PS-06",))
    assert grade(judge(RunComplete(), hold(make_run(exit_status=0)))["R2"]) is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        ({"a.las": 450, "b.las": 450}, Outcome.CONFORMS),
        ({"a.las": 449, "b.las": 450}, Grade.MINOR),
        ({"a.las": 500}, Outcome.CONFORMS),  # a patch of one tile
        ({"new/a.las": 100}, Grade.MINOR),
        ({"c.las": 1}, Outcome.INCONCLUSIVE),
        ({}, Outcome.INCONCLUSIVE),
    ],
)
def test_points_beside_the_run_before(now: dict[str, int], expected: Grade | Outcome) -> None:
    """Files of one name are compared; 90 % is common practice, no source."""
    former = make_run("R1", {"out/a.las": 500, "out/b.las": 500})
    assert grade(judge(RunComplete(), hold(make_run("R2", now), former=former))["R2"]) is expected


def test_nothing_on_record_is_no_pass() -> None:
    """Neither status nor former run: open. An assumed status proves nothing."""
    assert grade(judge(RunComplete(), hold(make_run()))["R2"]) is Outcome.INCONCLUSIVE
    guessed = KnownValue(0, known_by=KnownBy.ASSUMED, confirmed=False)
    found = judge(RunComplete(), hold(make_run(exit_status=guessed)))["R2"]
    assert grade(found) is Outcome.INCONCLUSIVE


OLD = {"output_height_type": "orthometric", "range_max": "90", "mount_mode": "drone"}


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, Outcome.CONFORMS),
        ({"range_max": "90.0"}, Outcome.CONFORMS),
        ({"output_height_type": "ellipsoidal"}, Grade.MINOR),
        ({"range_max": "30"}, Grade.MINOR),
        ({"software": "other"}, Outcome.CONFORMS),
        ({"range_max": "30", "purpose": "less noise"}, Grade.OBSERVATION),
    ],
)
def test_settings_beside_the_last_accepted_run(
    changed: dict[str, str], expected: Grade | Outcome
) -> None:
    """A setting that moves the result needs a purpose; 90 m is 90.0 m."""
    before = make_run("R1", **{**OLD, "software": "one", "build": "7"})
    after = make_run("R2", **{**OLD, "build": "7", **changed})
    assert grade(judge(SettingsKept(), hold(after, accepted=before))["R2"]) is expected


def test_weights_come_first_and_are_named() -> None:
    """Geodetic before geometric, cosmetic ones only counted."""
    before = make_run("R1", **OLD, build="7")
    after = make_run("R2", range_max="30", output_height_type="ellipsoidal", build="8")
    found = judge(SettingsKept(), hold(after, accepted=before))["R2"]
    assert found.sentence == (
        "3 settings of run R2 differ from R1, the last accepted one; 2 can move the result: "
        "output_height_type orthometric → ellipsoidal, range_max 90 → 30."
    )
    assert "swathbook amend R2 --set purpose=" in found.remedy
    only = make_run("R2", **OLD, build="8")
    told = judge(SettingsKept(), hold(only, accepted=before))["R2"]
    assert (grade(told), "only build differ" in told.sentence) == (Outcome.CONFORMS, True)


def test_another_job_is_only_told() -> None:
    """What the job before had may be right there and wrong here: an observation at most."""
    before, after = make_run("R9", **OLD), make_run("R1", **{**OLD, "range_max": "30"})
    found = judge(SettingsKept(), hold(after, accepted=before, job="QM-0399"))["R1"]
    assert (grade(found), "R9 of job QM-0399" in found.sentence) == (Grade.OBSERVATION, True)


def test_nothing_to_hold_against() -> None:
    """The first run, runs without a common setting, and unconfirmed ones leave it open."""
    first = judge(SettingsKept(), hold(make_run(**OLD)))["R2"]
    apart = judge(SettingsKept(), hold(make_run(**OLD), accepted=make_run("R1", crs="x")))["R2"]
    carried = KnownValue("90", known_by=KnownBy.CARRIED, confirmed=False)
    unsure = make_run(range_max=carried)
    open_ = judge(SettingsKept(), hold(unsure, accepted=make_run("R1", **OLD)))["R2"]
    assert {grade(each) for each in (first, apart, open_)} == {Outcome.INCONCLUSIVE}


@pytest.mark.parametrize("check", [RunInputs(), RunComplete(), SettingsKept()])
def test_without_runs_nothing_is_said(check: Any) -> None:
    """No run behind the files, no answer."""
    (found,) = judge(check, make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))
