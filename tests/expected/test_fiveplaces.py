"""A geoid grid known by what it says at the middle and the corners of a site.

Grids: GEOID18 and GEOID12B of Puerto Rico (NOAA, public domain, PROJ-data), 2.9 cm apart at
18.33 N 66.46 W by PROJ's own operations; a copy of the first under another name.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.expected import list_five_places, read_site_geoid
from ledger.model.sitegeoid import Likeness, SiteGeoid, compare_site_geoids

GEOID18, GEOID12B = "geoid/us_noaa_g2018p0.tif", "geoid/us_noaa_g2012bp0.tif"
SITE = list_five_places((-66.462, -66.458), (18.328, 18.332))


def test_five_places_are_the_middle_and_the_corners() -> None:
    """The box of a site gives its middle first, then its corners."""
    assert list_five_places((10.0, 11.0), (50.0, 52.0)) == (
        (10.5, 51.0),
        (10.0, 50.0),
        (11.0, 50.0),
        (10.0, 52.0),
        (11.0, 52.0),
    )


def test_a_site_on_the_antimeridian_is_small() -> None:
    """East and west of 180 degrees a site is no belt round the Earth."""
    places = list_five_places((179.99, -179.99), (-17.0, -17.0))
    assert sorted({lon for lon, _ in places}) == [-180.0, -179.99, 179.99]


def test_two_models_are_told_apart(open_file: OpenFile) -> None:
    """GEOID12B and GEOID18 are different here, by the centimetres that their publishers differ."""
    new = read_site_geoid(open_file(GEOID18), "1", SITE)
    old = read_site_geoid(open_file(GEOID12B), "2", SITE)
    found = compare_site_geoids(new, old)
    assert found.likeness is Likeness.DIFFERENT
    assert found.largest_m == pytest.approx(0.0294, abs=0.002)
    assert new.heights_mm[0] == pytest.approx(-40457, abs=2)


def test_a_renamed_grid_has_the_same_values(open_file: OpenFile, tmp_path: Path) -> None:
    """Another name and another digest, the same heights: the same geoid."""
    copy = tmp_path / "my geoid.tif"
    shutil.copyfile(open_file(GEOID18), copy)
    first = read_site_geoid(open_file(GEOID18), "1", SITE)
    found = compare_site_geoids(first, read_site_geoid(copy, "2", SITE))
    assert found.likeness is Likeness.VALUES
    assert found.largest_m == 0


@pytest.mark.parametrize(
    ("off_m", "likeness"),
    [
        (0.0004, Likeness.VALUES),
        (0.0006, Likeness.RESAMPLED),
        (0.0049, Likeness.RESAMPLED),
        (0.0051, Likeness.DIFFERENT),
    ],
)
def test_how_alike_two_grids_are(off_m: float, likeness: Likeness) -> None:
    """Half a millimetre is the same, five millimetres are a grid that was resampled."""
    places = SITE[:2]
    first = SiteGeoid("1", "1.tif", places, (10.0, 20.0))
    second = SiteGeoid("2", "2.tif", places, (10.0, 20.0 - off_m))
    assert compare_site_geoids(first, second).likeness is likeness


def test_a_grid_elsewhere_cannot_be_compared(open_file: OpenFile) -> None:
    """A grid that does not reach the site gives no heights, and a reason that names it."""
    far = read_site_geoid(open_file(GEOID18), "1", list_five_places((10.0,), (50.0,)))
    assert far.heights_m == ()
    assert "us_noaa_g2018p0.tif" in far.reason
    found = compare_site_geoids(far, SiteGeoid("2", "2.tif", SITE, (1.0,) * 5))
    assert found.likeness is Likeness.UNKNOWN
    assert found.largest_m is None
    assert found.reason == far.reason


def test_the_same_bytes_need_no_heights() -> None:
    """A digest settles it, whatever can be read."""
    found = compare_site_geoids(SiteGeoid("1"), SiteGeoid("1"))
    assert found.likeness is Likeness.BYTES
