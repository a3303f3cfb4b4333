"""How a recorded value is written on a screen."""

from __future__ import annotations

import pyproj
import pytest

from ledger.model.known import KnownValue
from ledger.report.checks import write_criterion
from ledger.report.values import write_value


@pytest.mark.parametrize("version", ["WKT1_GDAL", "WKT2_2019"])
def test_a_system_as_text_is_written_by_its_name(version):
    """A page of WKT, as PROJ writes it, would push everything else off the screen."""
    text = pyproj.CRS("EPSG:6346").to_wkt(version)
    assert write_value(KnownValue(text)) == "NAD83(2011) / UTM zone 17N (as WKT)"


@pytest.mark.parametrize(
    ("known", "written"),
    [
        (None, "not recorded"),
        (KnownValue(True), "yes"),
        (KnownValue(["0.1", "0", "2"], "m"), "0.1  0  2 m"),
        (KnownValue("EPSG:6346"), "EPSG:6346"),
        (KnownValue("ab" * 32, where="geoid/a.tif"), "geoid/a.tif  (sha256 abab abab abab abab …)"),
        (KnownValue('PROC "a"'), 'PROC "a"'),
    ],
)
def test_other_values_stay_as_they_are(known, written):
    """With the unit, in the words that were recorded."""
    assert write_value(known) == written


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, ""),
        ("", ""),
        (False, "false"),
        (True, "true"),
        (30, "30"),
        (0.05, "0.05"),
        ("first-returns", "first-returns"),
        ((2, 9), "[2, 9]"),
        (("1.4", "1.5"), '["1.4", "1.5"]'),
    ],
)
def test_a_criterion_is_shown_as_job_toml_writes_it(value: object, shown: str) -> None:
    """TOML 1.0: booleans in lower case, lists in brackets; text stands bare, a blank is empty."""
    assert write_criterion(value) == shown
