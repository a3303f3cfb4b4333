"""Stand-ins for a change of datum in the text of a system; common practice, no source."""

from __future__ import annotations

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence
from lidar_checks.header.datum_shift import DatumShift


def judge(delivered, wkt, **parts):
    """Return the finding about a file with that text."""
    (finding,) = drive_check(DatumShift(), make_evidence(delivered(header={"wkt": wkt}, **parts)))
    return finding


@pytest.mark.parametrize(
    ("wkt", "grade"),
    [
        ('DATUM["x",EXTENSION["PROJ4_GRIDS","@null"]]', Grade.MINOR),
        ('EXTENSION["PROJ4","+proj=utm +nadgrids=@null"]', Grade.MINOR),
        ('DATUM["x",EXTENSION["PROJ4_GRIDS","ntv2_0.gsb"]]', Grade.OBSERVATION),
        ('DATUM["x",TOWGS84[598.1,73.7,418.2,0.202,0.045,-2.455,6.7]]', Grade.OBSERVATION),
        ('DATUM["x",TOWGS84[0,0,0,0,0,0,0]]', None),
        ('DATUM["x",TOWGS84[0.0,-0.0,0,0,0,0,0]]', None),
        ('DATUM["x",SPHEROID["y",6378137,298]]', None),
        (None, None),
    ],
)
def test_a_stand_in_is_told(delivered, wkt, grade):
    """Null grids, grids that are needed, parameters; zeros and plain systems are silent."""
    finding = judge(delivered, wkt)
    assert finding.grade is grade
    assert grade is not None or finding.outcome is Outcome.CONFORMS


def test_web_maps_are_written_with_a_null_grid(delivered):
    """EPSG:3857 is a sphere by definition; that it is no map to measure in is told elsewhere."""
    wkt = 'EXTENSION["PROJ4","+proj=merc +nadgrids=@null"]'
    assert judge(delivered, wkt, crs=describe("EPSG:3857")).outcome is Outcome.CONFORMS


def test_a_file_without_a_system_is_not_assessed(delivered):
    """No system, no text."""
    assert judge(delivered, None, crs=None).outcome is Outcome.NOT_ASSESSED
