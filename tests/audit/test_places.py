"""Longitude and latitude of findings: by a system that is known, and by no other."""

from __future__ import annotations

import pyproj
import pytest
from made_cloud import make_header

from ledger.audit.places import Places
from ledger.crs import describe
from ledger.model.finding import Finding, Outcome, Where
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.testing import make_file


@pytest.mark.parametrize(
    ("specified", "stated", "known"),
    [
        ("EPSG:6346", None, True),
        (None, "EPSG:6346+5703", True),
        ("EPSG:6346", "EPSG:6346+5703", True),
        ("EPSG:6346", "EPSG:32617", False),  # another zone: nobody can say where the place is
        (None, None, False),
        (None, "EPSG:4978", False),
    ],
)
def test_a_finding_about_a_file_lies_in_its_middle(
    specified: str | None, stated: str | None, *, known: bool
) -> None:
    """By the file's own system or the specified one, unless the two contradict each other."""
    header = make_header((551_900.0, 4_271_900.0, 552_100.0, 4_272_100.0), count=9)
    record = CrsRecord(stated is not None, describe(stated) if stated else None)
    file = make_file("a.laz", header=header, crs=CrsReading(record, CrsRecord(False), record))
    places = Places(describe(specified) if specified else None, [file])
    there = pyproj.Transformer.from_crs(6346, 6318, always_xy=True).transform(552000.0, 4272000.0)
    for where in (Where(file="a.laz"), Where(file="a.laz", xy=(552000.0, 4272000.0))):
        bad = Finding("a", Outcome.INCONCLUSIVE, "a.laz", "Wrong.", where=where)
        found = places.add_lonlat(bad)
        assert (found.where.xy, found.id) == (where.xy, bad.id)
        assert found.where.lonlat == (pytest.approx(there, abs=1e-7) if known else None)
    good = Finding("a", Outcome.CONFORMS, "a.laz", "Good.", where=Where(file="a.laz"))
    assert places.add_lonlat(good) is good
