"""Each rule of settings: one chain that keeps it, one that breaks it, a blank and an assumption.

The expected outcomes follow from the rule as common practice states it; no standard has them.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_rule_cases import CASES, UNPOSITIONED, find_rule

from ledger.model.fields import FIELDS
from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.specification import Coordinates, Geoid, Specification
from ledger.testing.driver import drive_check
from lidar_checks.settings.base_chain import BaseChain
from lidar_checks.settings.base_height import BaseHeight
from lidar_checks.settings.control_chain import ControlChain
from lidar_checks.settings.export_settings import ExportSettings
from lidar_checks.settings.frame_chain import FrameChain
from lidar_checks.settings.height_chain import HeightChain
from lidar_checks.settings.length_units import LengthUnits
from lidar_checks.settings.lever_arm_chain import LeverArmChain
from lidar_checks.settings.mount_chain import MountChain
from lidar_checks.settings.position_chain import PositionChain
from lidar_checks.settings.range_limits import RangeLimits
from lidar_checks.settings.rules import RULES
from lidar_checks.settings.scale_basis import ScaleBasis
from lidar_checks.settings.time_scale import TimeScale
from lidar_checks.settings.zone_chain import ZoneChain

CHECKS = {
    check.id: check
    for check in (
        MountChain(),
        PositionChain(),
        LeverArmChain(),
        BaseHeight(),
        HeightChain(),
        FrameChain(),
        ZoneChain(),
        TimeScale(),
        ScaleBasis(),
        RangeLimits(),
        LengthUnits(),
        ExportSettings(),
        ControlChain(),
        BaseChain(),
    )
}

# Rules that look at job.toml, at statements or at files, in test_job_rules.
TRIED_ELSEWHERE = {
    ("SC-27", "CR-04", "SL-08"),
    ("SC-20", "CP-06"),
    ("CP-06", "SC-20"),
    ("SC-34", "FT-01"),
}

each_case = pytest.mark.parametrize(
    "case", CASES, ids=[f"{case.rule} {next(iter(case.breaks))}" for case in CASES]
)


def judge(rule, evidence):
    """Return the findings of one rule, by driving the check that it belongs to."""
    found = drive_check(CHECKS[rule.topic], evidence)
    return [finding for finding in found if finding.catalogue == rule.ids]


@each_case
def test_a_chain_that_agrees_conforms(one_run, case):
    """A chain in which everything fits conforms to the rule."""
    (finding,) = judge(find_rule(case.rule), one_run(case.applies))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.subject == "R1"


@each_case
def test_a_chain_that_disagrees_is_found(one_run, case):
    """A broken rule gives the grade of its row, says what disagrees and what to do."""
    rule = find_rule(case.rule)
    (finding,) = judge(rule, one_run(case.applies | case.breaks))
    assert finding.outcome is Outcome.NONCONFORMING
    assert finding.grade is rule.grade
    assert case.words in finding.sentence
    assert finding.remedy
    for text in (finding.sentence, finding.remedy, finding.observed, finding.required):
        assert text
        assert not set("{}[]|") & set(text)
    told = finding.observed + finding.required
    assert any(name in told for name in ("R1", "F1", "G1"))
    assert "(typed)" in told
    assert "not recorded" not in told


@each_case
def test_a_blank_is_not_assessed_and_named(one_run, case):
    """A value that is not recorded never passes; the finding names its key."""
    found = judge(find_rule(case.rule), one_run(case.applies | {case.blank: None}))
    if case.silent:
        assert found == []
        return
    (finding,) = found
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert case.blank in finding.needs
    assert case.blank in finding.sentence


@each_case
def test_an_assumed_value_never_passes(one_run, assumed, case):
    """A value that was only assumed leaves a rule that holds inconclusive."""
    from_fixture = one_run(case.applies)
    card = case.blank.split(".", 1)[0]
    holders = {
        "run": from_fixture.processes,
        "flight": from_fixture.flights,
        "rig": from_fixture.rigs,
    }[card]
    value = holders[0].values[case.blank].value
    (finding,) = judge(find_rule(case.rule), one_run(case.applies | {case.blank: assumed(value)}))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert case.blank in finding.sentence


@each_case
def test_a_flight_that_nobody_named_never_proves(one_run, case):
    """Where the flight of a run was only assumed, its values fail a rule and never pass it."""
    card = case.blank.split(".", 1)[0]
    evidence = one_run(case.applies)
    doubted = replace(
        evidence,
        processes=tuple(_assume_inputs(each) for each in evidence.processes),
        files=tuple(
            replace(file, custody=_assume_custody(file.custody)) for file in evidence.files
        ),
    )
    (finding,) = judge(find_rule(case.rule), doubted)
    if card == "flight":
        assert finding.outcome is Outcome.INCONCLUSIVE
        assert "nobody said that R1 was made from F1" in finding.sentence
        assert "swathbook record out --input F1" in finding.remedy


def _assume_inputs(process):
    return replace(process, inputs=tuple(replace(each, assumed=True) for each in process.inputs))


def _assume_custody(custody):
    lines = tuple(
        replace(line, processes=tuple(_assume_inputs(each) for each in line.processes))
        for line in custody.lines
    )
    return replace(custody, lines=lines)


@each_case
def test_an_assumed_value_may_fail(one_run, assumed, case):
    """A value that was only assumed makes a rule fail all the same."""
    broken = {key: assumed(value) for key, value in case.breaks.items()}
    (finding,) = judge(find_rule(case.rule), one_run(case.applies | broken))
    assert finding.outcome is Outcome.NONCONFORMING


SHOWN = [
    (
        "SC-02",
        {"run.mount_mode": "hand"},
        "mount mode “hand” in R1 (typed)",
        "“drone”, as captured in F1 (typed)",
    ),
    (
        "SC-09 MB-04",
        {"run.lever_arm": ["0.120", "-0.030", "0.295"]},
        "0.120 -0.030 0.295 m forward-right-down in R1 (typed)",
        (
            "0.120 -0.030 0.250 m forward-right-down within 0.01 m along each axis, as G1 has it "
            "(typed)"
        ),
    ),
    (
        "SC-12",
        {"run.geoid_applications": 2},
        (
            "ellipsoidal heights from F1 (typed), geoid “demo-geoid-A” in R1 (typed), "
            "a geoid applied 2 times by the record (typed)"
        ),
        "orthometric heights, as job.toml asks: a geoid applied once from receiver to output",
    ),
    (
        "SC-07",
        UNPOSITIONED | {"run.control_count": 1},
        "1 ground control point in R1 (typed), control used: yes (typed)",
        "4 ground control points or more, because no positions were used (typed)",
    ),
]


@pytest.mark.parametrize(("rule", "changes", "observed", "required"), SHOWN)
def test_found_and_required_are_read_once(one_run, rule, changes, observed, required):
    """What was found where, how it is known, and what it is held against: words, not operands."""
    (finding,) = judge(find_rule(rule), one_run(changes))
    assert (finding.observed, finding.required) == (observed, required)


def test_one_time_is_no_plural(one_run):
    """A count of one takes the singular in the sentence as well."""
    wrong = {"flight.height_type": "orthometric", "run.geoid_applications": 1}
    (finding,) = judge(find_rule("SC-12"), one_run(wrong))
    assert "a geoid was applied 1 time by the record" in finding.sentence


def test_a_carried_rig_names_its_command(one_run):
    """A lever arm taken over from another job is confirmed with one command, which is printed."""
    carried = KnownValue(["0.120", "-0.030", "0.250"], "m", KnownBy.CARRIED, confirmed=False)
    (finding,) = judge(find_rule("SC-09 MB-04"), one_run({"rig.lever_arm_aircraft": carried}))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert finding.remedy == "Look it up (swathbook record rig G1)"
    assert "(carried, not confirmed)" in finding.required


def test_a_blank_of_a_run_names_its_command(one_run):
    """A run is asked nothing any more: the missing value is put in by an amendment."""
    (finding,) = judge(find_rule("SC-02"), one_run({"run.mount_mode": None}))
    assert finding.remedy == ('Look it up (swathbook amend R1 --set mount_mode="…" --reason "…")')


def test_every_rule_is_tried():
    """No row of the table is without its case."""
    tried = {find_rule(case.rule).ids for case in CASES}
    assert {rule.ids for rule in RULES} - tried == TRIED_ELSEWHERE


def test_ids_of_rules_are_unique():
    """Two rules never share their ids, so that their findings can be told apart."""
    assert len({rule.ids for rule in RULES}) == len(RULES)


def test_rules_of_another_antenna_do_not_apply(one_run):
    """A rule about the scanner's antenna says nothing of a run on aircraft positions."""
    assert judge(find_rule("SC-05"), one_run()) == []
    assert judge(find_rule("SC-07"), one_run()) == []


def test_grades_are_as_the_trade_has_them():
    """A wrong mode, arm or height is major; a set-up that can still be right is minor."""
    minor = {rule.ids for rule in RULES if rule.grade is Grade.MINOR}
    assert minor == {
        ("SC-01", "RC-08"),
        ("SC-08", "MB-02"),
        ("SC-10", "MB-03"),
        ("GN-02",),
        ("CR-14", "SC-15"),
        ("CR-14",),
        ("SC-15", "CR-03"),
        ("CR-03", "SC-15"),
        ("GN-06", "SC-17"),
        ("SC-27", "CR-04"),
        ("SC-27", "CR-04", "SL-08"),
        ("SC-27", "SL-08"),
        ("SC-28", "GN-04"),
        ("SC-33", "PS-04"),
        ("PS-04", "SC-33"),
    }


@pytest.mark.parametrize("check", CHECKS.values(), ids=list(CHECKS))
def test_fields_are_in_the_dictionary(check):
    """Every record field that a check declares exists, so that the cost of a blank is known."""
    assert check.fields
    assert set(check.fields) <= FIELDS.keys()


def test_a_carried_key_of_the_job_never_passes(one_run):
    """A height system that was taken from the last job leaves the rule inconclusive."""
    specification = Specification(
        carried=("coordinates.vertical",),
        coordinates=Coordinates(vertical="orthometric", geoid=Geoid(name="demo-geoid-A")),
    )
    (finding,) = judge(find_rule("VD-01"), one_run(specification=specification))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "coordinates.vertical of job.toml is carried and not confirmed" in finding.sentence


def test_a_blank_height_system_of_the_job_is_named(one_run):
    """Without a height system in job.toml nobody can say whether the heights are right."""
    (finding,) = judge(find_rule("VD-01"), one_run(specification=Specification()))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.coordinates.vertical",)
