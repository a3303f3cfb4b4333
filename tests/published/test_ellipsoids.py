"""Ellipsoids, codes and feet as published.

Sources: EPSG dataset v11.022, ellipsoid table (semi-major axis; inverse flattening, or the
semi-minor axis where that defines it), CRS table and unit table.
Known: read; the flattening of Clarke 1866 and the ratio of the feet computed.
"""

from __future__ import annotations

from fractions import Fraction

import pyproj
import pytest
from pyproj.aoi import AreaOfInterest

from ledger.crs import describe
from ledger.model.georeferencing import CrsKind
from ledger.units import INTERNATIONAL_FOOT, METRE, US_SURVEY_FOOT

# A geographic system on the ellipsoid, its name, semi-major axis, inverse flattening.
ELLIPSOIDS = (
    (4326, "WGS 84", 6378137.0, 298.257223563),
    (4269, "GRS 1980", 6378137.0, 298.257222101),
    (4490, "CGCS2000", 6378137.0, 298.257222101),
    (4277, "Airy 1830", 6377563.396, 299.3249646),
    (4314, "Bessel 1841", 6377397.155, 299.1528128),
    (4284, "Krassowsky 1940", 6378245.0, 298.3),
    (4230, "International 1924", 6378388.0, 297.0),
    (4322, "WGS 72", 6378135.0, 298.26),
    (4202, "Australian National Spheroid", 6378160.0, 298.25),
)


# Zones of the same registry that are no state plane zones: a county, a railway, a reservation.
OTHER_ZONES = {"PCCS", "Amtrak", "RMTCRS"}


@pytest.mark.parametrize(("code", "name", "major", "flattening"), ELLIPSOIDS)
def test_ellipsoids_have_their_published_shape(
    code: int, name: str, major: float, flattening: float
) -> None:
    """Axis and flattening come out as the registry defines them."""
    crs = describe(f"EPSG:{code}")
    assert (crs.ellipsoid, crs.semi_major_m, crs.inverse_flattening) == (name, major, flattening)


def test_an_ellipsoid_defined_by_its_minor_axis() -> None:
    """Clarke 1866 is defined by b = 6356583.8 m; its flattening follows."""
    crs = describe("EPSG:4267")
    assert crs.semi_major_m == 6378206.4
    assert crs.inverse_flattening == pytest.approx(294.978698214, abs=5e-10)
    minor = crs.semi_major_m * (1 - 1 / crs.inverse_flattening)
    assert minor == pytest.approx(6356583.8, abs=1e-6)


@pytest.mark.parametrize(
    ("code", "name", "unit"),
    [
        (5703, "NAVD88 height", METRE),
        (6360, "NAVD88 height (ftUS)", US_SURVEY_FOOT),
        (8228, "NAVD88 height (ft)", INTERNATIONAL_FOOT),
        (5702, "NGVD29 height (ftUS)", US_SURVEY_FOOT),
        (5773, "EGM96 height", METRE),
        (3855, "EGM2008 height", METRE),
    ],
)
def test_vertical_codes_have_their_unit(code: int, name: str, unit: object) -> None:
    """The same datum has a code for each unit."""
    vertical = describe(f"EPSG:{code}").vertical
    assert vertical is not None
    assert (vertical.name, vertical.unit) == (name, unit)


@pytest.mark.parametrize("zone", range(1, 20))
def test_utm_zones_of_nad83_2011_are_numbered_in_order(zone: int) -> None:
    """NAD83(2011) / UTM zone n north is EPSG:6329 + n."""
    crs = describe(f"EPSG:{6329 + zone}")
    assert (crs.utm_zone, crs.datum_code) == (f"{zone}N", "EPSG:1116")


def test_frames_of_one_realisation_have_their_kinds() -> None:
    """EPSG 6317, 6318 and 6319 are NAD83(2011) geocentric, in the plane and in space."""
    kinds = [describe(f"EPSG:{code}") for code in (6317, 6318, 6319)]
    assert [crs.kind for crs in kinds] == [
        CrsKind.GEOCENTRIC,
        CrsKind.GEOGRAPHIC,
        CrsKind.GEOGRAPHIC,
    ]
    assert [crs.datum_code for crs in kinds] == ["EPSG:1116"] * 3


def test_both_feet_are_exact() -> None:
    """A US survey foot is 1200/3937 m, an international foot 0.3048 m: 2 parts in a million."""
    assert US_SURVEY_FOOT.factor == Fraction(1200, 3937)
    assert INTERNATIONAL_FOOT.factor == Fraction("0.3048")
    ratio = US_SURVEY_FOOT.factor / INTERNATIONAL_FOOT.factor
    assert float(ratio) == pytest.approx(1.000002000004, abs=1e-12)


def test_six_states_chose_the_international_foot() -> None:
    """State plane zones of NAD83(2011) in international feet are those of exactly six states."""
    found = pyproj.database.query_crs_info(
        auth_name="EPSG",
        pj_types=[pyproj.enums.PJType.PROJECTED_CRS],
        area_of_interest=AreaOfInterest(-180.0, 15.0, -60.0, 72.0),
    )
    zones = [
        (each.name, describe(f"EPSG:{each.code}").unit)
        for each in found
        if each.name.startswith("NAD83(2011) / ") and each.name.endswith("(ft)")
    ]
    assert {unit for _, unit in zones} == {INTERNATIONAL_FOOT}
    states = {name.removeprefix("NAD83(2011) / ").split(" ")[0] for name, _ in zones}
    # North Dakota is the one North; South is South Carolina, for South Dakota has US feet.
    assert states - OTHER_ZONES == {"Arizona", "Michigan", "Montana", "Oregon", "North", "South"}
    assert not any("North Carolina" in name or "South Dakota" in name for name, _ in zones)
