"""Which foot: size, name and code. Sizes by EPSG units of measure 9002 and 9003.

Displacements from the national legislation table of feet: 2 000 000 ft read in the wrong foot is
1.219202 m off, which is arithmetic: 2 000 000 x (1200/3937 - 0.3048).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.foot_kind import FootKind

US = 1200 / 3937
SURVEY = describe("EPSG:2264")  # NAD83 / North Carolina (ftUS)
BOX = {"minimum": (1_999_000.0, 700_000.0, 0.0), "maximum": (2_000_000.0, 701_000.0, 9.0)}


def judge(delivered, crs, **header):
    """Return the finding about a file in that system."""
    file = delivered(crs=crs, header={**BOX, **header}, reading=None)
    (finding,) = drive_check(FootKind(), make_evidence(file))
    return finding


def test_a_header_in_one_foot_conforms_and_tells_the_cost(delivered):
    """2 000 000 ft taken for the other foot is 1.22 m off."""
    finding = judge(delivered, SURVEY)
    assert finding.outcome is Outcome.CONFORMS
    assert "in US survey feet; taken for the other foot, the points are 1.22 m off" in (
        finding.sentence
    )
    metres = judge(delivered, describe("EPSG:6346"))
    assert metres.outcome is Outcome.CONFORMS
    assert "no kind of foot" in metres.sentence


@pytest.mark.parametrize(
    ("size", "is_told"),
    [(US, False), (0.3048006096, False), (US * (1 + 2e-9), True), (0.304801, True), (0.3048, True)],
)
def test_a_size_that_is_neither_foot_or_not_that_of_the_code_is_minor(delivered, size, is_told):
    """Within a billionth it is the foot; rounded to six figures, or the other one, it is not."""
    finding = judge(delivered, replace(SURVEY, metres_per_unit=size))
    assert (finding.grade is Grade.MINOR) is is_told


@pytest.mark.parametrize(
    ("unit", "is_told"),
    [
        ('UNIT["US survey foot",0.3048]', True),
        ('UNIT["Foot_US",0.3048006096012192]', False),
        ('LENGTHUNIT["International foot",0.304800609601219]', True),
        ('UNIT["International Foot",0.3048]', False),
        ('UNIT["foot",0.3048]', False),
        ('UNIT["metre",1]', False),
    ],
)
def test_a_name_that_contradicts_its_size_is_minor(delivered, unit, is_told):
    """A plain `foot` says nothing of its kind; the others are held against their factor."""
    finding = judge(delivered, SURVEY, wkt=f'PROJCS["x",{unit}]')
    assert (finding.grade is Grade.MINOR) is is_told


def test_a_file_without_a_system_is_not_assessed(delivered):
    """No system, no unit."""
    assert judge(delivered, None).outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize(
    ("name", "words"),
    [("las/autzen.copc.laz", "international feet"), ("las/4_6_crop.las", "US survey feet")],
)
def test_real_files_in_feet_conform(real, name, words):
    """Oregon in international feet, New Mexico in US survey feet, as their codes say."""
    (finding,) = drive_check(FootKind(), make_evidence(real(name)))
    assert finding.outcome is Outcome.CONFORMS
    assert words in finding.sentence
