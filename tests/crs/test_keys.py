"""GeoTIFF keys are followed one by one: codes, units, datums, projections spelt out.

Key numbers are those of OGC GeoTIFF 1.1; the codes of key 3075 those of GeoTIFF 1.0.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ledger.crs import compare, describe
from ledger.model.georeferencing import CrsKind, CrsReading, CrsRecord
from ledger.units import METRE, US_SURVEY_FOOT

ReadMade = Callable[..., CrsReading]
Keys = dict[int, int | float | str]

USER = 32767
NAD83_BASE: Keys = {1024: 1, 3072: USER, 2048: 4269}


def read(read_made: ReadMade, keys: Keys) -> CrsRecord:
    """Return the record of GeoTIFF keys."""
    return read_made(None, keys).geotiff


# The same systems by code and spelt out; values as the EPSG registry has them.
SPELT_OUT: tuple[tuple[str, Keys], ...] = (
    (
        "EPSG:26917",
        {3075: 1, 3076: 9001, 3080: -81.0, 3081: 0.0, 3082: 5e5, 3083: 0.0, 3092: 0.9996},
    ),
    (
        "EPSG:32128",
        {
            3075: 8,
            3076: 9001,
            3078: 41.95,
            3079: 40.8833333333333,
            3084: -77.75,
            3085: 40.1666666666667,
            3086: 6e5,
            3087: 0.0,
        },
    ),
    (
        "EPSG:2271",
        {
            3075: 8,
            3076: 9003,
            3078: 41.95,
            3079: 40.8833333333333,
            3088: -77.75,
            3081: 40.1666666666667,
            3082: 1_968_500.0,
            3083: 0.0,
        },
    ),
    (
        "EPSG:26931",
        {
            3075: 3,
            3076: 9001,
            3088: -133.666666666667,
            3089: 57.0,
            3094: 323.130102361111,
            3093: 0.9999,
            3082: 5e6,
            3083: -5e6,
        },
    ),
)


@pytest.mark.parametrize(("code", "keys"), SPELT_OUT)
def test_a_projection_spelt_out_equals_its_code(read_made: ReadMade, code: str, keys: Keys) -> None:
    """User-defined keys give the same projection, datum and unit as the registered system."""
    record = read(read_made, NAD83_BASE | keys)
    assert record.crs is not None, record.fault
    assert compare(record.crs, describe(code)) == ()
    assert record.crs.code == ""
    assert record.notes == ()


def test_a_projection_may_come_by_its_own_code(read_made: ReadMade) -> None:
    """Key 3074 names a registered projection, here UTM zone 17N, on the datum of key 2048."""
    record = read(read_made, {1024: 1, 3072: USER, 3074: 16017, 2048: 6318, 3076: 9001})
    assert record.crs is not None, record.fault
    assert record.crs.utm_zone == "17N"
    assert compare(record.crs, describe("EPSG:6346")) == ()


def test_a_unit_of_ones_own_size_is_taken(read_made: ReadMade) -> None:
    """A user-defined unit has its size in key 3077; 1200/3937 is known again."""
    record = read(read_made, {3072: 32128, 3076: USER, 3077: 1200 / 3937})
    assert record.crs is not None
    assert record.crs.unit is US_SURVEY_FOOT


def test_a_unit_key_that_agrees_leaves_the_code(read_made: ReadMade) -> None:
    """Keys that only repeat what the code says change nothing and are no contradiction."""
    record = read(read_made, {1024: 1, 3072: 2903, 3076: 9003, 2054: 9102})
    assert record.crs is not None
    assert (record.crs.code, record.notes) == ("EPSG:2903", ())


def test_a_datum_spelt_out_has_its_ellipsoid(read_made: ReadMade) -> None:
    """Axis and flattening are taken where no code names a datum, in any of their forms."""
    for shape in (
        {2056: 7019},
        {2057: 6378137.0, 2059: 298.257222101},
        {2057: 6378137.0, 2058: 6356752.314140356},
    ):
        record = read(read_made, {1024: 2, 2048: USER, 2050: USER, **shape})
        assert record.crs is not None, record.fault
        assert record.crs.kind is CrsKind.GEOGRAPHIC
        assert record.crs.datum == "unknown"
        assert abs(record.crs.inverse_flattening - 298.257222101) < 1e-8


@pytest.mark.parametrize(
    ("keys", "code", "unit", "notes"),
    [
        ({4096: 5703}, "EPSG:5703", METRE, 0),
        ({4096: 5703, 4098: 5103, 4099: 9001}, "EPSG:5703", METRE, 0),
        ({4096: 5703, 4099: 9003}, "", US_SURVEY_FOOT, 1),
        ({4096: 5103, 4098: 5703, 4099: 9001}, "EPSG:5703", METRE, 1),
        # GeoTIFF 1.0 numbered vertical systems by their datums.
        ({4096: 5103, 4099: 9003}, "", US_SURVEY_FOOT, 0),
        ({4098: 5103, 4099: 9001}, "", METRE, 0),
    ],
)
def test_vertical_keys_give_navd88_whichever_holds_it(
    read_made: ReadMade, keys: Keys, code: str, unit: object, notes: int
) -> None:
    """NAVD88 is found by system, by datum, swapped or alone, with the unit that is stated."""
    record = read(read_made, {3072: 6346} | keys)
    assert record.crs is not None, record.fault
    vertical = record.crs.vertical
    assert vertical is not None
    assert (vertical.datum, vertical.code) == ("North American Vertical Datum 1988", code)
    assert vertical.unit is unit
    assert len(record.notes) == notes


def test_old_codes_for_heights_above_an_ellipsoid_are_understood(read_made: ReadMade) -> None:
    """GeoTIFF 1.0 code 5030 is a height above the WGS 84 ellipsoid."""
    record = read(read_made, {3072: 32617, 4096: 5030})
    assert record.crs is not None, record.fault
    assert record.crs.vertical is not None
    assert record.crs.vertical.is_ellipsoidal


def test_a_vertical_unit_alone_is_no_vertical_system(read_made: ReadMade) -> None:
    """A unit without a datum says nothing about where zero is."""
    record = read(read_made, {3072: 6346, 4099: 9003})
    assert record.crs is not None
    assert record.crs.vertical is None


@pytest.mark.parametrize(
    ("keys", "note"),
    [
        ({3072: 32104, 2048: 6318}, "which is based on EPSG:4269, but key 2048 says EPSG:6318"),
        ({3072: 6346, 3076: 32632}, "key 3076 holds 32632, which is no unit of length"),
        ({3072: 6346, 4096: 65000}, "key 4096 holds 65000, which is no vertical system"),
        ({3072: 6346, 4096: 5703, 4098: 5102}, "but key 4098 says National Geodetic Vertical"),
        ({3072: 6346, 4096: 5703, 4098: 65000}, "key 4098 holds 65000, which is no vertical"),
        ({3072: 6346, 4096: 65000, 4098: 5703}, "key 4098 holds EPSG:5703, a system, where"),
    ],
)
def test_contradictions_between_keys_are_notes(read_made: ReadMade, keys: Keys, note: str) -> None:
    """What one key says against another is told, and the system is read all the same."""
    record = read(read_made, keys)
    assert record.crs is not None
    assert [each for each in record.notes if note in each] != []


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ({}, "the GeoTIFF keys name no coordinate system"),
        ({1025: 2, 3076: 9001, 4099: 9001}, "the GeoTIFF keys name no coordinate system"),
        ({1024: 1, 3076: 32632}, "holds 32632, the code of WGS 84 / UTM zone 32N"),
        ({3072: 65535}, "GeoTIFF key 3072 holds a code that is not known"),
        ({3072: 4326}, "GeoTIFF key 3072 holds no projected system"),
        (NAD83_BASE | {3075: 20}, "name no projection that is understood"),
        (NAD83_BASE | {3075: 8, 3078: 40.0}, "a parameter of the projection is missing"),
        ({1024: 2, 2048: USER}, "define no datum and no ellipsoid"),
        (NAD83_BASE | {3075: 1, 3080: float("inf")}, "json"),
    ],
)
def test_keys_that_define_nothing_are_unreadable_with_a_reason(
    read_made: ReadMade, keys: Keys, fault: str
) -> None:
    """Keys are present and not understood: neither absent nor a guess."""
    record = read(read_made, keys)
    assert record.present
    assert record.crs is None
    assert fault in record.fault


def test_a_vertical_system_that_is_only_named_has_its_name(read_made: ReadMade) -> None:
    """User-defined heights are kept under the name that the keys give them."""
    record = read(read_made, {3072: 6346, 4096: USER, 4097: "site zero", 4099: 9001})
    assert record.crs is not None, record.fault
    assert record.crs.vertical is not None
    assert (record.crs.vertical.name, record.crs.vertical.datum) == ("site zero", "site zero")


@pytest.mark.parametrize("meridian", [{2051: 8903}, {2061: 2.33722917}])
def test_another_prime_meridian_is_no_greenwich(read_made: ReadMade, meridian: Keys) -> None:
    """Longitudes from Paris (EPSG meridian 8903) differ from those from Greenwich."""
    paris = read(read_made, {1024: 2, 2048: USER, 2056: 7019, **meridian}).crs
    greenwich = read(read_made, {1024: 2, 2048: USER, 2056: 7019}).crs
    assert paris is not None
    assert greenwich is not None
    assert [d.part for d in compare(paris, greenwich)] == ["projection"]
    assert dict(paris.parameters)["Prime meridian longitude"] == pytest.approx(2.33722917, abs=1e-8)


def test_angles_may_come_in_another_unit(read_made: ReadMade) -> None:
    """Parameters in grads (EPSG unit 9105), or in a unit of their own size, are degrees inside."""
    in_degrees: Keys = {3075: 1, 3076: 9001, 3080: -81.0, 3082: 5e5, 3092: 0.9996}
    expected = read(read_made, NAD83_BASE | in_degrees).crs
    assert expected is not None
    units: tuple[Keys, ...] = ({2054: 9105}, {2054: USER, 2055: 0.015707963267948967})
    for unit in units:
        crs = read(read_made, {**NAD83_BASE, **in_degrees, 3080: -90.0, **unit}).crs
        assert crs is not None
        assert compare(crs, expected) == ()


def test_mercator_with_a_standard_parallel_is_its_other_variant(read_made: ReadMade) -> None:
    """Key 3078 beside a Mercator makes it EPSG method 9805, without it 9804."""
    keys: Keys = {3075: 7, 3076: 9001, 3080: 10.0}
    variants: tuple[Keys, ...] = ({}, {3078: 42.0})
    names = [
        crs.projection
        for extra in variants
        if (crs := read(read_made, NAD83_BASE | keys | extra).crs) is not None
    ]
    assert names == ["Mercator (variant A)", "Mercator (variant B)"]
