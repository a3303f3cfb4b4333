"""Headers that carry a chosen coordinate system, and nothing else of interest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from ledger.crs import read_crs
from ledger.lasheader import read_las_header
from ledger.model.georeferencing import CrsReading

REAL = Path(__file__).parents[1] / "real"
WKT_FLAG = 16


@pytest.fixture
def real() -> Path:
    """Return the folder of real files."""
    return REAL


@pytest.fixture
def read_real() -> Callable[[str], CrsReading]:
    """Return a function that reads both records of a real file."""
    return lambda name: read_crs(read_las_header(REAL / name))


@pytest.fixture
def read_made() -> Callable[..., CrsReading]:
    """Return a function that reads a WKT text, GeoTIFF keys and the flag as one header."""
    plain = read_las_header(REAL / "broken_type.laz")

    def _read(
        wkt: str | None = None,
        keys: dict[int, int | float | str] | None = None,
        *,
        flag: bool = False,
    ) -> CrsReading:
        encoding = WKT_FLAG if flag else 0
        return read_crs(replace(plain, wkt=wkt, geo_keys=keys, global_encoding=encoding))

    return _read
