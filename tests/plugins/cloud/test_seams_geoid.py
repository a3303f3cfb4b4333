"""The cause of a step: h = H + N, held with a geoid height put in by hand, and with real grids."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
from made_cloud import Delivery, Site, make_points, make_specification
from made_seams import EAST, NORTH
from open_data import OpenFile

from ledger.crs import describe
from ledger.errors import CrsError
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.specification import Specification
from lidar_checks.cloud import seam_cause
from lidar_checks.cloud.seams import Seams


@pytest.fixture
def geoid(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """Give a geoid whose height a test can set, at any place."""
    height = {"value": -31.915}
    monkeypatch.setattr(seam_cause, "to_lonlat", lambda _crs, x, y: (x, y))
    monkeypatch.setattr(seam_cause, "sample_geoid", lambda _grid, _lon, _lat: height["value"])
    return height


def name_cause(rise: float, vertical: str | None, **parts: Any) -> str:
    """Return the sentence about a tile raised by `rise`."""
    delivery = Site(raised={(1, 1): rise}).deliver()
    specification = make_specification("metre", vertical=None)
    specification = type(specification).model_validate(
        {"coordinates": {"unit": {"horizontal": "metre"}, "vertical": vertical}}
    )
    given = {"geoid_grid": "geoid.tif", "specification": specification, **parts}
    (finding,) = delivery.drive(Seams(), **given)
    return finding.sentence


@pytest.mark.usefixtures("geoid")
@pytest.mark.parametrize(
    ("rise", "vertical", "cause"),
    [
        (-31.915, "orthometric", "these heights are ellipsoidal (gate ±0.030 m)."),
        (31.915, "orthometric", "the geoid was taken off twice here (gate ±0.030 m)."),
        (31.915, "ellipsoidal", "these heights are orthometric (gate ±0.030 m)."),
        (-31.915, None, "one side has ellipsoidal heights and the other has not"),
        (-31.915, "ellipsoidal", "one side has ellipsoidal heights and the other has not"),
    ],
)
def test_a_step_of_the_geoid_height_is_named(rise: float, vertical: str | None, cause: str) -> None:
    """The step equals N or minus N: which of the two sides that means hangs on the order."""
    assert f"The geoid height here is -31.915 m: {cause}" in name_cause(rise, vertical)


@pytest.mark.usefixtures("geoid")
@pytest.mark.parametrize(("off", "named"), [(0.029, True), (0.032, False)])
def test_the_gate_decides_whether_the_geoid_is_named(off: float, *, named: bool) -> None:
    """A step within 0.03 m of N is named after it, one just outside keeps no cause."""
    sentence = name_cause(-31.915 + off, "orthometric")
    assert ("geoid height" in sentence) is named
    assert "lies 31.8" in sentence or "lies 31.9" in sentence


def test_a_small_geoid_height_names_nothing(geoid: dict[str, float]) -> None:
    """Where N is no larger than the gates, agreeing with it means nothing."""
    geoid["value"] = 0.08
    assert "geoid" not in name_cause(0.08, "orthometric")
    geoid["value"] = 0.10
    assert "geoid" in name_cause(0.10, "orthometric")


@pytest.mark.usefixtures("geoid")
def test_without_a_grid_no_cause_is_named() -> None:
    """The step stands without its cause when no grid was found."""
    assert "geoid" not in name_cause(-31.915, "orthometric", geoid_grid="")


@pytest.mark.usefixtures("geoid")
def test_a_place_outside_the_grid_names_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A grid that does not reach the site leaves the step without a cause, and no error."""

    def refuse(_grid: Path, _lon: float, _lat: float) -> float:
        raise CrsError("outside the grid")

    monkeypatch.setattr(seam_cause, "sample_geoid", refuse)
    assert "geoid" not in name_cause(-31.915, "orthometric")


@pytest.mark.parametrize(
    ("grid", "height"), [("us_noaa_g2018p0.tif", -40.4574), ("us_noaa_g2012bp0.tif", -40.4280)]
)
def test_a_real_geoid_is_named(open_file: OpenFile, grid: str, height: float) -> None:
    """A tile lower by the geoid height of Puerto Rico is named after the grid that says so.

    Values of GEOID18 and GEOID12B at 66.46 W 18.33 N from the grids of NOAA as PROJ 9.5 reads
    them; they differ by 2.9 cm, which is inside the gate, so each grid gives its own number.
    """
    crs = describe("EPSG:26919")
    east, north = pyproj.Transformer.from_crs(4269, 26919, always_xy=True).transform(-66.46, 18.33)
    site = Site(raised={(1, 1): height})
    move = np.array([east - EAST - 30, north - NORTH - 30])
    delivery = Delivery()
    for path, chunk in site.deliver().chunks.items():
        x, y = chunk.x / 10_000 + move[0], chunk.y / 10_000 + move[1]
        record = CrsRecord(True, crs)
        reading = CrsReading(record, CrsRecord(False), record)
        delivery.add(path, make_points(x, y, chunk.z / 10_000), crs=reading)
    specification = Specification.model_validate({"coordinates": {"vertical": "orthometric"}})
    grid_path = str(open_file(f"geoid/{grid}"))
    (finding,) = delivery.drive(Seams(), specification=specification, geoid_grid=grid_path)
    stated = re.search(r"geoid height here is (\S+) m: these heights are ellips", finding.sentence)
    assert stated is not None
    assert float(stated[1]) == pytest.approx(height, abs=0.0015)
