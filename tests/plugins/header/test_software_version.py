"""One version of each program behind one delivery."""

from __future__ import annotations

from typing import Any

from ledger.model.artefact import FileRecord, Output
from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision, Input, Process
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.software_version import SoftwareVersion


def make_run(name="R1", decision=Decision.ACCEPTED, inputs=(), **values):
    """Return a run or step of demo-proc 4.1.0, some values changed; None makes one blank."""
    kind = "step" if name.startswith("S") else "run"
    given = {"software": "demo-proc", "version": "4.1.0", **values}
    known = {
        f"{kind}.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in given.items()
        if value is not None
    }
    entry = int(name[1:]) + (10 if kind == "step" else 0)
    made = (Output(FileRecord(f"out/{name}.las", name, 1, 0, "points")),)
    used = tuple(Input(sha256=source, role="points") for source in inputs)
    parts: dict[str, Any] = {"values": known, "inputs": used, "outputs": made}
    return Process(name, kind, "", entry, "", "technician", decision, 1, "", **parts)


def judge(delivered, *runs):
    """Return the findings about a delivery of one file a run."""
    files = [delivered(f"{run.id}.las", run=run) for run in runs]
    return drive_check(SoftwareVersion(), make_evidence(*files, processes=runs))


def cleaned(**values):
    """Return a step of another program that worked on R1."""
    given = {"kind": "cleaning", "software": "demo-clean", "version": "2.0", **values}
    return make_run("S1", inputs=("R1",), **given)


def test_one_version_conforms(delivered):
    """Two runs of one version conform."""
    (finding,) = judge(delivered, make_run("R1"), make_run("R2"))
    assert finding.outcome is Outcome.CONFORMS


def test_two_versions_are_minor(delivered):
    """Each version is told with its runs and how many files stand behind each."""
    (finding,) = judge(delivered, make_run("R1"), make_run("R2", version="4.0.9"))
    assert finding.grade is Grade.MINOR
    assert finding.sentence == (
        "demo-proc was used for processing in 2 versions: 4.1.0: R1 (1 file); 4.0.9: R2 (1 file)."
    )
    assert (finding.observed, finding.required) == (
        "2 versions of demo-proc for processing: 4.1.0, 4.0.9",
        "one version of demo-proc for processing",
    )


def test_two_programs_in_two_versions_are_no_finding(delivered):
    """What cleans after processing is another program, as a step or as a run."""
    (finding,) = judge(delivered, make_run("R1"), cleaned())
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.endswith("demo-proc 4.1.0, demo-clean 2.0.")
    later = make_run("R2", inputs=("R1",), software="demo-clean", version="2.0")
    (finding,) = judge(delivered, make_run("R1"), later)
    assert finding.outcome is Outcome.CONFORMS


def test_a_program_that_cleaned_in_two_versions_is_minor(delivered):
    """The kind of work is named; the processing program is not."""
    again = make_run("S2", inputs=("R1",), kind="cleaning", software="demo-clean", version="2.1")
    (finding,) = judge(delivered, make_run("R1"), cleaned(), again)
    assert finding.grade is Grade.MINOR
    assert "demo-clean was used for cleaning in 2 versions" in finding.sentence


def test_one_program_in_two_versions_for_two_kinds_of_work_is_told(delivered):
    """An update between processing and tiling needs no acceptance, and is not hidden."""
    (finding,) = judge(delivered, make_run("R1"), cleaned(software="Demo-Proc", version="4.2.0"))
    assert finding.grade is Grade.OBSERVATION
    assert "demo-proc was used in 2 versions: 4.1.0: R1" in finding.sentence


def test_the_run_behind_a_cleaned_file_counts(delivered):
    """A cleaned file from a run of the older version mixes versions, though only S1 made files."""
    file = delivered("S1.las", run=cleaned())
    runs = (make_run("R1", version="4.0.9"), make_run("R2"))
    files = (file, delivered("R2.las", run=runs[1]))
    evidence = make_evidence(*files, processes=(*runs, cleaned()))
    (finding,) = drive_check(SoftwareVersion(), evidence)
    assert finding.grade is Grade.MINOR
    assert "4.0.9: R1 (1 file); 4.1.0: R2 (1 file)" in finding.sentence


def test_a_build_counts_where_every_run_states_it(delivered):
    """Two builds of one version are two; a build that one run does not state is not compared."""
    both = judge(delivered, make_run("R1", build="7"), make_run("R2", build="8"))
    assert both[0].grade is Grade.MINOR
    one = judge(delivered, make_run("R1", build="7"), make_run("R2"))
    assert one[0].outcome is Outcome.CONFORMS


def test_a_rejected_run_does_not_count(delivered):
    """The version of a run that was thrown away is of no interest here."""
    thrown = make_run("R1", Decision.REJECTED, version="4.0.9")
    (finding,) = judge(delivered, thrown, make_run("R2"))
    assert finding.outcome is Outcome.CONFORMS


def test_a_blank_version_is_not_assessed(delivered):
    """The key is named, and the known versions are compared all the same."""
    (blank,) = judge(delivered, make_run("R1", version=None), make_run("R2"))
    assert blank.outcome is Outcome.NOT_ASSESSED
    assert (blank.subject, blank.needs) == ("R1", ("run.version",))
    assert blank.remedy == 'Look it up (swathbook amend R1 --set version="…" --reason "…")'
    runs = (make_run("R1", version=None), make_run("R2"), make_run("R3", version="4.2"))
    outcomes = [finding.outcome for finding in judge(delivered, *runs)]
    assert outcomes == [Outcome.NOT_ASSESSED, Outcome.NONCONFORMING]


def test_an_assumed_version_never_passes(delivered):
    """Equal versions of which one was assumed are inconclusive; different ones still fail."""
    assumed = KnownValue("4.1.0", known_by=KnownBy.ASSUMED)
    (finding,) = judge(delivered, make_run("R1"), make_run("R2", version=assumed))
    assert finding.outcome is Outcome.INCONCLUSIVE
    other = KnownValue("4.2", known_by=KnownBy.ASSUMED)
    (finding,) = judge(delivered, make_run("R1"), make_run("R2", version=other))
    assert finding.grade is Grade.MINOR


def test_without_a_run_nothing_is_assessed(delivered):
    """Files that no run stands behind are not assessed."""
    (finding,) = drive_check(SoftwareVersion(), make_evidence(delivered()))
    assert finding.needs == ("records",)
