"""Places, scale factors and operations, without a network and without approximations."""

from __future__ import annotations

import math

import numpy as np
import pyproj
import pytest
from pyproj.network import is_network_enabled, set_network_enabled  # type: ignore[attr-defined]

from ledger.crs import (
    compute_convergence,
    compute_scale_factor,
    database_versions,
    describe,
    to_lonlat,
    transform,
)
from ledger.errors import CrsError, MissingGridError


def test_a_missing_grid_is_an_error_that_names_the_grid() -> None:
    """PROJ would return the height unchanged; the grid that NAVD88 needs is told instead."""
    solid, heights = describe("EPSG:6319"), describe("EPSG:6318+5703")
    with pytest.raises(MissingGridError, match="g2018u0") as raised:
        transform(solid, heights, [-100.0], [40.0], [0.0])
    assert "\n" not in str(raised.value)


def test_the_network_stays_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """Even where the environment turns it on, making an operation turns it off."""
    set_network_enabled(active=True)
    try:
        transform(describe("EPSG:6318"), describe("EPSG:6340"), [-104.9], [39.7])
        assert not is_network_enabled()
    finally:
        set_network_enabled(active=False)


def test_places_go_there_and_back() -> None:
    """Easting and northing, in any unit, come back from longitude and latitude."""
    for code in ("EPSG:6346", "EPSG:2271", "EPSG:2992", "EPSG:2154", "EPSG:32723", "EPSG:27572"):
        crs = describe(code)
        assert crs.area is not None
        geographic = describe(pyproj.CRS.from_user_input(code).geodetic_crs.to_wkt())
        middle = (crs.area.west + crs.area.east) / 2, (crs.area.south + crs.area.north) / 2
        meridian = dict(crs.parameters).get("Prime meridian longitude", 0.0)
        grads = 10 / 9 if code == "EPSG:27572" else 1.0
        x, y, z = transform(geographic, crs, [(middle[0] - meridian) * grads], [middle[1] * grads])
        assert z is None
        assert to_lonlat(crs, float(x[0]), float(y[0])) == pytest.approx(middle, abs=1e-9)


def test_heights_change_with_their_unit() -> None:
    """A compound system in feet turns metres into feet, across and up."""
    metres, feet = describe("EPSG:6318+5703"), describe("EPSG:6318+6360")
    _, _, up = transform(metres, feet, [-75.0], [41.0], [1200.0])
    assert up is not None
    assert up[0] == pytest.approx(3937.0, abs=1e-6)


def test_a_place_out_of_reach_is_an_error() -> None:
    """Impossible coordinates are no place, not infinity."""
    crs = describe("EPSG:6346")
    for x, y in ((1e12, 1e12), (math.nan, 0.0), (math.inf, 0.0)):
        with pytest.raises(CrsError, match="outside the reach"):
            to_lonlat(crs, x, y)
    with pytest.raises(CrsError, match="outside the reach"):
        transform(describe("EPSG:4326"), describe("EPSG:32617"), [np.inf], [0.0])


def test_a_system_without_a_place_on_earth_gives_none() -> None:
    """Local, geocentric and vertical systems have no longitude."""
    for text in ('LOCAL_CS["site",UNIT["metre",1]]', "EPSG:7789", "EPSG:5703"):
        with pytest.raises(CrsError, match="places cannot be computed"):
            to_lonlat(describe(text), 0.0, 0.0)


def test_systems_that_no_operation_joins_are_told() -> None:
    """Between a local system and the Earth there is no operation."""
    with pytest.raises(CrsError):
        transform(describe('LOCAL_CS["site",UNIT["metre",1]]'), describe("EPSG:4326"), [0.0], [0.0])


def test_only_a_projection_has_a_scale_factor() -> None:
    """Degrees have no scale factor, and neither has a place off the projection."""
    with pytest.raises(CrsError, match="only a projected system"):
        compute_scale_factor(describe("EPSG:4326"), 0.0, 0.0)
    with pytest.raises(CrsError):
        compute_convergence(describe("EPSG:6346"), 0.0, 1e9)


def test_the_scale_factor_does_not_depend_on_the_unit() -> None:
    """The same zone in metres and in feet has the same scale factor and convergence."""
    metres, feet = describe("EPSG:32128"), describe("EPSG:2271")
    for compute in (compute_scale_factor, compute_convergence):
        assert compute(metres, -76.0, 41.5) == pytest.approx(compute(feet, -76.0, 41.5), abs=1e-12)


def test_versions_of_library_and_registry_are_told() -> None:
    """What decides about coordinates can be recorded."""
    assert database_versions() == {
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
        "EPSG": pyproj.database.get_database_metadata("EPSG.VERSION"),
    }
