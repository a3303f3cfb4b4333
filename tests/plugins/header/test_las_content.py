"""What a customer may ask of the content, as the USGS Lidar Base Specification 2025 rev. A does.

Its rules: LAS 1.4, formats 6 to 10, LAZ, adjusted standard time, WKT of 2001 with a vertical part
and the geoid in its name, one record, no EXTENSION, one unit preferred, file source id 0 for tiles.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.georeferencing import CrsReading, CrsRecord, VerticalCrs
from ledger.model.header import VlrFacts
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.content_criteria import LasContentCriteria
from lidar_checks.header.content_rules import ROWS
from lidar_checks.header.las_content import LasContent

ABSENT = CrsRecord(present=False)
UTM = describe("EPSG:6346+5703")
NAMED = replace(UTM, vertical=VerticalCrs("NAVD88 height - GEOID18"))
TWO = tuple(VlrFacts("LASF_Projection", each, 40) for each in (2112, 34735))
OLD = (VlrFacts("LASF_Projection", 2112, 40), VlrFacts("LASF_Spec", 7, 40))


def read_as(dialect):
    """Return a reading of a WKT record of some edition."""
    record = CrsRecord(present=True, crs=replace(NAMED, dialect=dialect))
    return CrsReading(record, ABSENT, record)


CASES = [
    ("versions", ["1.4"], {"version": "1.2"}, {}),
    ("point_formats", [6, 7], {"point_format": 8, "record_length": 38}, {}),
    ("compressed", True, {}, {"compressed": True}),
    ("time_kind", "adjusted-standard", {"global_encoding": 16}, {}),
    ("time_kind", "week-seconds", {}, {"global_encoding": 16}),
    ("wkt_versions", ["WKT1"], {"crs": read_as("WKT2")}, {"crs": read_as("WKT1")}),
    ("wkt_versions", ["WKT1"], {"crs": None}, {"crs": read_as("WKT1")}),
    ("one_crs_record", True, {"vlrs": TWO}, {"vlrs": OLD}),
    ("vertical_in_compound", True, {"crs": describe("EPSG:6346")}, {"crs": UTM}),
    ("geoid_in_vertical_name", True, {"crs": UTM}, {"crs": NAMED}),
    ("single_line_wkt", True, {"wkt": 'PROJCS["a b",\n1]'}, {"wkt": 'PROJCS["a b",1]'}),
    (
        "forbidden_wkt_nodes",
        ["EXTENSION"],
        {"wkt": 'P["a",EXTENSION["x"]]'},
        {"wkt": 'P["EXTENSION["]'},
    ),
    ("same_unit", True, {"crs": describe("EPSG:6346+6360")}, {"crs": UTM}),
    ("file_source_zero_for_tiles", True, {"file_source_id": 7}, {"file_source_id": 0}),
    ("system_identifier", True, {"system_identifier": ""}, {}),
]


def judge(delivered, parts, criteria):
    """Return the findings about a file with some parts changed."""
    given = {"crs": parts["crs"]} if "crs" in parts else {}
    file = delivered(header={k: v for k, v in parts.items() if k != "crs"}, **given)
    return drive_check(LasContent(), make_evidence(file), criteria=criteria)


@pytest.mark.parametrize(("field", "value", "wrong", "right"), CASES)
def test_what_is_asked_for_is_found_wrong_and_right(delivered, field, value, wrong, right):
    """Each criterion finds its breach, and conforms beside it."""
    (told,) = judge(delivered, wrong, {field: value})
    assert told.grade is (Grade.OBSERVATION if field == "same_unit" else Grade.MINOR)
    assert told.remedy
    (good,) = judge(delivered, right, {field: value})
    assert good.outcome is Outcome.CONFORMS


def test_nothing_is_asked_by_itself(delivered):
    """Every criterion is blank, and a blank one is not assessed; so is one that is denied."""
    for criteria in (None, {"same_unit": False}):
        (finding,) = judge(delivered, {}, criteria)
        assert finding.outcome is Outcome.NOT_ASSESSED
        assert finding.needs == ("criteria.las-content",)


def test_every_criterion_has_a_row_and_a_case():
    """No criterion is read by nobody, and none is untried."""
    fields = set(LasContentCriteria.model_fields)
    assert {row.field for row in ROWS} == fields == {case[0] for case in CASES}
