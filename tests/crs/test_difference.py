"""Systems are compared by what they do, part by part, and not by what they are called.

Parameters and codes are those of the EPSG registry.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from pyproj import CRS

from ledger.crs import compare, compare_vertical, describe
from ledger.model.georeferencing import Crs, VerticalCrs


def list_parts(a: Crs, b: Crs) -> list[str]:
    """Return the names of the parts that differ."""
    return [difference.part for difference in compare(a, b)]


@pytest.mark.parametrize(
    ("a", "b", "parts"),
    [
        ("EPSG:6346", "EPSG:6346", []),
        ("EPSG:6346", "EPSG:26917", ["datum"]),
        ("EPSG:6346", "EPSG:32617", ["datum"]),
        ("EPSG:26917", "EPSG:32617", ["datum"]),
        ("EPSG:6346", "EPSG:6345", ["zone"]),
        ("EPSG:32617", "EPSG:32717", ["zone"]),
        ("EPSG:32128", "EPSG:2271", ["unit"]),
        ("EPSG:2992", "EPSG:2991", ["unit"]),
        ("EPSG:32128", "EPSG:32129", ["projection"]),
        ("EPSG:6346", "EPSG:6318", ["kind"]),
        ("EPSG:6346", "EPSG:3857", ["datum", "projection"]),
        ("EPSG:28355", "EPSG:7855", ["datum"]),
        ("EPSG:4807", "EPSG:4275", ["datum", "projection"]),
    ],
)
def test_the_parts_that_differ_are_named(a: str, b: str, parts: list[str]) -> None:
    """Datum, projection, zone, unit and kind are told apart; the order changes nothing."""
    assert list_parts(describe(a), describe(b)) == parts
    assert list_parts(describe(b), describe(a)) == parts


def test_names_alone_are_no_difference() -> None:
    """Another name, no code, another spelling of the datum: the same system."""
    crs = describe("EPSG:6346")
    renamed = replace(
        crs,
        name="site system",
        code="",
        datum="NAD83_National_Spatial_Reference_System_2011",
        datum_code="",
    )
    assert compare(crs, renamed) == ()


def test_a_member_agrees_with_its_ensemble_and_members_differ() -> None:
    """Whoever writes WGS 84 may mean any of its frames; two different frames are different."""
    ensemble, older, newer = (describe(f"EPSG:{code}") for code in (4326, 9056, 9057))
    assert compare(ensemble, older) == ()
    assert compare(newer, ensemble) == ()
    assert list_parts(older, newer) == ["datum"]


def test_the_two_feet_differ() -> None:
    """Two parts in a million are told: they are metres in a northing."""
    text = (
        CRS.from_epsg(2992)
        .to_wkt("WKT1_GDAL")
        .replace(
            'UNIT["foot",0.3048,AUTHORITY["EPSG","9002"]]',
            'UNIT["US survey foot",0.304800609601219]',
        )
    )
    text = text.replace("1312335.958", "1312333.333")
    (difference,) = compare(describe(text), describe("EPSG:2992"))
    assert (difference.part, difference.a, difference.b) == (
        "unit",
        "us-survey-foot",
        "international-foot",
    )


def test_parameters_are_compared_within_their_tolerance() -> None:
    """A second of arc, a millimetre, a part in ten million of scale differ; far less does not."""
    crs = describe("EPSG:32128")
    for name, too_much, little in (
        ("Longitude of false origin", 1 / 3600, 1e-9),
        ("Easting at false origin", 1e-3, 1e-4),
    ):
        for amount, expected in ((too_much, ["projection"]), (little, [])):
            moved = tuple((n, v + amount if n == name else v) for n, v in crs.parameters)
            assert list_parts(crs, replace(crs, parameters=moved)) == expected
    other = describe("EPSG:27700")
    scaled = tuple((n, v + 1e-7 if n.startswith("Scale") else v) for n, v in other.parameters)
    assert list_parts(other, replace(other, parameters=scaled)) == ["projection"]


def test_a_length_is_told_without_what_the_factor_of_its_unit_leaves() -> None:
    """EPSG:6576 has its false easting in US survey feet: 600 000 m but for the last bit."""
    crs, name = describe("EPSG:6576"), "Easting at false origin"
    moved = tuple((each, 599998.8 if each == name else v) for each, v in crs.parameters)
    (difference,) = compare(replace(crs, parameters=moved), crs)
    assert (difference.a, difference.b) == (f"{name} 599998.8", f"{name} 600000")


def test_the_order_of_two_standard_parallels_means_nothing() -> None:
    """A cone is the same whichever parallel is named first."""
    crs = describe("EPSG:32128")
    values = dict(crs.parameters)
    first, second = "Latitude of 1st standard parallel", "Latitude of 2nd standard parallel"
    values[first], values[second] = values[second], values[first]
    assert compare(crs, replace(crs, parameters=tuple(sorted(values.items())))) == ()


def test_an_ellipsoid_is_named_where_the_datum_is_the_same() -> None:
    """The same datum on another ellipsoid is told; the tenth of a millimetre of WGS 84 is not."""
    crs = describe("EPSG:6346")
    clarke = replace(crs, semi_major_m=6378206.4, inverse_flattening=294.978698214)
    assert list_parts(crs, clarke) == ["ellipsoid"]
    rounded = replace(crs, inverse_flattening=298.2572221)
    assert compare(crs, rounded) == ()


def test_heights_are_compared_by_datum_unit_and_geoid() -> None:
    """NAVD88 in metres, in US feet and NGVD29 differ in the parts that differ."""
    metres, feet, older = (describe(f"EPSG:{code}").vertical for code in (5703, 6360, 5702))
    assert [d.part for d in compare_vertical(metres, feet)] == ["vertical unit"]
    assert [d.part for d in compare_vertical(feet, older)] == ["vertical datum"]
    assert metres is not None
    a, b = replace(metres, geoid="GEOID18"), replace(metres, geoid="GEOID12B")
    assert [d.part for d in compare_vertical(a, b)] == ["geoid"]
    assert compare_vertical(a, metres) == ()
    spelt = replace(
        metres, name="NAVD_1988", code="", datum="North_American_Vertical_Datum_of_1988"
    )
    assert compare_vertical(spelt, metres) == ()


def test_ellipsoidal_heights_are_no_orthometric_heights() -> None:
    """A height above the ellipsoid differs from one above a vertical datum."""
    solid, height = describe("EPSG:6319").vertical, describe("EPSG:5703").vertical
    (difference,) = compare_vertical(solid, height)
    assert difference.part == "vertical datum"
    assert "above the ellipsoid" in difference.a


def test_an_absent_vertical_part_differs_from_any_and_not_from_none() -> None:
    """What is not stated is not the same as what is."""
    height = VerticalCrs("NAVD88 height", "North American Vertical Datum 1988")
    assert compare_vertical(None, None) == ()
    assert compare_vertical(height, None)[0].b == "none"
    assert compare_vertical(None, height)[0].a == "none"


def test_a_compound_is_compared_where_both_state_heights() -> None:
    """A specification without heights does not differ from a file with them in its plane."""
    plane, full, feet = (
        describe(text) for text in ("EPSG:6346", "EPSG:6346+5703", "EPSG:6346+6360")
    )
    assert compare(plane, full) == ()
    assert list_parts(full, feet) == ["vertical unit"]


def test_a_vertical_system_alone_differs_in_kind() -> None:
    """Heights alone are no horizontal system."""
    assert list_parts(describe("EPSG:6346"), describe("EPSG:5703")) == ["kind"]


def test_all_utm_zones_of_a_datum_differ_from_their_neighbours() -> None:
    """Sixty zones north, each in its own zone and none like the next."""
    zones = [describe(f"EPSG:{code}") for code in range(32601, 32661)]
    assert [crs.utm_zone for crs in zones] == [f"{zone}N" for zone in range(1, 61)]
    assert all(list_parts(a, b) == ["zone"] for a, b in pairwise(zones))
