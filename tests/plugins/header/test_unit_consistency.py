"""Units of header and job.

Sizes by the EPSG registry: metre 9001, international foot 9002 (0.3048 m), US survey foot 9003
(1200/3937 m). A coordinate of 2 000 000 ft read in the wrong foot moves by 1.2192 m (arithmetic).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.specification import Coordinates, Specification, Units
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.unit_consistency import UnitConsistency

METRES = Units(horizontal="metre", vertical="metre")
SURVEY_FEET = Units(horizontal="us-survey-foot", vertical="us-survey-foot")
FEET = Units(horizontal="international-foot", vertical="international-foot")


def judge(file, unit=METRES, horizontal=None, carried=()):
    """Return the findings about a file."""
    coordinates = Coordinates(horizontal=horizontal, unit=unit)
    specification = Specification(coordinates=coordinates, carried=carried)
    specified = describe(horizontal) if horizontal else None
    evidence = make_evidence(file, specification=specification, specified_crs=specified)
    return drive_check(UnitConsistency(), evidence)


def test_metres_all_over_conform(delivered):
    """Metres in the header and in the job conform."""
    (finding,) = judge(delivered())
    assert finding.outcome is Outcome.CONFORMS


def test_metres_where_feet_are_wanted_are_major(delivered):
    """Metres taken for feet are 3.281 times off; both axes are told."""
    flat, height = judge(delivered(), SURVEY_FEET)
    assert (flat.grade, flat.catalogue) == (Grade.MAJOR, ("UN-01",))
    assert "X and Y are in metres, the job asks for US survey feet" in flat.sentence
    assert "3.281 times" in flat.sentence
    assert (height.grade, height.catalogue) == (Grade.MAJOR, ("UN-03",))


def test_the_wrong_foot_is_minor_and_told_in_metres(delivered):
    """Two million feet in the wrong foot are 1.22 m off, and heights hardly at all."""
    box = {"minimum": (1_999_000.0, 600_000.0, 0.0), "maximum": (2_000_000.0, 601_000.0, 900.0)}
    file = delivered(header=box, crs=describe("EPSG:2264+6360"))
    flat, height = judge(file, FEET)
    assert (flat.grade, flat.catalogue) == (Grade.MINOR, ("UN-02",))
    assert "2 ppm, 1.22 m at these coordinates" in flat.sentence
    assert height.grade is Grade.MINOR
    assert "0.000549 m at these coordinates" in height.sentence


def test_declared_mixed_units_conform_when_wanted(delivered):
    """Metres along and feet up are legal when the header declares and the job asks for them."""
    mixed = describe("EPSG:6346+6360")
    wanted = Units(horizontal="metre", vertical="us-survey-foot")
    (finding,) = judge(delivered(crs=mixed), wanted)
    assert finding.outcome is Outcome.CONFORMS
    assert "X and Y in metres and heights in US survey feet" in finding.sentence
    (other,) = judge(delivered(crs=mixed))
    assert (other.grade, other.catalogue) == (Grade.MAJOR, ("UN-03",))


def test_declared_mixed_units_are_a_remark_when_the_job_is_silent(delivered):
    """Whether mixed units are wanted only the job can say."""
    (finding,) = judge(delivered(crs=describe("EPSG:6346+6360")), Units(horizontal="metre"))
    assert finding.grade is Grade.OBSERVATION


@pytest.mark.parametrize(
    ("code", "unit", "grade"),
    [
        ("EPSG:6346", METRES, Grade.OBSERVATION),
        ("EPSG:6346", Units(horizontal="metre", vertical="us-survey-foot"), Grade.MAJOR),
        ("EPSG:2264", SURVEY_FEET, Grade.MINOR),
        ("EPSG:2264", Units(horizontal="us-survey-foot", vertical="metre"), Grade.MAJOR),
    ],
)
def test_an_undeclared_height_unit_is_graded_by_what_a_reader_will_guess(
    delivered, code, unit, grade
):
    """Heights without a unit are read in the unit of X and Y: wrong when the job wants another."""
    (finding,) = judge(delivered(crs=describe(code)), unit)
    assert (finding.grade, finding.catalogue) == (grade, ("UN-03",))


def test_degrees_are_no_linear_unit(delivered):
    """Degrees where the job asks for metres are major."""
    findings = judge(delivered(crs=describe("EPSG:4326")))
    assert findings[0].grade is Grade.MAJOR
    assert "its coordinates are degrees" in findings[0].sentence


def test_an_unknown_unit_is_not_assessed(delivered, utm17):
    """A projected system whose unit was not understood cannot be compared."""
    unknown = replace(utm17, unit=None, metres_per_unit=None)
    assert judge(delivered(crs=unknown))[0].outcome is Outcome.NOT_ASSESSED


def test_the_unit_of_the_specified_system_stands_in(delivered):
    """Where job.toml names no unit, that of its coordinate system is wanted."""
    (finding,) = judge(delivered(), Units(), "EPSG:6346")
    assert finding.outcome is Outcome.CONFORMS
    assert judge(delivered(), Units(), "EPSG:2264")[0].grade is Grade.MAJOR


def test_a_blank_job_is_not_assessed(delivered):
    """Without any unit in job.toml the key is named."""
    (finding,) = judge(delivered(), Units())
    assert finding.needs == ("specification.coordinates.unit.horizontal",)


def test_a_carried_unit_never_passes(delivered):
    """A unit taken from the last job leaves agreement inconclusive."""
    (finding,) = judge(delivered(), carried=("coordinates.unit",))
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_a_header_without_a_system_is_not_assessed(delivered):
    """No system, no unit."""
    (finding,) = judge(delivered(crs=None))
    assert finding.needs == ("header CRS",)


@pytest.mark.parametrize(
    ("name", "unit", "grades"),
    [
        # International feet along, US survey feet up, both declared.
        (
            "las/autzen.copc.laz",
            Units(horizontal="international-foot", vertical="us-survey-foot"),
            {None},
        ),
        ("las/autzen.copc.laz", FEET, {Grade.MINOR}),
        # Metres along, US survey feet up.
        ("las/autzen-bmx-2023.las", METRES, {Grade.MAJOR}),
        # International feet along, heights undeclared.
        ("las/autzen.las", FEET, {Grade.MINOR}),
        # A metre code with a unit key of US survey feet.
        ("las/point-version-1-point-wise.laz", METRES, {Grade.MAJOR}),
    ],
)
def test_real_files_are_found_as_they_are(real, name, unit, grades):
    """Units of real files, known from their records, are told from each other."""
    findings = judge(real(name), unit)
    assert {f.grade for f in findings if f.grade is not Grade.OBSERVATION} == grades
