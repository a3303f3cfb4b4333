"""Heights are explained by header, job or record, or the audit says that they are not."""

from __future__ import annotations

import pytest

from ledger.audit.gaps import tell_geoid_grid
from ledger.crs import describe
from ledger.model.audit import AUDIT_ITSELF
from ledger.model.finding import Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Decision, Process
from ledger.model.specification import Coordinates, Geoid, Specification
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.vertical_datum import VerticalDatum

FLAT = "EPSG:6346"
GEOID = Geoid(name="demo-geoid-A")
WITH_GEOID = Coordinates(geoid=GEOID)
NAVD88 = Coordinates(vertical_crs="EPSG:5703")
ORTHOMETRIC = Coordinates(vertical="orthometric")


def judge(file, coordinates=None, carried=()):
    """Return the one finding about a file."""
    specification = Specification(coordinates=coordinates or Coordinates(), carried=carried)
    vertical = specification.coordinates.vertical_crs
    evidence = make_evidence(
        file,
        specification=specification,
        specified_vertical=describe(vertical) if vertical else None,
    )
    (finding,) = drive_check(VerticalDatum(), evidence)
    return finding


def make_run(decision=Decision.ACCEPTED, **values):
    """Return a run with these values: `geoid_name="A"`; a KnownValue stands as it is."""
    known = {
        f"run.{name}": value if isinstance(value, KnownValue) else KnownValue(value)
        for name, value in values.items()
    }
    return Process("R1", "run", "", 1, "", "technician", decision, 1, "", values=known)


def test_a_datum_with_a_geoid_of_the_job_conforms(delivered):
    """The header names the datum, the job the geoid model."""
    finding = judge(delivered(), WITH_GEOID)
    assert finding.outcome is Outcome.CONFORMS
    assert "NAVD88 height; geoid demo-geoid-A by job.toml" in finding.sentence


def test_a_geoid_of_the_run_counts_too(delivered):
    """Where the job is silent the record of the run tells the geoid."""
    finding = judge(delivered(run=make_run(geoid_name="demo-geoid-A")))
    assert finding.outcome is Outcome.CONFORMS
    assert "demo-geoid-A by R1" in finding.sentence


def test_a_geoid_that_nobody_names_is_not_assessed(delivered):
    """A datum without a geoid in job and records is not assessed; both keys are named."""
    for run in (None, make_run(geoid_name="none")):
        finding = judge(delivered(run=run))
        assert finding.outcome is Outcome.NOT_ASSESSED
        assert finding.needs == ("specification.coordinates.geoid", "run.geoid_name")


def test_a_geoid_of_a_rejected_run_does_not_count(delivered):
    """A run that was thrown away explains nothing."""
    run = make_run(Decision.REJECTED, geoid_name="demo-geoid-A")
    assert judge(delivered(run=run)).outcome is Outcome.NOT_ASSESSED


def test_an_unconfirmed_geoid_never_passes(delivered):
    """An assumed or carried geoid is inconclusive."""
    assumed = KnownValue("demo-geoid-A", known_by=KnownBy.ASSUMED)
    doubtful = judge(delivered(run=make_run(geoid_name=assumed)))
    assert doubtful.outcome is Outcome.INCONCLUSIVE
    assert 'swathbook amend R1 --set geoid_name="…" --reason "…"' in doubtful.remedy
    carried = judge(delivered(), WITH_GEOID, ("coordinates.geoid",))
    assert carried.outcome is Outcome.INCONCLUSIVE
    assert "coordinates.geoid in job.toml" in carried.remedy


@pytest.mark.parametrize(
    ("coordinates", "words"),
    [
        (NAVD88.model_copy(update={"geoid": GEOID}), "NAVD88 height by job.toml"),
        (ORTHOMETRIC.model_copy(update={"geoid": GEOID}), "orthometric by job.toml"),
        (Coordinates(vertical="ellipsoidal"), "ellipsoidal by job.toml"),
        (WITH_GEOID, "geoid demo-geoid-A by job.toml"),
    ],
)
def test_heights_that_only_the_job_states_are_minor(delivered, coordinates, words):
    """Who receives the file does not see the job: its header has to say it."""
    finding = judge(delivered(crs=describe(FLAT)), coordinates)
    assert finding.grade is Grade.MINOR
    assert words in finding.sentence


def test_heights_that_only_a_run_states_are_minor(delivered):
    """What the run recorded is missing in the header."""
    run = make_run(geoid_name="demo-geoid-A", output_height_type="orthometric")
    finding = judge(delivered(crs=describe(FLAT), run=run))
    assert finding.grade is Grade.MINOR
    assert "orthometric by R1, geoid demo-geoid-A by R1" in finding.sentence


@pytest.mark.parametrize("coordinates", [NAVD88, ORTHOMETRIC, Coordinates()])
@pytest.mark.parametrize("geoid", [{}, {"geoid_name": "none"}])
def test_a_silent_header_does_not_excuse_a_blank_geoid(delivered, coordinates, geoid):
    """Heights above a geoid that job and records leave blank are not assessed, header or not."""
    run = make_run(output_height_type="orthometric", **geoid)
    finding = judge(delivered(crs=describe(FLAT), run=run), coordinates)
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.coordinates.geoid", "run.geoid_name")


@pytest.mark.parametrize("name", ["geoid_name", "output_height_type"])
def test_a_silent_header_does_not_excuse_an_assumption(delivered, name):
    """What explains the heights is only assumed, and so nothing that can be accepted."""
    value = {"geoid_name": "demo-geoid-A", "output_height_type": "ellipsoidal"}[name]
    run = make_run(**{name: KnownValue(value, known_by=KnownBy.ASSUMED)})
    finding = judge(delivered(crs=describe(FLAT), run=run))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert f"swathbook amend R1 --set {name}=" in finding.remedy


@pytest.mark.parametrize(
    ("coordinates", "key"),
    [
        (ORTHOMETRIC.model_copy(update={"geoid": GEOID}), "coordinates.geoid"),
        (Coordinates(vertical="ellipsoidal"), "coordinates.vertical"),
    ],
)
def test_a_silent_header_does_not_excuse_what_was_carried(delivered, coordinates, key):
    """What explains the heights came from the last job, and nobody confirmed it."""
    finding = judge(delivered(crs=describe(FLAT)), coordinates, (key,))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert f"{key} in job.toml" in finding.remedy


def test_a_run_does_not_turn_the_heights_of_the_job_around(delivered):
    """Ellipsoidal heights of a run explain nothing where the job asks for heights above a geoid."""
    run = make_run(output_height_type="ellipsoidal")
    finding = judge(delivered(crs=describe(FLAT), run=run), ORTHOMETRIC)
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_heights_that_nobody_states_are_not_assessed(delivered):
    """Blank in header, job and records is not assessed, never a pass."""
    for crs in (describe(FLAT), None):
        finding = judge(delivered(crs=crs))
        assert finding.outcome is Outcome.NOT_ASSESSED
        assert "specification.coordinates.vertical" in finding.needs


def test_ellipsoidal_heights_need_no_geoid(delivered):
    """A three-dimensional geographic system is complete by itself (EPSG:6319, NAD83(2011) 3D)."""
    finding = judge(delivered(crs=describe("EPSG:6319")))
    assert finding.outcome is Outcome.CONFORMS
    assert "above the ellipsoid" in finding.sentence


def test_site_heights_cannot_be_named_by_a_header(delivered):
    """Heights above a bench mark of the site have no registered datum."""
    site = Coordinates(vertical="site")
    assert judge(delivered(crs=describe(FLAT)), site).outcome is Outcome.CONFORMS
    carried = judge(delivered(crs=describe(FLAT)), site, ("coordinates.vertical",))
    assert carried.outcome is Outcome.INCONCLUSIVE


def test_an_unreadable_header_is_not_assessed(delivered):
    """A file whose header cannot be read is never passed over."""
    assert judge(delivered(header=None)).outcome is Outcome.NOT_ASSESSED


def test_the_check_may_not_be_left_open():
    """A vertical datum is always required."""
    assert VerticalDatum.always_required


@pytest.mark.parametrize("name", ["las/1815.las", "las/srs_vertcs.las"])
def test_vertical_keys_of_real_files_are_seen(real, name):
    """GeoTIFF key 4096 of these files holds 5703, NAVD88."""
    finding = judge(real(name), WITH_GEOID)
    assert finding.outcome is Outcome.CONFORMS
    assert "NAVD88" in finding.sentence


def test_a_grid_that_is_named_and_absent_is_told_by_the_audit_alone(delivered):
    """The audit itself leaves its verdict open for it; a model is named all the same."""
    named = Coordinates(geoid=Geoid(name="demo-geoid-A", file="geoid/nope.tif"))
    evidence = make_evidence(delivered(), specification=Specification(coordinates=named))
    findings = list(drive_check(VerticalDatum(), evidence))
    assert not [each for each in findings if "nope.tif" in each.sentence]
    (gap,) = tell_geoid_grid(evidence)
    assert (gap.check, gap.outcome) == (AUDIT_ITSELF, Outcome.NOT_ASSESSED)
    assert "geoid/nope.tif was not found" in gap.sentence
