"""Geoid grids give their heights; a broken, absent or too small grid gives an error and no height.

Grids: PROJ-data (public domain, NGA and NOAA) and the test grids of PROJ (MIT). Values: EGM96 at
six places as its distribution has them (NIMA/NGA, readme of the coefficients), by spline, which is
up to 6 cm from the bilinear look-up that PROJ does; the others are those by which heights differ in
PROJ's own operations with the same grids (EPSG:4979 to 5773, 6319 to 6641 and 6642, 6324 to 6644
and 6640), or a bilinear look-up in the published nodes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from open_data import OpenFile

from ledger.crs import sample_geoid, sample_geoid_at
from ledger.errors import CrsError, MissingGridError

EGM96 = "us_nga_egm96_15.tif"
PUBLISHED_EGM96 = (
    (38.6281550, 269.7791550, -31.628),
    (-14.6212170, 305.0211140, -2.969),
    (46.8743190, 102.4487290, -43.575),
    (-23.6174460, 133.8747120, 15.871),
    (38.6254730, 359.9995000, 50.066),
    (-0.4667440, 0.0023000, 17.329),
)
# Grid, longitude, latitude, geoid height in metres to 0.1 mm.
LOOKED_UP = (
    (EGM96, 0.0, 0.0, 17.1616),
    ("us_noaa_g2018p0.tif", -66.46, 18.33, -40.4574),
    ("us_noaa_g2012bp0.tif", -66.46, 18.33, -40.4280),
    ("us_noaa_g2018p0.tif", -64.70, 18.34, -42.2654),
    ("us_noaa_g2012bg0.tif", 144.80, 13.45, 54.1058),
    ("us_noaa_g2012bg0.tif", 145.75, 15.20, 54.3765),
    ("us_noaa_g2018p0.tif", -66.1057, 18.4655, -43.1216),
    ("us_noaa_g2018p0.tif", -66.6141, 18.0111, -39.5375),
    ("us_noaa_g2018p0.tif", -64.9307, 18.3419, -42.1948),
    ("us_noaa_g2012bh0.tif", -157.8583, 21.3069, 15.5491),
    ("us_noaa_g2012bh0.tif", -155.0885, 19.7074, 18.4968),
)


@pytest.mark.parametrize(("lat", "lon", "published"), PUBLISHED_EGM96)
def test_egm96_agrees_with_its_published_places(
    open_file: OpenFile, lat: float, lon: float, published: float
) -> None:
    """Six published heights are met within what interpolation alone can move."""
    assert sample_geoid(open_file(f"geoid/{EGM96}"), lon, lat) == pytest.approx(published, abs=0.06)


@pytest.mark.parametrize(("grid", "lon", "lat", "height"), LOOKED_UP)
def test_a_grid_gives_the_height_that_registered_operations_use(
    open_file: OpenFile, grid: str, lon: float, lat: float, height: float
) -> None:
    """The height of the grid is the one by which ellipsoidal and orthometric heights differ."""
    found = sample_geoid(open_file(f"geoid/{grid}"), lon, lat)
    assert found == pytest.approx(height, abs=5e-5)


def test_many_places_equal_one_at_a_time(open_file: OpenFile) -> None:
    """A whole site is looked up in one call, to the same digits."""
    grid = open_file("geoid/us_noaa_g2018p0.tif")
    lons, lats = np.linspace(-66.5, -66.4, 7), np.linspace(18.3, 18.4, 7)
    together = sample_geoid_at(grid, lons, lats)
    assert together.tolist() == [
        sample_geoid(grid, float(lon), float(lat)) for lon, lat in zip(lons, lats, strict=True)
    ]


def test_two_editions_differ_by_three_centimetres(open_file: OpenFile) -> None:
    """The wrong edition of a geoid is a small, steady step: 18.33 N 66.46 W, Puerto Rico."""
    newer, older = (
        sample_geoid(open_file(f"geoid/{name}"), -66.46, 18.33)
        for name in ("us_noaa_g2018p0.tif", "us_noaa_g2012bp0.tif")
    )
    assert newer - older == pytest.approx(-0.0294, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "lon", "lat"),
    [
        ("egm96_15_uncompressed_truncated.tif", 0.0, 0.0),
        ("test_vgrid_single_strip_truncated.tif", 4.05, 52.1),
        ("test_vgrid_unsupported_byte.tif", 4.05, 52.1),
        ("test_vgrid_invalid_channel_type.tif", 4.05, 52.1),
    ],
)
def test_a_broken_grid_is_an_error(open_file: OpenFile, name: str, lon: float, lat: float) -> None:
    """Truncated and unusable grids give no height, although PROJ raises nothing for some."""
    with pytest.raises(CrsError) as raised:
        sample_geoid(open_file(f"geoid-test/{name}"), lon, lat)
    assert name in str(raised.value)


def test_a_real_truncated_grid_is_an_error(real: Path) -> None:
    """A grid that ends too early gives infinity in PROJ, and an error here."""
    with pytest.raises(CrsError):
        sample_geoid(real / "test_vgrid_single_strip_truncated.tif", 4.05, 52.1)


def test_a_node_without_a_value_is_an_error(real: Path) -> None:
    """A grid has heights where it has heights: 10 m at one place, none at another."""
    grid = real / "test_nodata.gtx"
    assert sample_geoid(grid, 4.05, 52.1) == pytest.approx(10.0)
    with pytest.raises(CrsError, match="no value"):
        sample_geoid(grid, 4.0, 52.1)


def test_a_place_outside_the_grid_is_an_error(real: Path) -> None:
    """Off the edge there is no height, not zero."""
    with pytest.raises(CrsError, match="cover a place"):
        sample_geoid(real / "test_nodata.gtx", 100.0, 10.0)


def test_an_absent_grid_is_named(tmp_path: Path) -> None:
    """A grid that is not there is a missing grid with its path."""
    with pytest.raises(MissingGridError, match=r"absent\.tif"):
        sample_geoid(tmp_path / "absent.tif", 0.0, 0.0)


def test_spaces_and_letters_beyond_ascii_in_a_path_are_no_hindrance(
    real: Path, tmp_path: Path
) -> None:
    """Folders of people have spaces and accents."""
    folder = tmp_path / "Gelände 2024 – Nord"
    folder.mkdir()
    grid = folder / "mein geoid.gtx"
    grid.write_bytes((real / "test_nodata.gtx").read_bytes())
    assert sample_geoid(grid, 4.05, 52.1) == pytest.approx(10.0)


def test_a_comma_in_a_path_is_told(real: Path, tmp_path: Path) -> None:
    """A list of grids is separated by commas, so that a comma in a name cannot be passed on."""
    grid = tmp_path / "a,b.gtx"
    grid.write_bytes((real / "test_nodata.gtx").read_bytes())
    with pytest.raises(CrsError, match="comma"):
        sample_geoid(grid, 4.05, 52.1)


def test_a_grid_that_would_end_the_process_is_refused() -> None:
    """Without a number of rows and with lengths that are wrong, PROJ 9.5.1 divides by zero."""
    grid = Path(__file__).parents[1] / "faults/found/grid.strips-of-no-number-of-rows.bin"
    with pytest.raises(CrsError, match="how its rows are stored"):
        sample_geoid(grid, 179.85, 54.8)
