"""One program version behind one delivery."""

from __future__ import annotations

from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision, Process
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.software_version import SoftwareVersion


def make_run(name="R1", decision=Decision.ACCEPTED, **values):
    """Return a run of demo-proc 4.1.0 with some values changed; None makes one blank."""
    given = {"software": "demo-proc", "version": "4.1.0", **values}
    known = {
        f"run.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in given.items()
        if value is not None
    }
    entry = int(name[1:])
    return Process(name, "run", "", entry, "", "technician", decision, 1, "", values=known)


def judge(delivered, *runs):
    """Return the findings about a delivery of one file a run."""
    files = [delivered(f"{run.id}.las", run=run) for run in runs]
    return drive_check(SoftwareVersion(), make_evidence(*files))


def test_one_version_conforms(delivered):
    """Two runs of one version conform."""
    (finding,) = judge(delivered, make_run("R1"), make_run("R2"))
    assert finding.outcome is Outcome.CONFORMS


def test_two_versions_are_minor(delivered):
    """Each version is told with its runs and how many files stand behind each."""
    (finding,) = judge(delivered, make_run("R1"), make_run("R2", version="4.0.9"))
    assert finding.grade is Grade.MINOR
    assert "demo-proc 4.1.0: R1 (1 file); demo-proc 4.0.9: R2 (1 file)" in finding.sentence


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
