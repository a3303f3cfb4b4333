"""Frames and ellipsoids by the names that people type.

Expected values: the EPSG registry (datums 1116 of NAD83(2011), 6326 of WGS 84, 1322 of ITRF2020;
ellipsoids 7019 GRS 1980 and 7030 WGS 84, with 298.257222101 and 298.257223563).
"""

from __future__ import annotations

import pytest

from ledger.crs import compare, describe, describe_ellipsoid, describe_frame, name_frame


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("NAD83(2011)", "EPSG:1116"),
        ("nad 83 (2011)", "EPSG:1116"),
        ("ITRF2020", "EPSG:1322"),
        ("WGS84", "EPSG:6326"),
    ],
)
def test_a_frame_is_found_by_its_name(name, code):
    """Marks, blanks and case do not count."""
    found = describe_frame(name)
    assert found is not None
    assert found.datum_code == code


@pytest.mark.parametrize("name", ["NAD83(201)", "GRS80", "local", "site", "ITRF", "", "EPSG:6346"])
def test_a_name_that_is_only_like_one_is_none(name):
    """A part of a name, an ellipsoid and a projected system are no frames."""
    assert describe_frame(name) is None


def test_a_member_of_an_ensemble_is_in_its_frame():
    """WGS 84 (G2139) is a member of the ensemble WGS 84; NAD83(2011) is none."""
    ensemble, member, other = map(describe_frame, ("WGS84", "WGS 84 (G2139)", "NAD83(2011)"))
    assert ensemble is not None
    assert member is not None
    assert other is not None
    assert compare(ensemble, member) == ()
    assert [each.part for each in compare(ensemble, other)] == ["datum"]


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("GRS80", (6378137.0, 298.257222101)),
        ("GRS 80", (6378137.0, 298.257222101)),
        ("GRS 1980", (6378137.0, 298.257222101)),
        ("WGS84", (6378137.0, 298.257223563)),
        ("WGS 84", (6378137.0, 298.257223563)),
        ("egg", None),
    ],
)
def test_an_ellipsoid_is_found_by_its_name(name, size):
    """The two modern ellipsoids under the names in use; an unknown name is none."""
    assert describe_ellipsoid(name) == size


@pytest.mark.parametrize(
    ("code", "name"),
    [("EPSG:6346", "NAD83(2011)"), ("EPSG:32617", "WGS 84"), ("EPSG:25832", "ETRS89")],
)
def test_the_frame_of_a_projected_system_is_named_shortly(code, name):
    """As the geodetic system below it is called in the registry."""
    assert name_frame(describe(code)) == name
