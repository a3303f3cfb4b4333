"""The header's system against the job's: parts count, names do not.

Codes and their parts are those of the EPSG registry, as PROJ has them.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.specification import Coordinates, Specification
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.crs_agrees import CrsAgrees

WANTED = Specification(
    coordinates=Coordinates(
        horizontal="EPSG:6346", vertical="orthometric", vertical_crs="EPSG:5703"
    )
)


def judge(file, specification=WANTED, horizontal="EPSG:6346", vertical="EPSG:5703"):
    """Return the one finding about a file."""
    evidence = make_evidence(
        file,
        specification=specification,
        specified_crs=describe(horizontal) if horizontal else None,
        specified_vertical=describe(vertical) if vertical else None,
    )
    (finding,) = drive_check(CrsAgrees(), evidence)
    return finding


def test_the_specified_system_conforms(delivered):
    """A header that states what the job asks for conforms."""
    assert judge(delivered()).outcome is Outcome.CONFORMS


def test_another_name_for_the_same_system_conforms(delivered, utm17):
    """Names do not count."""
    assert judge(delivered(crs=replace(utm17, name="grid of the site"))).outcome is (
        Outcome.CONFORMS
    )


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("EPSG:6345+5703", "zone 16N, the job asks for 17N"),
        ("EPSG:32617+5703", "datum"),
        ("EPSG:6318+5703", "kind"),
        ("EPSG:6346+6360", "unit"),
        ("EPSG:6346+5702", "National Geodetic Vertical Datum 1929"),
    ],
)
def test_each_part_that_differs_is_named(delivered, code, words):
    """Zone, datum, kind, height unit and vertical datum are told with both values; all major."""
    finding = judge(delivered(crs=describe(code)))
    assert finding.grade is Grade.MAJOR
    assert words in finding.sentence
    assert finding.remedy


@pytest.mark.parametrize(
    ("asked", "code", "agrees"),
    [
        ("orthometric", "EPSG:6346+5703", True),
        ("ellipsoidal", "EPSG:6346+5703", False),
        ("site", "EPSG:6346+5703", False),
    ],
)
def test_the_kind_of_heights_counts_without_a_vertical_code(delivered, asked, code, agrees):
    """Where the job only names the kind of heights, the header's datum has to be of that kind."""
    specification = Specification(coordinates=Coordinates(horizontal="EPSG:6346", vertical=asked))
    finding = judge(delivered(crs=describe(code)), specification, vertical=None)
    assert (finding.outcome is Outcome.CONFORMS) is agrees
    if not agrees:
        assert f"heights NAVD88 height, the job asks for {asked}" in finding.sentence


def test_a_silent_vertical_part_is_not_another_one(delivered):
    """A header without heights is judged elsewhere: here its horizontal part conforms."""
    finding = judge(delivered(crs=describe("EPSG:6346")))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == (
        "tile_01.las states NAD83(2011) / UTM zone 17N, as the job asks; only the horizontal part "
        "was compared, for the header has no vertical part."
    )


def test_a_job_that_asks_for_no_heights_is_compared_whole(delivered):
    """Nothing is said of a vertical part that neither side has."""
    wanted = Specification(coordinates=Coordinates(horizontal="EPSG:6346"))
    finding = judge(delivered(crs=describe("EPSG:6346")), wanted, vertical="")
    assert finding.sentence == "tile_01.las states NAD83(2011) / UTM zone 17N, as the job asks."


def test_a_blank_specification_is_not_assessed(delivered):
    """Without a system in job.toml the key is named."""
    finding = judge(delivered(), Specification(), horizontal="", vertical="")
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("specification.coordinates.horizontal",)


def test_a_header_without_a_system_is_not_assessed(delivered):
    """A file that states nothing neither agrees nor differs."""
    finding = judge(delivered(crs=None))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("header CRS",)


def test_a_carried_system_never_passes(delivered):
    """A key taken from the last job leaves agreement inconclusive, and may still fail."""
    carried = WANTED.model_copy(update={"carried": ("coordinates.horizontal",)})
    finding = judge(delivered(), carried)
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "coordinates.horizontal" in finding.sentence
    assert judge(delivered(crs=describe("EPSG:6345")), carried).grade is Grade.MAJOR


def test_feet_under_a_metre_code_are_found(real):
    """`point-version-1-point-wise.laz` has the code EPSG:32128 and a unit key of US survey feet."""
    wanted = Specification(coordinates=Coordinates(horizontal="EPSG:32128"))
    file = real("las/point-version-1-point-wise.laz")
    finding = judge(file, wanted, horizontal="EPSG:32128", vertical="")
    assert finding.grade is Grade.MAJOR
    assert "unit" in finding.sentence
