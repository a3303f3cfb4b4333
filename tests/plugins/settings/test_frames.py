"""Frames and epochs along a chain: kept, changed with a record, or changed without one.

That NAD83(2011) and WGS 84 are two frames, WGS 84 (G2139) a member of the ensemble WGS 84, and that
GRS 1980 and WGS 84 differ by 0.1 mm in the polar radius only, is in the EPSG registry.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pyproj
import pytest
from made_records import COORDINATES, Records

from ledger.model.finding import Grade, Outcome
from ledger.model.specification import Coordinates, Specification
from ledger.testing.driver import drive_check
from lidar_checks.header.middle import find_site
from lidar_checks.settings.conditions import Answer
from lidar_checks.settings.frame_chain import FrameChain
from lidar_checks.settings.frames import compare_frames

MIXED = {"flight.frame": "WGS 84", "run.frame": "NAD83(2011)"}
SERVICE = {"flight.base_kind": "network", "flight.service_frame": "NAD83(2011)"}


def find(evidence, *ids):
    """Return the findings of one rule."""
    found = drive_check(FrameChain(), evidence)
    return [finding for finding in found if finding.catalogue[: len(ids)] == ids]


@pytest.mark.parametrize(
    ("a", "b", "answer"),
    [
        ("NAD83(2011)", "nad 83 (2011)", Answer.HOLDS),
        ("NAD83(2011)", "NAD83(2011) epoch 2010.0", Answer.HOLDS),
        ("ITRF2014@2026.4", "ITRF2014", Answer.HOLDS),
        ("WGS84", "WGS 84 (G2139)", Answer.HOLDS),
        ("WGS84", "NAD83(2011)", Answer.BROKEN),
        ("ITRF2020", "NAD83(2011)", Answer.BROKEN),
        ("ITRF2014", "ETRF2000", Answer.BROKEN),
        ("ITRF2014", "ITRF2020", Answer.UNCLEAR),
        ("WGS84", "ITRF2014", Answer.UNCLEAR),
        ("NAD83", "NAD83(2011)", Answer.UNCLEAR),
        ("our own frame", "NAD83(2011)", Answer.UNCLEAR),
    ],
)
def test_frames_are_compared_by_what_they_are(a, b, answer):
    """In either order: spelling does not count, and what is only near or unknown is unclear."""
    assert (compare_frames(a, b), compare_frames(b, a)) == (answer, answer)


def test_a_global_frame_taken_for_a_national_one_is_major(one_run):
    """Positions in WGS 84 and a run in NAD83(2011), with no change on record: a metre or two."""
    (finding,) = find(one_run(MIXED), "SC-15", "CR-02")
    assert finding.grade is Grade.MAJOR
    assert finding.observed == "NAD83(2011) out of R1 (typed), no change of frame on record"
    assert finding.required == "WGS 84, as F1 has it (typed), or a recorded change"


def test_a_recorded_change_of_frame_is_right(one_run):
    """With the operation on record the frames may differ; “none” is no operation."""
    changed = one_run(MIXED | {"run.frame_operation": "EPSG:8366"})
    assert [f.outcome for f in find(changed, "SC-15", "CR-02")] == [Outcome.CONFORMS]
    denied = one_run(MIXED | {"run.frame_operation": "none"})
    assert [f.outcome for f in find(denied, "SC-15", "CR-02")] == [Outcome.NONCONFORMING]


@pytest.mark.parametrize(
    ("operation", "outcome"),
    [
        ("Ballpark geographic offset from WGS 84 to NAD83(2011)", Outcome.NONCONFORMING),
        ("Null geographic offset from WGS 84 to NAD83(2011)", Outcome.NONCONFORMING),
        ("+proj=noop", Outcome.NONCONFORMING),
        ("+nadgrids=@null", Outcome.NONCONFORMING),
        ("+towgs84=0,0,0", Outcome.NONCONFORMING),
        ("+towgs84=0.0,-0.0,0,0,0,0,0", Outcome.NONCONFORMING),
        ("+nadgrids=conus,@null", Outcome.CONFORMS),
        ("+towgs84=0,0,0.5", Outcome.CONFORMS),
        ("+towgs84=0.9956,-1.9013,-0.5215", Outcome.CONFORMS),
        ("EPSG:8366", Outcome.CONFORMS),
        ("EPSG:16017", Outcome.NONCONFORMING),
        ("UTM zone 17N", Outcome.NONCONFORMING),
    ],
)
def test_an_operation_that_changes_nothing_is_no_change(one_run, operation, outcome):
    """Names that PROJ gives to what it takes where a grid is not at hand, and map projections."""
    (finding,) = find(one_run(MIXED | {"run.frame_operation": operation}), "CR-14", "SC-15")
    assert finding.outcome is outcome
    kept = one_run({"run.frame_operation": operation})
    assert [each.outcome for each in find(kept, "CR-14", "SC-15")] == [Outcome.CONFORMS]
    assert find(one_run(MIXED), "CR-14", "SC-15") == []


@pytest.mark.parametrize(
    ("operation", "grade"),
    [
        # EPSG dataset, accuracy of each operation: 4 m, 1 m, 0.05 m, 0.
        ("EPSG:1188", Grade.MINOR),
        ("Inverse of NAD83 to WGS 84 (1)", Grade.MINOR),
        ("OSGB36 to WGS 84 (7)", Grade.MINOR),
        ("GDA94 to GDA2020 (2)", None),
        ("EPSG:8366", None),
    ],
)
def test_an_operation_is_as_good_as_the_registry_says(one_run, operation, grade):
    """One that is good to metres is told, once, whatever the frames are."""
    findings = find(one_run(MIXED | {"run.frame_operation": operation}), "CR-14")
    told = [each for each in findings if each.catalogue == ("CR-14",)]
    assert [each.grade for each in told] == [grade]
    assert [each.grade for each in findings if each.grade] == ([grade] if grade else [])


@pytest.mark.parametrize(
    "operation", ["as the office told", "none", "EPSG:4326", "NAD83 to WGS 84"]
)
def test_an_operation_that_the_registry_does_not_know_is_not_judged(one_run, operation):
    """A free text says nothing of accuracy, and a name that is only like one is another."""
    findings = find(one_run(MIXED | {"run.frame_operation": operation}), "CR-14")
    assert [each for each in findings if each.catalogue == ("CR-14",)] == []


def lay(evidence):
    """Return evidence whose files lie in zone 17N, at 38.6 N."""
    box = {"minimum": (552_000.0, 4_272_000.0, 0.0), "maximum": (552_080.0, 4_272_080.0, 9.0)}
    files = [replace(each, header=replace(each.header, **box)) for each in evidence.files]
    return replace(evidence, files=tuple(files))


def test_the_shift_of_a_frame_that_was_not_changed_is_told(one_run):
    """ITRF2020 taken for NAD83(2011), against PROJ asked for the same mark in both frames."""
    takeoff = {"flight.takeoff": "2026-05-12T14:00:00Z"}
    evidence = lay(one_run({"flight.frame": "ITRF2020"} | takeoff))
    (finding,) = find(evidence, "SC-15", "CR-02")
    site = find_site(evidence)
    assert site is not None
    lon, lat = site
    change = pyproj.Transformer.from_crs("EPSG:6319", "EPSG:9989", always_xy=True)
    moved = change.transform(lon, lat, 0.0, 2026.36)
    geod = pyproj.Geod(ellps="GRS80")
    course, _, metres = geod.inv(lon, lat, moved[0], moved[1])
    east = metres * math.sin(math.radians(course))
    north = metres * math.cos(math.radians(course))
    told = re.search(
        r"points lie ([\d.]+) m (\w+), ([\d.]+) m (\w+), ([\d.]+) m (\w+) of", finding.sentence
    )
    assert told is not None
    signed = [
        float(told[at]) * (1 if told[at + 1] in ("east", "north", "up") else -1) for at in (1, 3, 5)
    ]
    assert signed == pytest.approx([east, north, moved[2]], abs=0.011)
    assert 0.5 < metres < 2.0


def test_no_shift_is_told_where_none_can_be_known(one_run):
    """Without a place, a day or a known name, and of a frame that is known to metres only."""
    takeoff = {"flight.takeoff": "2026-05-12T14:00:00Z"}
    nowhere = one_run({"flight.frame": "ITRF2020"} | takeoff)
    cases = (
        {"flight.frame": "ITRF2020"},
        {"flight.frame": "WGS 84"} | takeoff,
        {"flight.frame": "ours"} | takeoff,
    )
    for evidence in (nowhere, *(lay(one_run(case)) for case in cases)):
        (finding,) = find(evidence, "SC-15", "CR-02")
        assert "points lie" not in finding.sentence


def test_a_run_in_another_frame_than_the_job_is_major(one_run):
    """Everything in ITRF2014, and a job on NAD83(2011): the chain agrees and is wrong."""
    evidence = one_run({"flight.frame": "ITRF2014", "run.frame": "ITRF2014"})
    assert [f.outcome for f in find(evidence, "SC-15", "CR-02")] == [Outcome.CONFORMS]
    (finding,) = find(evidence, "CR-02")
    assert finding.grade is Grade.MAJOR
    assert "NAD83(2011), the frame of coordinates.horizontal" in finding.required


@pytest.mark.parametrize("ellipsoid", ["GRS80", "GRS 1980", "WGS84", "WGS 84"])
def test_the_two_modern_ellipsoids_are_no_fault(one_run, ellipsoid):
    """GRS 80 against WGS 84 alone is a tenth of a millimetre: nothing is said against it."""
    evidence = one_run({"run.ellipsoid": ellipsoid, "flight.ellipsoid": "WGS 84"})
    found = drive_check(FrameChain(), evidence)
    assert {finding.outcome for finding in found} == {Outcome.CONFORMS}
    assert len(find(evidence, "SC-16")) == 2


def test_an_old_ellipsoid_is_major(one_run):
    """Clarke 1866 is a hundred metres and more away."""
    found = find(one_run({"run.ellipsoid": "Clarke 1866"}), "SC-16")
    assert [finding.grade for finding in found] == [Grade.MAJOR]


def test_an_unknown_ellipsoid_is_unclear(one_run):
    """A name that the registry does not have says nothing."""
    outcomes = [f.outcome for f in find(one_run({"run.ellipsoid": "egg"}), "SC-16")]
    assert outcomes == [Outcome.INCONCLUSIVE]


def test_where_no_ellipsoid_is_recorded_nothing_is_said(one_run):
    """The frame says it all."""
    assert find(one_run(), "SC-16") == []


@pytest.mark.parametrize(
    ("changes", "outcome"),
    [
        ({}, Outcome.CONFORMS),
        ({"flight.service_frame": "ITRF2020"}, Outcome.NONCONFORMING),
        (
            {"flight.service_frame": "ITRF2020", "flight.frame_operation": "in the controller"},
            Outcome.CONFORMS,
        ),
        ({"flight.service_frame": None}, Outcome.NOT_ASSESSED),
    ],
)
def test_a_service_gives_its_own_frame(one_run, changes, outcome):
    """Positions are in the frame of the service, whatever the form calls them."""
    assert [f.outcome for f in find(one_run(SERVICE | changes), "SC-17")] == [outcome]


def test_a_service_says_nothing_of_an_own_base(one_run):
    """With an own base there is no frame of a service."""
    assert find(one_run(), "SC-17") == []


@pytest.mark.parametrize(
    ("years", "outcome"), [("2010.4", Outcome.CONFORMS), ("2010.6", Outcome.NONCONFORMING)]
)
def test_epochs_are_held_within_half_a_year(one_run, years, outcome):
    """Just inside and just outside the criterion; minor, for the ground moves slowly."""
    evidence = one_run({"flight.epoch": "2010.0", "run.epoch": years})
    (finding,) = find(evidence, "SC-15", "CR-03")
    assert finding.outcome is outcome
    assert finding.grade in (None, Grade.MINOR)


def test_a_blank_epoch_is_named_where_the_job_asks_for_one(one_run):
    """The job asks for an epoch and the run has none: not assessed; no wish, no word."""
    blank = {"run.epoch": None}
    (finding,) = find(one_run(blank), "CR-03")
    assert (finding.outcome, finding.needs) == (Outcome.NOT_ASSESSED, ("run.epoch",))
    unasked = COORDINATES.model_copy(update={"epoch": None})
    assert find(one_run(blank, specification=Specification(coordinates=unasked)), "CR-03") == []


def test_a_base_in_another_frame_is_major(one_run):
    """The coordinates of the base carry their frame into every position."""
    assert find(one_run(), "SC-18") == []
    (finding,) = find(one_run({"flight.base_frame": "ITRF2020"}), "SC-18")
    assert finding.grade is Grade.MAJOR


def test_a_blank_system_of_the_job_is_named(one_run):
    """Without a system in job.toml nobody can say in which frame the delivery has to be."""
    evidence = replace(
        one_run(specification=Specification(coordinates=Coordinates())), specified_crs=None
    )
    (finding,) = find(evidence, "CR-02")
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.coordinates.horizontal",)


def test_a_later_step_changes_the_frame():
    """What counts against the job is what came last; each change is judged where it was made."""
    made = Records().rig().flight(changes={"flight.frame": "ITRF2014"})
    made.process(changes={"run.frame": "ITRF2014"})
    step = {"step.kind": "reprojection", "step.frame": "NAD83(2011)", "step.epoch": "2010.0"}
    made.process("S1", sources=("R1",), changes=step | {"step.frame_operation": "EPSG:8970"})
    evidence = made.deliver("tile.las", "S1", "R1").evidence()
    found = [(f.subject, *f.catalogue) for f in drive_check(FrameChain(), evidence)]
    assert {f.outcome for f in drive_check(FrameChain(), evidence)} == {Outcome.CONFORMS}
    assert ("S1", "SC-15", "CR-02") in found
    assert ("S1", "CR-02", "SC-15") in found
    assert ("R1", "CR-02", "SC-15") not in found


def test_a_cleaning_changes_no_frame():
    """Behind a cleaned file the run on raw data is held against the job."""
    made = Records().rig().flight().process()
    made.process("S1", sources=("R1",), changes={"step.kind": "cleaning"})
    evidence = made.deliver("tile.las", "S1", "R1").evidence()
    assert [(f.subject, f.outcome) for f in find(evidence, "CR-02")] == [("R1", Outcome.CONFORMS)]


def test_a_step_that_does_not_say_what_it_did_leaves_it_open():
    """Another program between run and delivery may have moved every point."""
    made = Records().rig().flight().process()
    made.process("S1", sources=("R1",), changes={"step.software": "cleaner"})
    evidence = made.deliver("tile.las", "S1", "R1").evidence()
    (finding,) = find(evidence, "CR-02")
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "What S1 did to these positions, if anything, is not on record." in finding.sentence
