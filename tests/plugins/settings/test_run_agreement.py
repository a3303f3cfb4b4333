"""Runs of one delivery held against each other; what counts as the same follows common practice."""

from __future__ import annotations

import pytest
from made_records import Records

from ledger.model.finding import Grade, Outcome
from ledger.model.process import Decision
from ledger.testing.driver import drive_check
from lidar_checks.settings.run_agreement import RunAgreement


def judge(second, *, first=None, decision=Decision.ACCEPTED):
    """Return the findings about two runs, of which some settings are changed."""
    made = Records().rig().flight().process(changes=first or {})
    made.process("R2", changes=second, decision=decision)
    made.deliver("a.las", "R1").deliver("b.las", "R2")
    return drive_check(RunAgreement(), made.evidence())


def test_runs_that_agree_conform():
    """Two runs with one set of settings, and one run alone."""
    (finding,) = judge({})
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.startswith("R1 and R2 agree in crs, frame, epoch")
    made = Records().rig().flight().process().deliver("a.las", "R1")
    (alone,) = drive_check(RunAgreement(), made.evidence())
    assert (alone.outcome, "One run, R1" in alone.sentence) == (Outcome.CONFORMS, True)


@pytest.mark.parametrize(
    ("key", "value", "grade"),
    [
        ("run.frame", "ITRF2014", Grade.MINOR),
        ("run.scale_basis", "ground", Grade.MINOR),
        ("run.range_max", "80", Grade.OBSERVATION),
        ("run.thinning", "smoothing", Grade.OBSERVATION),
    ],
)
def test_runs_that_differ_are_told(key, value, grade):
    """Where points lie is minor, how they were kept an observation."""
    (finding,) = judge({key: value})
    assert finding.grade is grade
    name = key.partition(".")[2]
    assert name in finding.sentence
    assert f"R2 {value}" in finding.observed
    assert finding.remedy


def test_a_number_written_otherwise_is_the_same():
    """90 m is 90.0 m."""
    (finding,) = judge({"run.range_max": "90.0"})
    assert finding.outcome is Outcome.CONFORMS


def test_settings_of_a_flight_may_differ():
    """Another rig has another arm, and another flight another mode."""
    (finding,) = judge({"run.lever_arm": ["0", "0", "0.3"], "run.mount_mode": "hand"})
    assert finding.outcome is Outcome.CONFORMS


def test_a_blank_leaves_it_open():
    """What one run says and another does not cannot be held against each other."""
    (finding,) = judge({"run.frame": None})
    assert (finding.outcome, finding.needs) == (Outcome.INCONCLUSIVE, ("run.frame",))
    assert "R2 does not say frame" in finding.sentence
    assert 'swathbook amend R2 --set frame="…"' in finding.remedy


def test_an_assumed_value_never_passes_and_may_fail(assumed):
    """Nobody looked it up: the same value proves nothing, another one is told."""
    (same,) = judge({"run.frame": assumed("NAD83(2011)")})
    assert same.outcome is Outcome.INCONCLUSIVE
    (other,) = judge({"run.frame": assumed("ITRF2014")})
    assert other.grade is Grade.MINOR


def test_a_rejected_run_is_not_compared():
    """A stale file is told by the check of custody."""
    (finding,) = judge({"run.frame": "ITRF2014"}, decision=Decision.REJECTED)
    assert finding.outcome is Outcome.CONFORMS


def test_without_a_run_nothing_is_judged():
    """A delivery that no run made."""
    (finding,) = drive_check(RunAgreement(), Records().deliver("a.las").evidence())
    assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("records",))
