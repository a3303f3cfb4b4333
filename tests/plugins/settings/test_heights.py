"""Heights and geoids along a chain.

The sign of each case follows from h = H + N: orthometric heights need the geoid taken off once,
ellipsoidal ones never (ISO 19111, ellipsoidal and gravity-related heights).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Coordinates, Geoid, Specification
from ledger.testing.driver import drive_check
from lidar_checks.settings.height_chain import HeightChain


def find(evidence, rule):
    """Return the findings of one rule by outcome."""
    return [f.outcome for f in drive_check(HeightChain(), evidence) if f.catalogue[0] == rule]


def ask(vertical, geoid=None):
    """Return a specification that asks for these heights."""
    return Specification(coordinates=Coordinates(vertical=vertical, geoid=geoid))


@pytest.mark.parametrize(
    ("source", "geoid", "asked", "holds"),
    [
        ("ellipsoidal", "demo-geoid-A", "orthometric", True),
        ("ellipsoidal", "none", "orthometric", False),  # never taken off
        ("orthometric", "demo-geoid-A", "orthometric", False),  # taken off twice
        ("orthometric", "none", "orthometric", True),
        ("ellipsoidal", "none", "ellipsoidal", True),
        ("ellipsoidal", "demo-geoid-A", "ellipsoidal", False),
    ],
)
def test_a_geoid_is_applied_as_often_as_the_job_needs(one_run, source, geoid, asked, holds):
    """Once from ellipsoidal to orthometric heights, and never otherwise."""
    evidence = one_run(
        {
            "flight.height_type": source,
            "run.input_height_type": source,
            "run.output_height_type": asked,
            "run.geoid_name": geoid,
        },
        specification=ask(asked, Geoid(name="demo-geoid-A")),
    )
    expected = Outcome.CONFORMS if holds else Outcome.NONCONFORMING
    assert find(evidence, "SC-12") == [expected]


def test_a_count_that_was_typed_must_be_right_too(one_run):
    """Two applications on record are two, whatever the other fields say."""
    assert find(one_run({"run.geoid_applications": 2}), "SC-12") == [Outcome.NONCONFORMING]
    assert find(one_run({"run.geoid_applications": 1}), "SC-12") == [Outcome.CONFORMS]


def test_site_heights_need_no_geoid_rule(one_run):
    """Nobody can count geoids towards heights above a bench mark of the site."""
    assert find(one_run(specification=ask("site")), "SC-12") == []


def test_equal_grids_settle_a_renamed_geoid(one_run):
    """The same bytes under another name are the same geoid."""
    assert find(one_run({"run.geoid_name": "renamed"}), "SC-14") == [Outcome.CONFORMS]


def test_another_grid_under_the_same_name_is_found(one_run):
    """The right name on other bytes is another geoid."""
    assert find(one_run({"run.geoid_file": "b" * 64}), "SC-14") == [Outcome.NONCONFORMING]


def geoids(off_m):
    """Return two grids at a site, the second higher than the first by some metres at one place."""
    places = tuple((-80.4 + 0.001 * i, 38.6) for i in range(5))
    heights = (-31.912, -31.910, -31.915, -31.909, -31.914)
    return {
        "a" * 64: SiteGeoid("a" * 64, "a.tif", places, heights),
        "b" * 64: SiteGeoid("b" * 64, "b.tif", places, (*heights[:4], heights[4] + off_m)),
    }


@pytest.mark.parametrize(
    ("off_m", "outcome", "told"),
    [
        (0.0, Outcome.CONFORMS, "in another file than the job names"),
        (0.0049, Outcome.CONFORMS, "the two differ by 0.0049 m at most"),
        (0.0051, Outcome.NONCONFORMING, "at the site they differ by up to 0.0051 m"),
        (0.382, Outcome.NONCONFORMING, "at the site they differ by up to 0.3820 m"),
    ],
)
def test_another_file_is_known_by_what_it_says_here(one_run, off_m, outcome, told):
    """A renamed or resampled grid is the job's where its heights are, and told to be another."""
    renamed = one_run({"run.geoid_file": "b" * 64, "run.geoid_name": "renamed"})
    evidence = replace(renamed, geoids=geoids(off_m))
    (finding,) = [f for f in drive_check(HeightChain(), evidence) if f.catalogue[0] == "SC-14"]
    assert finding.outcome is outcome
    assert told in finding.sentence


@pytest.mark.parametrize(
    ("off_m", "limit_m", "grade"),
    [
        (0.0051, None, Grade.OBSERVATION),  # a quarter of the default of 0.05 m
        (0.0124, None, Grade.OBSERVATION),
        (0.0126, None, Grade.MINOR),
        (0.0499, None, Grade.MINOR),
        (0.0501, None, Grade.MAJOR),
        (0.0124, 0.03, Grade.MINOR),
        (0.0301, 0.03, Grade.MAJOR),
    ],
)
def test_another_geoid_is_as_bad_as_what_it_does_here(one_run, off_m, limit_m, grade):
    """Against what is asked of heights: beyond it major, within a quarter of it an observation."""
    asked = {} if limit_m is None else {"vertical-accuracy": {"rmse_max_m": limit_m}}
    run = one_run({"run.geoid_file": "b" * 64})
    stated = run.specification.model_copy(update={"criteria": asked})
    evidence = replace(run, geoids=geoids(off_m), specification=stated)
    (finding,) = [f for f in drive_check(HeightChain(), evidence) if f.catalogue[0] == "SC-14"]
    assert finding.grade is grade


def test_a_grid_that_says_nothing_here_proves_nothing(one_run):
    """Of a file that is not at hand or does not reach the site the bytes alone count."""
    silent = geoids(0.0) | {"b" * 64: SiteGeoid("b" * 64, reason="no file is at hand")}
    evidence = replace(one_run({"run.geoid_file": "b" * 64}), geoids=silent)
    assert find(evidence, "SC-14") == [Outcome.NONCONFORMING]


def test_a_value_that_was_assumed_does_not_pass_by_its_heights(one_run):
    """That two grids are alike proves nothing where nobody is sure which one was used."""
    doubtful = KnownValue("b" * 64, known_by=KnownBy.ASSUMED, confirmed=False)
    evidence = replace(one_run({"run.geoid_file": doubtful}), geoids=geoids(0.0))
    assert find(evidence, "SC-14") == [Outcome.INCONCLUSIVE]


def test_a_name_alone_is_inconclusive_where_the_job_has_the_grid(one_run):
    """Where the job names a grid file, a run that only names the geoid proves little."""
    assert find(one_run({"run.geoid_file": None}), "SC-14") == [Outcome.INCONCLUSIVE]


def test_a_name_is_enough_where_the_job_has_no_grid(one_run):
    """Where the job gives name and version only, they are what can be compared."""
    blank = {"run.geoid_file": None}
    assert find(one_run(blank, geoid_sha256=""), "SC-14") == [Outcome.CONFORMS]
    other = blank | {"run.geoid_version": "2"}
    assert find(one_run(other, geoid_sha256=""), "SC-14") == [Outcome.NONCONFORMING]


def test_a_geoid_that_the_job_does_not_name_is_not_assessed(one_run):
    """Without a geoid in job.toml there is nothing to compare with."""
    (finding,) = [
        f
        for f in drive_check(HeightChain(), one_run(specification=ask("orthometric")))
        if f.catalogue[0] == "SC-14"
    ]
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.coordinates.geoid.name",)


def test_a_frame_written_in_two_ways_is_inconclusive(one_run):
    """A shorter name of what may be the same frame is unclear; one with its epoch is the same."""
    shorter = one_run({"run.geoid_frame": "NAD83"})
    assert find(shorter, "SC-13") == [Outcome.INCONCLUSIVE]
    longer = one_run({"run.geoid_frame": "NAD83(2011) epoch 2010.0"})
    assert find(longer, "SC-13") == [Outcome.CONFORMS]
    spaced = one_run({"run.geoid_frame": "nad83 (2011)"})
    assert find(spaced, "SC-13") == [Outcome.CONFORMS]


def test_runs_with_two_geoids_are_found(records):
    """Two runs of one delivery that used two grids are a step between their tiles."""
    records.rig().flight().process("R1")
    records.process("R2", changes={"run.geoid_file": "b" * 64})
    records.deliver("a.las", "R1").deliver("b.las", "R2")
    mixed = [f for f in drive_check(HeightChain(), records.evidence()) if f.subject == "delivery"]
    (finding,) = mixed
    assert finding.grade is Grade.MAJOR
    assert "2 different geoids: R1 aaaaaaaaaaaa…; R2 bbbbbbbbbbbb…" in finding.sentence


@pytest.mark.parametrize(("off_m", "found"), [(0.0, 0), (0.0049, 0), (0.0051, 1)])
def test_two_files_of_one_geoid_are_one_geoid(records, off_m, found):
    """Two runs whose grids say the same at the site leave no step between their tiles."""
    renamed = {"run.geoid_file": "b" * 64, "run.geoid_name": "renamed"}
    records.rig().flight().process("R1").process("R2", changes=renamed)
    records.deliver("a.las", "R1").deliver("b.las", "R2")
    evidence = replace(records.evidence(), geoids=geoids(off_m))
    mixed = [f for f in drive_check(HeightChain(), evidence) if f.subject == "delivery"]
    assert len(mixed) == found


def test_runs_with_one_geoid_are_not_found(records):
    """A run that did not record its grid is no other geoid."""
    records.rig().flight().process("R1").process("R2", changes={"run.geoid_file": None})
    records.deliver("a.las", "R1").deliver("b.las", "R2")
    assert not [
        f for f in drive_check(HeightChain(), records.evidence()) if f.subject == "delivery"
    ]
