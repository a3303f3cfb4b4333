"""Which runs are judged, and which flights and earlier runs belong to them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_records import GRID, RUN, Records

from ledger.model.finding import Outcome
from ledger.model.known import KnownValue
from ledger.model.process import Decision
from ledger.testing.driver import drive_check
from lidar_checks.settings.chain import (
    find_capture_chains,
    find_geoid_makers,
    find_height_chains,
)
from lidar_checks.settings.height_chain import HeightChain
from lidar_checks.settings.lever_arm_chain import LeverArmChain
from lidar_checks.settings.mount_chain import MountChain
from lidar_checks.settings.position_chain import PositionChain

WRONG_MODE = {"run.mount_mode": "hand"}
CLEANING = {"step.kind": "cleaning"}
# A later program of which nothing but its name is known.
BLANK = dict.fromkeys(RUN) | {"run.software": "cleaner", "step.software": "cleaner"}
HEIGHTS = {
    "step.kind": "height change",
    "step.input_height_type": "ellipsoidal",
    "step.output_height_type": "orthometric",
    "step.geoid_name": "demo-geoid-A",
    "step.geoid_version": "1",
    "step.geoid_file": GRID,
}


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
    assert finding.sentence.startswith("R1 names no flight, so nothing answers “")


def test_flights_are_found_through_earlier_runs_and_steps(records):
    """A run that used what a step made of an earlier run belongs to that run's flight."""
    records.rig().flight().process("R1").process("S1", sources=("R1",), changes=CLEANING)
    records.process("R2", sources=("S1",)).deliver("tile.las", "R2", "S1", "R1")
    chains = {chain.process.id: chain for chain in find_height_chains(records.evidence())}
    assert list(chains) == ["R1", "R2"]
    assert [card.id for card in chains["R2"].flights.cards] == ["F1"]
    assert [run.id for run in chains["R2"].earlier] == ["R1"]
    assert chains["R1"].earlier == ()
    assert (chains["R1"].delivers, chains["R2"].delivers) == (False, True)


@pytest.mark.parametrize("later", ["S1", "R2"])
def test_a_later_program_is_not_asked_for_settings_of_a_capture(records, later):
    """A cleaning has no mount mode: the run behind it is judged, once, for all of its files."""
    records.rig().flight().process("R1").process(later, sources=("R1",), changes=BLANK)
    records.deliver("a.las", later, "R1").deliver("b.las", "R1")
    for check in (MountChain(), PositionChain(), LeverArmChain()):
        findings = drive_check(check, records.evidence())
        assert {finding.subject for finding in findings} == {"R1"}
        assert {finding.outcome for finding in findings} == {Outcome.CONFORMS}
        rules = [finding.catalogue for finding in findings]
        assert len(rules) == len(set(rules))


def test_a_fault_of_the_run_is_seen_through_a_cleaning(records):
    """The wrong mount mode of the run behind a cleaned file is found, with the file counted."""
    records.rig().flight().process("R1", changes=WRONG_MODE)
    records.process("S1", sources=("R1",), changes=CLEANING).deliver("a.las", "S1", "R1")
    (finding,) = [
        f for f in drive_check(MountChain(), records.evidence()) if f.catalogue[0] == "SC-02"
    ]
    assert (finding.subject, finding.outcome) == ("R1", Outcome.NONCONFORMING)
    assert finding.sentence.endswith("1 delivered file comes from R1.")


def test_every_way_back_is_followed(records):
    """Two accepted runs made the bytes that were cleaned: both are judged, not the best one."""
    records.rig().flight().process("R1").process("R2", changes=WRONG_MODE)
    same = records.processes[0].outputs
    records.processes[1] = replace(records.processes[1], outputs=same)
    records.process("S1", sources=("R1",), changes=CLEANING).deliver("a.las", "S1", "R1")
    found = outcomes(drive_check(MountChain(), records.evidence()), "SC-02")
    assert found == {"R1": Outcome.CONFORMS, "R2": Outcome.NONCONFORMING}


def test_points_that_no_run_made_are_not_assessed(records):
    """A step that merged in a cloud of unknown origin leaves the settings of that one open."""
    records.rig().flight().process("R1").process("S1", sources=("R1", "x" * 64), changes=CLEANING)
    records.deliver("a.las", "S1", "R1")
    findings = drive_check(MountChain(), records.evidence())
    (open_one,) = [f for f in findings if f.outcome is Outcome.NOT_ASSESSED]
    assert (open_one.subject, open_one.needs) == ("S1", ("records",))
    assert "R1" in {f.subject for f in findings}


def test_a_run_on_raw_files_beside_made_ones_is_asked(records):
    """A run that took a capture and what another run made is on raw data."""
    records.rig().flight().process("R1").process("R2", sources=("F1", "R1"), changes=WRONG_MODE)
    records.deliver("a.las", "R2", "R1")
    found = outcomes(drive_check(MountChain(), records.evidence()), "SC-02")
    assert found == {"R1": Outcome.CONFORMS, "R2": Outcome.NONCONFORMING}


def test_a_step_between_does_not_hide_the_run(records):
    """A cleaned file has the geoid of the run that the step started from."""
    records.rig().flight().process("R1").process("S1", sources=("R1",))
    evidence = records.deliver("a.las", "S1", "R1").deliver("b.las").evidence()
    assert [run.id for run in find_geoid_makers(evidence)["a.las"]] == ["R1"]
    assert find_geoid_makers(evidence)["b.las"] == ()


def test_a_merge_names_both_runs(records):
    """A file merged of two runs stands behind both of them."""
    records.rig().flight("F1").flight("F2")
    records.process("R1").process("R2", sources=("F2",)).process("S1", sources=("R1", "R2"))
    records.deliver("merged.las", "S1", "R2", "R1")
    chains = find_capture_chains(records.evidence())
    assert [chain.process.id for chain in chains] == ["R1", "R2"]
    assert [[card.id for card in chain.flights.cards] for chain in chains] == [["F1"], ["F2"]]


def test_records_that_go_in_a_circle_end(records):
    """Two processes that name each other as input are no run on raw data, and no endless loop."""
    records.rig().process("R1", sources=("R2",)).process("R2", sources=("R1",))
    evidence = records.deliver("tile.las", "R1", "R2").evidence()
    assert find_capture_chains(evidence) == ()
    (finding,) = drive_check(MountChain(), evidence)
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_a_cleaning_leaves_heights_as_they_were(records):
    """The heights of a cleaned file are those of the run; the cleaning has nothing to answer."""
    records.rig().flight().process("R1").process("S1", sources=("R1",), changes=CLEANING)
    findings = drive_check(HeightChain(), records.deliver("a.las", "S1", "R1").evidence())
    assert {finding.subject for finding in findings} == {"R1"}
    assert {finding.outcome for finding in findings} == {Outcome.CONFORMS}
    assert "VD-01" in {finding.catalogue[0] for finding in findings}


@pytest.mark.parametrize("later", ["S1", "R2"])
def test_what_says_nothing_of_heights_proves_none(records, later):
    """A later program that does not say what it did leaves right heights open, wrong ones wrong."""
    records.rig().flight().process("R1").process(later, sources=("R1",), changes=BLANK)
    findings = drive_check(HeightChain(), records.deliver("a.las", later, "R1").evidence())
    (open_one,) = [f for f in findings if f.catalogue[0] == "VD-01"]
    assert (open_one.subject, open_one.outcome) == ("R1", Outcome.INCONCLUSIVE)
    assert f"What {later} did to these heights" in open_one.sentence
    assert f"swathbook amend {later} --set " in open_one.remedy
    assert open_one.needs
    records.processes[0] = replace(
        records.processes[0],
        values={**records.processes[0].values, "run.output_height_type": KnownValue("ellipsoidal")},
    )
    findings = drive_check(HeightChain(), records.evidence())
    assert outcomes(findings, "VD-01") == {"R1": Outcome.NONCONFORMING}


def test_a_step_that_changes_heights_is_judged(records):
    """A geoid applied in a step counts: once for the job, and not on top of another one."""
    ellipsoidal = {"run.output_height_type": "ellipsoidal", "run.geoid_name": "none"}
    records.rig().flight().process("R1", changes=ellipsoidal)
    records.process("S1", sources=("R1",), changes=HEIGHTS).deliver("a.las", "S1", "R1")
    findings = drive_check(HeightChain(), records.evidence())
    assert outcomes(findings, "SC-12") == {"S1": Outcome.CONFORMS}
    assert outcomes(findings, "SC-14") == {"S1": Outcome.CONFORMS}
    assert outcomes(findings, "VD-01") == {"S1": Outcome.CONFORMS}
    twice = Records().rig().flight().process("R1")
    twice.process("S1", sources=("R1",), changes=HEIGHTS).deliver("a.las", "S1", "R1")
    findings = drive_check(HeightChain(), twice.evidence())
    assert outcomes(findings, "SC-12") == {"S1": Outcome.NONCONFORMING}


def test_a_step_that_changes_heights_and_does_not_say_into_what_is_not_assessed(records):
    """The step's own keys are named as missing."""
    records.rig().flight().process("R1")
    records.process("S1", sources=("R1",), changes={"step.kind": "height change"})
    findings = drive_check(HeightChain(), records.deliver("a.las", "S1", "R1").evidence())
    (blank,) = [f for f in findings if f.catalogue[0] == "VD-01"]
    assert (blank.subject, blank.needs) == ("S1", ("step.output_height_type",))


def test_of_two_sources_the_one_with_other_heights_counts(records):
    """A merge of ellipsoidal and orthometric heights is found, whichever stands first."""
    records.rig().flight().process("R1")
    records.process("R2", changes={"run.output_height_type": "ellipsoidal"})
    for order in (("R1", "R2"), ("R2", "R1")):
        made = Records()
        made.rigs, made.flights = records.rigs, records.flights
        made.processes = list(records.processes)
        made.process("R3", sources=order, changes={"run.input_height_type": "orthometric"})
        findings = drive_check(HeightChain(), made.deliver("a.las", "R3", *order).evidence())
        assert outcomes(findings, "SC-11")["R3"] is Outcome.NONCONFORMING


def test_a_reprojection_keeps_the_geoid_of_the_run(records):
    """Half of a delivery was only reprojected: its geoid is the run's, so there is one geoid."""
    moved = {**HEIGHTS, "step.kind": "reprojection", "step.geoid_name": "none"}
    moved |= {"step.input_height_type": "orthometric"}
    records.rig().flight().process("R1").process("S1", sources=("R1",), changes=moved)
    records.deliver("a.las", "S1", "R1").deliver("b.las", "R1")
    findings = drive_check(HeightChain(), records.evidence())
    assert not [f for f in findings if f.outcome is Outcome.NONCONFORMING]


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
