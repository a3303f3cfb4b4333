"""Rules that look at job.toml, at logs, at statements or at delivered files."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_records import BASE_LOG, CHECKPOINTS, COORDINATES, Records

from ledger.model.finding import Grade, Outcome
from ledger.model.jobrecords import JobRecords, RawFile
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.specification import Specification
from ledger.testing.driver import drive_check
from lidar_checks.settings.base_chain import BaseChain
from lidar_checks.settings.base_conditions import time_scales_joined
from lidar_checks.settings.conditions import Answer, Values
from lidar_checks.settings.control_chain import ControlChain
from lidar_checks.settings.export_settings import ExportSettings
from lidar_checks.settings.length_units import LengthUnits
from lidar_checks.settings.range_limits import RangeLimits
from lidar_checks.settings.scale_basis import ScaleBasis
from lidar_checks.settings.zone_chain import ZoneChain

GROUND = {
    "run.scale_basis": "ground",
    "run.combined_factor": "0.999634",
    "run.scale_origin": "552000 4272000",
    "run.scale_height": "180",
}


def find(check, evidence, *ids, criteria=None):
    """Return the findings of one rule."""
    found = drive_check(check, evidence, criteria=criteria)
    return [finding for finding in found if finding.catalogue == ids]


def outcome(check, evidence, *ids, criteria=None):
    """Return the outcome of the one finding of a rule."""
    (finding,) = find(check, evidence, *ids, criteria=criteria)
    return finding.outcome


def ask(**changes):
    """Return a specification with other coordinates."""
    return Specification(coordinates=COORDINATES.model_copy(update=changes))


@pytest.mark.parametrize(
    ("factor", "expected"),
    [
        ("0.9996349", Outcome.CONFORMS),
        ("0.9996351", Outcome.NONCONFORMING),
        ("0.9996329", Outcome.NONCONFORMING),
    ],
)
def test_the_combined_factor_is_held_to_a_part_in_a_million(one_run, factor, expected):
    """Just inside and just outside 1 ppm of the factor that the job asks for."""
    asked = ask(scale_basis="ground", combined_factor=0.999634)
    evidence = one_run(GROUND | {"run.combined_factor": factor}, specification=asked)
    assert outcome(ScaleBasis(), evidence, "SC-27", "CR-04", "SL-08") is expected


@pytest.mark.parametrize("blank", ["run.scale_origin", "run.scale_height"])
def test_a_factor_without_origin_or_height_proves_nothing(one_run, blank):
    """Nobody can come back from the ground to the grid without them."""
    asked = ask(scale_basis="ground", combined_factor=0.999634)
    evidence = one_run(GROUND | {blank: None}, specification=asked)
    (finding,) = find(ScaleBasis(), evidence, "SC-27", "CR-04", "SL-08")
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert blank in finding.needs


def test_a_blank_basis_of_the_job_is_named(one_run):
    """Whether lengths have to be on the grid or on the ground is for the client to say."""
    (finding,) = find(ScaleBasis(), one_run(specification=ask(scale_basis=None)), "SC-27", "CR-04")
    assert finding.needs == ("specification.coordinates.scale_basis",)
    assert finding.remedy == "Write coordinates.scale_basis in job.toml."


@pytest.mark.parametrize(
    ("zone", "expected"),
    [
        ("17", Outcome.INCONCLUSIVE),
        ("UTM 17N", Outcome.CONFORMS),
        ("17S", Outcome.INCONCLUSIVE),
        ("17T", Outcome.CONFORMS),
        ("17H", Outcome.NONCONFORMING),
        ("18N", Outcome.NONCONFORMING),
    ],
)
def test_zones_are_compared_however_they_are_written(one_run, zone, expected):
    """S is southern, or a band of the north; a number alone has no hemisphere."""
    assert outcome(ZoneChain(), one_run({"run.zone": zone}), "SC-23", "CR-01") is expected


def test_a_header_that_says_other_than_its_run_is_major(one_run):
    """The label was changed after the export, or the coordinates were."""
    evidence = one_run({"run.crs": "EPSG:32617"})
    (finding,) = find(ZoneChain(), evidence, "SC-25", "CR-06")
    assert finding.grade is Grade.MAJOR
    assert finding.observed == "NAD83(2011) / UTM zone 17N in the header of tile_01.las (read)"
    assert finding.required == "WGS 84 / UTM zone 17N, as R1 has it (typed)"


def test_a_system_with_heights_is_compared_in_plan(one_run):
    """Heights have rules of their own."""
    evidence = one_run({"run.crs": "EPSG:6346+5703"})
    assert outcome(ZoneChain(), evidence, "SC-25", "CR-06") is Outcome.CONFORMS
    assert outcome(ZoneChain(), evidence, "SC-23", "CR-01", "CR-06") is Outcome.CONFORMS


def log(height):
    """Return a job whose base log has this height of the antenna."""
    facts = {"antenna_delta_m": [height, "0.0000", "0.0000"]}
    return JobRecords(raw=(RawFile(replace(BASE_LOG, facts=facts), "F1"),))


@pytest.mark.parametrize(
    ("height", "expected"),
    [
        ("1.5255", Outcome.CONFORMS),
        ("1.5256", Outcome.NONCONFORMING),
        ("0.0000", Outcome.INCONCLUSIVE),
    ],
)
def test_a_base_log_has_the_height_that_was_read(one_run, height, expected):
    """RINEX, ANTENNA: DELTA H/E/N: within 2 mm of the mean of two readings, 1.5235 m."""
    evidence = one_run(job=log(height))
    assert outcome(BaseChain(), evidence, "SC-19", "GN-02") is expected


def test_without_a_base_log_nothing_is_said_of_it(one_run):
    """A job whose base was never logged has nothing to compare."""
    assert find(BaseChain(), one_run(job=JobRecords()), "SC-19", "GN-02") == []
    other = JobRecords(raw=(RawFile(BASE_LOG, "F2"),))
    assert find(BaseChain(), one_run(job=other), "SC-19", "GN-02") == []


def test_control_ties_an_averaged_base(one_run):
    """A base on a rough position does no harm where ground control was used."""
    tied = one_run({"flight.base_method": "averaged", "run.control_used": True})
    assert outcome(BaseChain(), tied, "SC-18", "GN-01") is Outcome.CONFORMS
    unknown = one_run({"flight.base_method": "averaged", "run.control_used": None})
    assert outcome(BaseChain(), unknown, "SC-18", "GN-01") is Outcome.INCONCLUSIVE


def claim():
    """Return a job in which a report states an accuracy."""
    values = {"statement.value": KnownValue("0.021", "m")}
    return JobRecords(statements=(Card("A1", "", 30, "", "technician", values),))


def test_neither_control_nor_checkpoints_is_an_observation(one_run):
    """A small job may be sent without; nobody may state how accurate it is."""
    (finding,) = find(ControlChain(), one_run(registered={}), "SC-20", "CP-06")
    assert finding.grade is Grade.OBSERVATION
    assert find(ControlChain(), one_run(registered={}), "CP-06", "SC-20") == []


def test_an_accuracy_that_nothing_bears_out_is_major(one_run):
    """A number in a report without control and without checkpoints."""
    (finding,) = find(ControlChain(), one_run(registered={}, job=claim()), "CP-06", "SC-20")
    assert finding.grade is Grade.MAJOR
    assert "A1 states an accuracy of 0.021 m" in finding.sentence


@pytest.mark.parametrize("changes", [{"run.control_used": True}, {}])
def test_control_or_checkpoints_bear_an_accuracy_out(one_run, changes):
    """Either is something to hold it against; an unknown use of control is named."""
    known = {} if changes else {CHECKPOINTS.sha256: CHECKPOINTS}
    evidence = one_run(changes, registered=known, job=claim())
    assert outcome(ControlChain(), evidence, "SC-20", "CP-06") is Outcome.CONFORMS
    assert outcome(ControlChain(), evidence, "CP-06", "SC-20") is Outcome.CONFORMS
    blank = one_run({"run.control_used": None}, registered=known, job=claim())
    assert outcome(ControlChain(), blank, "SC-20", "CP-06") is Outcome.NOT_ASSESSED


@pytest.mark.parametrize(
    ("accuracy", "expected"),
    [(0.01, Outcome.CONFORMS), (0.0099, Outcome.NONCONFORMING), (None, None)],
)
def test_stored_steps_are_ten_times_finer_than_the_accuracy(one_run, accuracy, expected):
    """Steps of a millimetre carry an accuracy of a centimetre; where none is asked, no word."""
    evidence = one_run()
    criteria = {} if accuracy is None else {"accuracy_m": accuracy}
    found = find(ExportSettings(), evidence, "SC-34", "FT-01", criteria=criteria)
    assert [finding.outcome for finding in found] == ([expected] if expected else [])


@pytest.mark.parametrize(
    ("spacing", "expected"),
    [
        ("0.50", Outcome.CONFORMS),
        ("0.51", Outcome.INCONCLUSIVE),
        ("0.70", Outcome.INCONCLUSIVE),
        ("0.71", Outcome.NONCONFORMING),
    ],
)
def test_thinning_leaves_the_density_of_the_job(one_run, spacing, expected):
    """For 4 points/m²: one in 0.5 m squares is enough, twice one in 0.71 m squares is not."""
    evidence = one_run({"run.thinning": "spacing", "run.thinning_spacing": spacing})
    assert outcome(ExportSettings(), evidence, "PS-04", "SC-33") is expected


def test_a_step_that_thinned_is_judged():
    """A preset of another program thins as well as one of the first."""
    made = Records().rig().flight().process()
    step = {"step.kind": "thinning", "step.thinning": "spacing", "step.thinning_spacing": "1.0"}
    made.process("S1", sources=("R1",), changes=step)
    evidence = made.deliver("tile.las", "S1", "R1").evidence()
    (finding,) = find(ExportSettings(), evidence, "PS-04", "SC-33")
    assert (finding.subject, finding.grade) == ("S1", Grade.MINOR)


@pytest.mark.parametrize(
    ("longest", "angle", "expected"),
    [
        ("84.1", "50", Outcome.CONFORMS),
        ("84.0", "50", Outcome.NONCONFORMING),
        ("53.9", None, Outcome.NONCONFORMING),
        ("54.0", None, Outcome.INCONCLUSIVE),
        ("54.0", "90", Outcome.INCONCLUSIVE),
    ],
)
def test_ranges_reach_the_ground_with_room(one_run, longest, angle, expected):
    """1.2 × 45 m is 54 m, and 84.01 m at 50° from straight down."""
    evidence = one_run({"run.range_max": longest, "run.scan_angle_max": angle})
    assert outcome(RangeLimits(), evidence, "SC-32", "PS-05") is expected


@pytest.mark.parametrize(
    ("arm", "expected"),
    [(["1.5", "0", "-1.5"], Outcome.CONFORMS), (["0", "0", "1.501"], Outcome.NONCONFORMING)],
)
def test_an_arm_is_no_longer_than_a_drone(one_run, arm, expected):
    """Just inside and just outside the bound; another carrier has no such bound."""
    check = LengthUnits()
    assert outcome(check, one_run({"run.lever_arm": arm}), "SC-40", "UN-05") is expected
    car = one_run({"run.lever_arm": arm, "flight.platform": "vehicle"})
    assert find(check, car, "SC-40", "UN-05") == []
    larger = {"arm_max_m": 2.0}
    evidence = one_run({"run.lever_arm": arm})
    assert outcome(check, evidence, "SC-40", "UN-05", criteria=larger) is Outcome.CONFORMS


@pytest.mark.parametrize(
    ("height", "expected"),
    [
        ("0.05", Outcome.CONFORMS),
        ("0.049", Outcome.NONCONFORMING),
        ("3.0", Outcome.CONFORMS),
        ("3.001", Outcome.NONCONFORMING),
    ],
)
def test_a_base_is_as_high_as_a_tripod(one_run, height, expected):
    """Just inside and just outside both bounds; a service has no such antenna."""
    evidence = one_run({"flight.base_height": height})
    assert outcome(LengthUnits(), evidence, "UN-05", "SC-40") is expected
    service = one_run({"flight.base_height": height, "flight.base_kind": "network"})
    assert find(LengthUnits(), service, "UN-05", "SC-40") == []


@pytest.mark.parametrize(
    ("scanner", "other", "leap", "answer"),
    [
        ("GPS", "GPS", None, Answer.HOLDS),
        ("GPS", "UTC", 18, Answer.HOLDS),
        ("UTC", "GPS", 17, Answer.BROKEN),
        ("GPS", "UTC", None, Answer.BROKEN),
        ("local", "local", None, Answer.UNCLEAR),
        ("local", "UTC", 18, Answer.UNCLEAR),
        ("BeiDou", "GPS", 18, Answer.UNCLEAR),
    ],
)
def test_time_scales_are_joined_with_their_leap_seconds(scanner, other, leap, answer):
    """IERS Bulletin C 52: 18 s between GPS and UTC since 1 January 2017."""
    values = {
        "flight.scanner_time_scale": scanner,
        "flight.log_time_scale": other,
        "run.leap_seconds": leap,
    }
    known = {key: value for key, value in values.items() if value is not None}
    assert time_scales_joined(Values(known)) is answer
    early = known | {"flight.takeoff": "2016-05-12T14:00:00Z"}
    if {scanner, other} == {"GPS", "UTC"} and leap is not None:
        assert time_scales_joined(Values(early)) is Answer.UNCLEAR
