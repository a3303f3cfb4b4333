"""Headers and files made by hand, and headers of real files."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from made_headers import deliver
from open_data import OpenFile

from ledger.contract.evidence import DeliveredFile
from ledger.crs import describe, read_crs
from ledger.lasheader import read_las_header
from ledger.model.georeferencing import Crs
from ledger.testing.driver import make_file


@pytest.fixture(scope="session")
def utm17() -> Crs:
    """Return NAD83(2011) / UTM zone 17N with NAVD88 heights in metres (EPSG:6346 and 5703)."""
    return describe("EPSG:6346+5703")


@pytest.fixture(scope="session")
def delivered(utm17: Crs) -> Callable[..., DeliveredFile]:
    """Return a function that makes a delivered file: good but for what is given.

    `header` and `reading` take changes of their fields, or None for none at all; `crs` takes a
    Crs, a CrsReading or None for no record.
    """
    return partial(deliver, utm17)


@pytest.fixture(scope="session")
def real(open_file: OpenFile) -> Callable[..., DeliveredFile]:
    """Return a function that makes a delivered file of the header of a real one."""

    def make(name: str, **parts: Any) -> DeliveredFile:
        path = open_file(name)
        header = read_las_header(path)
        given = {"bytes": path.stat().st_size, "header": header, "crs": read_crs(header)}
        return make_file(path.name, **{**given, **parts})

    return make
