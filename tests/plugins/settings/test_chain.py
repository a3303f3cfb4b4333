"""Which runs are judged, and which flights and earlier runs belong to them."""

from __future__ import annotations

from ledger.model.finding import Outcome
from ledger.model.process import Decision
from ledger.testing.driver import drive_check
from lidar_checks.settings.chain import find_chains, find_last_runs
from lidar_checks.settings.height_chain import HeightChain
from lidar_checks.settings.mount_chain import MountChain

WRONG_MODE = {"run.mount_mode": "hand"}


def outcomes(findings, rule):
    """Return outcome by subject of the findings of one rule."""
    return {f.subject: f.outcome for f in findings if f.catalogue[0] == rule}


def test_without_a_run_nothing_is_assessed(records):
    """A delivery that no recorded run stands behind is not assessed, never a pass."""
    (finding,) = drive_check(MountChain(), records.deliver("tile.las").evidence())
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("records",)


def test_a_run_behind_no_delivered_file_is_not_judged(records):
    """A run that made nothing of this delivery is left alone."""
    records.rig().flight().process("R1").process("R2", changes=WRONG_MODE)
    findings = drive_check(MountChain(), records.deliver("tile.las", "R1").evidence())
    assert outcomes(findings, "SC-02") == {"R1": Outcome.CONFORMS}


def test_a_rejected_run_is_not_judged(records):
    """A rejected run behind a file is a stale file, which another check tells."""
    records.rig().flight().process("R1", decision=Decision.REJECTED, changes=WRONG_MODE)
    (finding,) = drive_check(MountChain(), records.deliver("tile.las", "R1").evidence())
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_an_undecided_run_is_judged(records):
    """A run that nobody decided on yet is judged like an accepted one."""
    records.rig().flight().process("R1", decision=Decision.UNDECIDED, changes=WRONG_MODE)
    findings = drive_check(MountChain(), records.deliver("tile.las", "R1").evidence())
    assert outcomes(findings, "SC-02") == {"R1": Outcome.NONCONFORMING}


def test_the_worst_of_two_flights_decides(records):
    """A run on two flights is judged by each; one finding names the one that disagrees."""
    records.rig().flight("F1").flight("F2", changes={"flight.mount_mode": "hand"})
    records.process("R1", sources=("F1", "F2")).deliver("tile.las", "R1")
    findings = [
        f for f in drive_check(MountChain(), records.evidence()) if f.catalogue[0] == "SC-02"
    ]
    (finding,) = findings
    assert finding.outcome is Outcome.NONCONFORMING
    assert "F2" in finding.sentence
    assert "F1" not in finding.sentence


def test_a_run_that_names_no_flight_is_not_assessed(records):
    """Without a flight there is nothing to compare the run with; the missing key is named."""
    records.rig().process("R1", sources=()).deliver("tile.las", "R1")
    (finding,) = [
        f for f in drive_check(MountChain(), records.evidence()) if f.catalogue[0] == "SC-02"
    ]
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("flight.mount_mode",)
    assert "R1 names no flight" in finding.sentence


def test_flights_are_found_through_earlier_runs_and_steps(records):
    """A run that used what a step made of an earlier run belongs to that run's flight."""
    records.rig().flight().process("R1").process("S1", sources=("R1",))
    records.process("R2", sources=("S1",)).deliver("tile.las", "R2", "S1", "R1")
    chains = {chain.run.id: chain for chain in find_chains(records.evidence())}
    assert list(chains) == ["R1", "R2"]
    assert [card.id for card in chains["R2"].flights] == ["F1"]
    assert [run.id for run in chains["R2"].earlier] == ["R1"]
    assert chains["R1"].earlier == ()
    assert (chains["R1"].delivers, chains["R2"].delivers) == (False, True)


def test_a_step_between_does_not_hide_the_run(records):
    """A cleaned file still comes from the run that the step started from."""
    records.rig().flight().process("R1").process("S1", sources=("R1",))
    evidence = records.deliver("a.las", "S1", "R1").deliver("b.las").evidence()
    assert [run.id for run in find_last_runs(evidence)["a.las"]] == ["R1"]
    assert find_last_runs(evidence)["b.las"] == ()


def test_a_merge_names_both_runs(records):
    """A file merged of two runs stands behind both of them."""
    records.rig().flight("F1").flight("F2")
    records.process("R1").process("R2", sources=("F2",)).process("S1", sources=("R1", "R2"))
    records.deliver("merged.las", "S1", "R2", "R1")
    chains = find_chains(records.evidence())
    assert [(chain.run.id, chain.delivers) for chain in chains] == [("R1", True), ("R2", True)]
    assert [[card.id for card in chain.flights] for chain in chains] == [["F1"], ["F2"]]


def test_records_that_go_in_a_circle_end(records):
    """Two processes that name each other as input do not keep the check busy for ever."""
    records.rig().process("R1", sources=("R2",)).process("R2", sources=("R1",))
    chains = find_chains(records.deliver("tile.las", "R1", "R2").evidence())
    assert [chain.flights for chain in chains] == [(), ()]


def test_heights_of_an_earlier_run_are_the_source(records):
    """A second run starts from the heights that the first one gave, not from the flight's."""
    records.rig().flight()
    records.process(
        "R1", changes={"run.output_height_type": "ellipsoidal", "run.geoid_name": "none"}
    )
    records.process("R2", sources=("R1",)).deliver("tile.las", "R2", "R1")
    findings = drive_check(HeightChain(), records.evidence())
    assert outcomes(findings, "SC-11") == {"R1": Outcome.CONFORMS, "R2": Outcome.CONFORMS}
    assert outcomes(findings, "SC-12") == {"R2": Outcome.CONFORMS}
    assert outcomes(findings, "VD-01") == {"R2": Outcome.CONFORMS}


def test_a_second_geoid_on_top_is_found(records):
    """A run that applies a geoid to what the run before made orthometric is broken."""
    records.rig().flight().process("R1").process("R2", sources=("R1",))
    findings = drive_check(HeightChain(), records.deliver("tile.las", "R2", "R1").evidence())
    assert outcomes(findings, "SC-11") == {"R1": Outcome.CONFORMS, "R2": Outcome.NONCONFORMING}
    assert outcomes(findings, "SC-12") == {"R2": Outcome.NONCONFORMING}


def test_findings_of_one_delivery_can_be_told_apart(records):
    """No two findings share an id, so that an acceptance takes one and not its neighbour."""
    records.rig().flight().process("R1", changes=WRONG_MODE).process("R2", changes=WRONG_MODE)
    records.deliver("a.las", "R1").deliver("b.las", "R2")
    for check in (MountChain(), HeightChain()):
        ids = [finding.id for finding in drive_check(check, records.evidence())]
        assert len(ids) == len(set(ids))
